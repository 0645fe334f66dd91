package alarms

import (
	"tetherbell/alarms/detect"
)

const (
	// maxSlots bounds the alarms that can be up or latched together. 27 kinds,
	// few of them at more than one place, stay far below it.
	maxSlots = 128
	// burstQuiet: alarms closer than this to the last raise belong to the same
	// burst (common practice, no source: long enough for one cause to show in
	// every stream, short enough for a second run).
	burstQuiet = 10 * detect.Second
	// easeAfter: a lower level must last this long before an alarm steps down.
	easeAfter = 1 * detect.Second
	// retellAfter is how old what the screen says of an alarm may be: twice a
	// second is as fast as a person reads numbers.
	retellAfter = detect.Second / 2
	// remindAfter is how long a high alarm whose condition stays may be silent
	// once it was acknowledged: who acknowledged it may have turned to something
	// else, and silence reads as all is well. Common practice, no source (alarm
	// standards know both a re-alarm time and a reminder; neither gives a figure).
	remindAfter = 30 * detect.Second
	// remindFor is how long a reminder is wanted: a burst that has begun is
	// played to its end, and a second one does not begin.
	remindFor = detect.Second / 2
	// MaxPause is the longest sound pause (seconds): a forgotten pause must
	// not outlive a minute.
	MaxPause = 60.0
)

// clearAfter is how long a condition must be gone before its alarm clears, so
// that one that comes and goes makes one alarm. The detectors' deadbands come
// on top. Common practice, no source: the shortest that hides a flicker of
// each condition at its stream's pace.
var clearAfter = [detect.KindCount]int64{
	detect.RisingOscillation: 1 * detect.Second,
	detect.OutputImbalance:   1 * detect.Second,
	detect.GroundThrust:      detect.Second / 2,
	detect.TipOver:           1 * detect.Second,
	detect.NearLift:          detect.Second / 2,
	detect.LateStop:          detect.Second / 5,
	detect.SpinDisarmed:      detect.Second / 2,
	detect.StaleLink:         detect.Second / 2,
	detect.BadLink:           1 * detect.Second,
	detect.SettingsSlip:      0,
	detect.LowMargin:         1 * detect.Second,
	detect.StickHigh:         detect.Second / 5,
	detect.Runaway:           1 * detect.Second,
	detect.RotorLost:         1 * detect.Second,
	detect.HoldLost:          2 * detect.Second,
	detect.VibrationStep:     1 * detect.Second,
	detect.OverCurrent:       1 * detect.Second,
	detect.ControlLost:       detect.Second / 2,
	detect.FrozenSensor:      detect.Second / 2,
	detect.MotorHeat:         2 * detect.Second,
	detect.PackSag:           2 * detect.Second,
	detect.Windup:            1 * detect.Second,
	detect.ReversedResponse:  2 * detect.Second,
	detect.RotorLine:         2 * detect.Second,
	detect.IdleGap:           1 * detect.Second,
	detect.ThrottleMismatch:  2 * detect.Second,
	detect.PressureDip:       2 * detect.Second,
}

// slot is one alarm that is up, or latched.
type slot struct {
	kind         detect.Kind
	where        detect.Where
	which        uint8 // the finding's case
	used         bool
	active       bool
	acknowledged bool
	first        bool            // this raise began a burst
	marked       bool            // it, or one before it that nobody acknowledged, began one
	priority     detect.Priority // now
	worst        detect.Priority // since the raise, or one before it that nobody acknowledged: decides about the latch
	since        int64
	goneSince    int64 // -1 while the condition is there
	remindAt     int64 // engine time of the next reminder, once acknowledged
	remindTo     int64 // until when one is wanted
	easedSince   int64 // -1 while at its level
	seen         bool  // in this round of findings
	told         int64 // engine time of the story
	finding      detect.Finding
	story        detect.Story
	peak         peak // it at its worst, which is what is told of it once it is over

	own      detect.Priority // of its own finding, before it stood for others
	explains Kinds           // what it has stood for since the raise
	stands   Kinds           // what it stands for in this round
	stood    Kinds           // and in the round before
	lent     detect.Priority // the highest priority of that in this round
	owed     detect.Priority // and in the round before
	ask      int64           // when to ask again whether an effect is its own
	action   string          // first action of what made it worse, "" when that is its own
}

