package account

import (
	"encoding/json"

	"tetherbell/alarms/detect"
)

// maxAlarms bounds the lives that are listed; all are counted.
const maxAlarms = 1000

// told gathers the lives of the alarms from what was said, in the words of a
// recording: so an account is the same whether the alarms are those of the day
// or were worked out again.
type told struct {
	json   []byte // scratch
	lives  []life
	raised [detect.KindCount]uint64
	worst  detect.Priority
	more   int // lives that found no room
	up     int // lives that are open
}

// A life is one alarm from raise to clear.
type life struct {
	Alarm
	kind     detect.Kind
	where    detect.Where
	priority detect.Priority // the highest
	under    bool            // its value is the worse the lower it is
	open     bool
	swing    swing // of rising-oscillation
}

// A saying is one change of an alarm.
type saying struct {
	T        float64 `json:"t"`
	Alarm    string  `json:"alarm"`
	Change   string  `json:"change"`
	Priority string  `json:"priority"`
	Where    string  `json:"where"`
	Value    float64 `json:"value"`
	Limit    float64 `json:"limit"`
	Text     string  `json:"text"`
	Detail   struct {
		Unit   string `json:"unit"`
		Cause  string `json:"cause"`
		Action string `json:"action"`
		First  bool   `json:"first"`
	} `json:"detail"`
}

// take reads one saying; ok is false where it is none.
func (t *told) take(text []byte) (ok bool) {
	var s saying
	if json.Unmarshal(text, &s) != nil {
		return false
	}
	kind, known := detect.KindNamed(s.Alarm)
	where, place := detect.WhereNamed(s.Where)
	priority := detect.PriorityNamed(s.Priority)
	if !known || !place || priority == detect.None {
		return false
	}
	switch s.Change {
	case "raised":
		t.raised[kind]++
		t.worst = max(t.worst, priority)
		t.raise(&s, kind, where, priority)
	case "worsened", "eased":
		t.worst = max(t.worst, priority)
		if l := t.find(kind, where); l != nil {
			l.change(&s, priority)
		}
	case "acknowledged":
		if l := t.newest(kind, where); l != nil && l.Acknowledged == nil {
			l.Acknowledged = ptr(s.T)
		}
	case "cleared":
		if l := t.find(kind, where); l != nil {
			l.open = false
			t.up--
			l.Until = ptr(s.T)
		}
	default:
		return false
	}
	return true
}

func (t *told) raise(s *saying, kind detect.Kind, where detect.Where, p detect.Priority) {
	if len(t.lives) >= maxAlarms {
		t.more++
		return
	}
	t.lives = append(t.lives, life{
		Alarm: Alarm{
			At: s.T, Name: s.Alarm, Where: s.Where, Priority: s.Priority, First: s.Detail.First, Value: s.Value, ValueAt: s.T, Limit: s.Limit,
			Unit: s.Detail.Unit, Text: s.Text, Cause: s.Detail.Cause, Action: s.Detail.Action,
		},
		kind: kind, where: where, priority: p, open: true, under: s.Value < s.Limit && mayFall(kind),
	})
	t.up++
	l := &t.lives[len(t.lives)-1]
	l.begin(l.Unit, l.Limit)
}

// mayFall reports whether an alarm of this kind may ring for a value under its
// limit. Others that begin under theirs, as a growing oscillation, go on up.
func mayFall(k detect.Kind) bool {
	switch k {
	case detect.LowMargin, detect.PackSag, detect.RotorLost, detect.HoldLost, detect.SettingsSlip, detect.RotorLine:
		return true
	}
	return false
}

// find is the life that is open, nil none.
func (t *told) find(kind detect.Kind, where detect.Where) *life {
	if l := t.newest(kind, where); l != nil && l.open {
		return l
	}
	return nil
}

func (t *told) newest(kind detect.Kind, where detect.Where) *life {
	for i := len(t.lives) - 1; i >= 0; i-- {
		if l := &t.lives[i]; l.kind == kind && l.where == where {
			return l
		}
	}
	return nil
}

// change takes a new word of a living alarm: its text is that of its worst
// moment.
func (l *life) change(s *saying, p detect.Priority) {
	if p < l.priority {
		return
	}
	further := s.Value > l.Value
	if l.under {
		further = s.Value < l.Value
	}
	if p == l.priority && !further {
		return
	}
	unit, limit := l.Unit, l.Limit
	if further || s.Limit != l.Limit {
		l.Value, l.ValueAt, l.Limit = s.Value, s.T, s.Limit
	}
	if p > l.priority {
		l.WorstAt = ptr(s.T)
	}
	l.priority, l.Priority, l.Text = p, s.Priority, s.Text
	l.Cause, l.Action = s.Detail.Cause, s.Detail.Action
	if s.Detail.Unit != "" {
		l.Unit = s.Detail.Unit
	}
	l.begin(unit, limit)
}

// account lists the lives in the order of their raise.
func (t *told) account() []Alarm {
	out := make([]Alarm, len(t.lives))
	for i := range t.lives {
		out[i] = t.lives[i].Alarm
	}
	return out
}

// of lists what the alarms say of an axis, each text once.
func (t *told) of(axis string) []string {
	out := []string{}
	seen := map[string]bool{}
	for i := range t.lives {
		if l := &t.lives[i]; l.Where == axis && !seen[l.Text] {
			seen[l.Text] = true
			out = append(out, l.Text)
		}
	}
	return out
}