// life runs the alarms' lives. Its states: free, up (active), latched (the
// condition is gone, high or medium, not yet acknowledged).
type life struct {
	slots     [maxSlots]slot
	lastRaise int64 // -1 never
	pausedTo  int64
	soundSeq  uint64
	overflow  uint64
	raised    [detect.KindCount]uint64
	worst     detect.Priority       // ever
	live      [detect.KindCount]int // active slots of each kind
}

func newLife() life { return life{lastRaise: -1} }

// teller makes the story of a finding, and takes the event.
type teller interface {
	tell(f detect.Finding, k detect.Kind) detect.Story
	emit(ev Event)
}

// judge takes all findings of one kind at now.
func (l *life) judge(now int64, k detect.Kind, found []detect.Finding, t teller) {
	if len(found) == 0 && l.live[k] == 0 {
		return
	}
	found = l.explained(now, k, found, t)
	for i := range l.slots {
		s := &l.slots[i]
		s.seen = false
		if s.kind == k {
			s.owed, s.lent = s.lent, detect.None
			s.stood, s.stands = s.stands, 0
		}
	}
	for _, f := range found {
		s := l.find(k, f.Where)
		if s != nil && s.active && s.which != f.Case {
			if f.Level == detect.None {
				continue // holds an older happening that this slot no longer is
			}
			l.clear(now, s, t)
			s = l.find(k, f.Where)
		}
		if s == nil || !s.active {
			if f.Level == detect.None {
				continue
			}
			l.raise(now, k, f, s, t)
			continue
		}
		l.keep(now, s, f, t)
	}
	for i := range l.slots {
		s := &l.slots[i]
		if !s.used || !s.active || s.kind != k || s.seen {
			continue
		}
		if s.goneSince < 0 {
			s.goneSince = now
			s.passes(t)
		}
		if now-s.goneSince >= clearAfter[k] {
			l.clear(now, s, t)
		}
	}
}

func (l *life) find(k detect.Kind, w detect.Where) *slot {
	for i := range l.slots {
		if s := &l.slots[i]; s.used && s.kind == k && s.where == w {
			return s
		}
	}
	return nil
}

func (l *life) raise(now int64, k detect.Kind, f detect.Finding, s *slot, t teller) {
	// A note is no alarm: it neither begins a burst nor belongs to one.
	first := f.Level > detect.Note && !l.anyActive() && (l.lastRaise < 0 || now-l.lastRaise >= burstQuiet)
	marked, worst, latched := first, f.Level, s != nil
	if latched { // latched: what nobody has acknowledged yet is not forgotten
		marked, worst = marked || s.marked, max(worst, s.worst)
	} else if s = l.room(); s == nil {
		l.overflow++
		return
	}
	story := t.tell(f, k)
	top := newPeak(k, f, story)
	if latched {
		top.joins(&s.peak)
	}
	*s = slot{
		kind: k, where: f.Where, which: f.Case, used: true, active: true, first: first, marked: marked,
		priority: f.Level, worst: worst, since: now, goneSince: -1, easedSince: -1,
		seen: true, told: now, finding: f, story: story, peak: top, own: f.Level,
	}
	if f.Level > detect.Note {
		l.lastRaise = now
	}
	l.live[k]++
	l.raised[k]++
	l.sound(f.Level)
	t.emit(s.event(now, Raised))
}

// room returns a free slot. Where there is none, the oldest of the least of
// the latched alarms gives way: what rings now comes before what has rung.
func (l *life) room() *slot {
	var old *slot
	for i := range l.slots {
		s := &l.slots[i]
		switch {
		case !s.used:
			return s
		case s.active:
		case old == nil || s.worst < old.worst || s.worst == old.worst && s.since < old.since:
			old = s
		}
	}
	if old != nil {
		l.overflow++
	}
	return old
}

// up reports whether an alarm of a kind is up at a place.
func (l *life) up(k detect.Kind, w detect.Where) bool {
	s := l.find(k, w)
	return s != nil && s.active
}

// keep brings an alarm that is up in line with this round's finding.
func (l *life) keep(now int64, s *slot, f detect.Finding, t teller) {
	s.seen = true
	s.goneSince = -1
	l.remind(now, s)
	if f.Level == detect.None { // inside the deadband: nothing gets better yet
		s.easedSince = -1
		s.passes(t)
		f.Level = s.priority
		if f.Value != 0 { // but what is said of it is how it stands now
			s.finding = f
			l.retell(now, s, t)
		}
		return
	}
	s.finding, s.own = f, f.Level
	s.top(t)
	if s.own >= s.owed {
		s.action = ""
	}
	level := max(f.Level, s.owed) // no quieter than what it stands for
	if level >= s.priority {      // a lower one that may pass makes no word quieter
		l.retell(now, s, t)
	}
	switch {
	case level > s.priority:
		s.worsen(now, level, l, t)
	case level < s.priority:
		if s.easedSince < 0 {
			s.easedSince = now
		}
		if now-s.easedSince >= easeAfter {
			s.priority, s.easedSince = level, -1
			s.retell(t)
			t.emit(s.event(now, Eased))
		}
	default:
		s.easedSince = -1
	}
}

// remind has a high alarm that stays on after it was acknowledged heard once
// more; a sound pause goes before. It is no event: nothing has changed.
func (l *life) remind(now int64, s *slot) {
	if !s.acknowledged || s.priority < detect.High || now < s.remindAt || now < l.pausedTo {
		return
	}
	s.remindAt, s.remindTo = now+remindAfter, now+remindFor
	l.sound(s.priority)
}

// worsen lifts an alarm to a higher priority.
func (s *slot) worsen(now int64, level detect.Priority, l *life, t teller) {
	s.priority, s.worst = level, max(s.worst, level)
	s.acknowledged = false // what comes next is heard again
	s.easedSince = -1
	s.retell(t)
	s.told = now
	l.sound(level)
	t.emit(s.event(now, Worsened))
}

// retell brings the words of an alarm up to date, as fast as they are read.
func (l *life) retell(now int64, s *slot, t teller) {
	if now-s.told >= retellAfter {
		s.retell(t)
		s.told = now
	}
}

// retell makes the words of an alarm anew, and adds what it stands for.
func (s *slot) retell(t teller) {
	s.story = s.words(s.finding, t)
	if s.peak.untold && s.peak.finding == s.finding {
		s.peak.story, s.peak.untold = s.story, false
	}
}

func (s *slot) words(f detect.Finding, t teller) detect.Story {
	story := t.tell(f, s.kind)
	if s.action != "" && s.action != story.Action {
		story.Action = s.action + "; " + story.Action
	}
	if s.explains != 0 {
		story.More = append(story.More, detect.Fact{Name: "explains", Value: s.explains.String()})
	}
	return story
}

func (l *life) clear(now int64, s *slot, t teller) {
	s.active = false
	l.live[s.kind]--
	t.emit(s.event(now, Cleared))
	s.passes(t)
	s.finding, s.story = s.peak.finding, s.peak.story // not those of the way down
	switch {
	case s.acknowledged && s.kind.TurnsUnasked():
		// Who acknowledged it while it turned has not seen it stand, and what turned
		// unasked may do so again: it stays until it is acknowledged once more.
		s.acknowledged = false
	case s.acknowledged || s.worst < detect.Medium:
		s.used = false
	}
}

// acknowledge stops the sound of what is there and lets go of what is latched.
func (l *life) acknowledge(now int64, k detect.Kind, w detect.Where, t teller) bool {
	s := l.find(k, w)
	if s == nil || s.acknowledged {
		return false
	}
	s.acknowledged, s.remindAt = true, now+remindAfter
	t.emit(s.event(now, Acknowledged))
	if !s.active {
		s.used = false
	}
	return true
}

// sound notes that something new should be heard; a new high alarm ends a
// sound pause.
func (l *life) sound(p detect.Priority) {
	l.worst = max(l.worst, p)
	if p < detect.Low {
		return
	}
	l.soundSeq++
	if p == detect.High {
		l.pausedTo = 0
	}
}

func (l *life) anyActive() bool {
	for i := range l.slots {
		if s := &l.slots[i]; s.used && s.active && s.priority > detect.Note {
			return true
		}
	}
	return false
}

// sounding returns the worst priority that should be heard now.
func (l *life) sounding(now int64) detect.Priority {
	if now < l.pausedTo {
		return detect.None
	}
	worst := detect.None
	for i := range l.slots {
		if s := &l.slots[i]; s.used && s.active && (!s.acknowledged || now < s.remindTo) && s.priority >= detect.Low {
			worst = max(worst, s.priority)
		}
	}
	return worst
}

func (s *slot) event(now int64, c Change) Event {
	return Event{
		T: now, Kind: s.kind, Change: c, Priority: s.priority, Where: s.where,
		Value: s.finding.Value, Limit: s.finding.Limit, First: s.first, Since: s.since, Story: s.story,
	}
}
