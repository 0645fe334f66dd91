package dashboard

import (
	"strings"
	"time"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// oldPicture is how long the same frame may stand before the screen says that
// the monitor itself has stopped. Callers hand over a frame at least twice a
// second; twice that time is no accident of scheduling.
const oldPicture = time.Second

// A bulletin is what the banner says: the one thing a person must know now.
type bulletin struct {
	level   detect.Priority // None: nothing is wrong
	filled  bool            // the whole banner takes the colour
	moving  bool            // the edges move
	head    string          // first big line: priority and place
	order   string          // second big line: the first action
	tag     string          // state in words, ahead of the sentence
	text    string          // one sentence
	more    string          // likely cause, whole action
	asides  []aside         // small lines beside the big letters, weightiest first
	others  []aside         // the other alarms, a line each
	isAlarm bool
}

// An aside is one small line beside the big letters.
type aside struct {
	text  string
	style tcell.Style
}

// worst picks the alarm that the banner shows: by priority, then one that
// nobody has acknowledged, then one whose condition still holds. -1 for none.
func worst(list []alarms.AlarmView) int {
	best, bestKey := -1, -1
	for i := range list {
		a := &list[i]
		key := int(a.Priority) * 4
		if !a.Acknowledged {
			key += 2
		}
		if a.Active {
			key++
		}
		if key > bestKey {
			best, bestKey = i, key
		}
	}
	return best
}

// bulletinOf decides what the banner says. age is how long the same frame has
// been standing.
func bulletinOf(f *Frame, l *look, age time.Duration) bulletin {
	if f == nil || f.Snap == nil {
		b := bulletin{head: "WAITING", order: "NO DATA YET", text: "the first line has not come"}
		if f != nil {
			b.text = join(l, clean(f.Status.Source), clean(f.Status.Port))
			b.more = clean(f.Status.Hint)
		}
		return b
	}
	s, st := f.Snap, &f.Status
	b := bulletin{}
	i := worst(s.Alarms)
	switch {
	case age > oldPicture && !st.Ended && !(st.Replay && st.Paused):
		b = oldBulletin(s, age)
	case i >= 0 && s.Alarms[i].Priority >= detect.Medium:
		b = alarmBulletin(s, i, l)
	default:
		trouble, found := troubleBulletin(s, st)
		switch {
		case found:
			b = trouble
		case i >= 0:
			b = alarmBulletin(s, i, l)
		default:
			b = calmBulletin(s, st, l)
		}
	}
	if b.tag != "" {
		b.asides = append([]aside{{b.tag, l.bold}}, b.asides...)
	}
	b.asides = append(b.asides, craftAsides(s, st, l, b.isAlarm)...)
	return b
}

func oldBulletin(s *alarms.Snapshot, age time.Duration) bulletin {
	b := bulletin{
		level: detect.High, filled: true, moving: true,
		head: "OLD PICTURE", order: "CUT THROTTLE", tag: "THE MONITOR STANDS STILL",
		text: "for " + span(age.Seconds()) + " this screen has had nothing new; no alarm can ring",
	}
	if s.Armed == detect.No {
		b.order = "START AGAIN"
	}
	return b
}

func alarmBulletin(s *alarms.Snapshot, i int, l *look) bulletin {
	a := &s.Alarms[i]
	b := bulletin{
		level: a.Priority, isAlarm: true,
		head: strings.TrimSpace(priorityWord(a.Priority) + " " + placeWord(a.Where)),
		text: clean(a.Story.Text),
	}
	b.order = strings.ToUpper(clean(a.Story.Action))
	if b.order == "" {
		b.order = strings.ToUpper(kindName(a.Kind))
	}
	switch {
	case !a.Active:
		b.tag, b.order = "OVER, kept: a clears", "OVER NOW"
	case a.Acknowledged:
		b.tag = "acknowledged, STILL ON"
	default:
		b.tag, b.filled, b.moving = "NOT ACKNOWLEDGED (a)", true, a.Priority >= detect.High
	}
	if b.text == "" {
		b.text = kindName(a.Kind)
	}
	if !a.Active {
		b.text = "it was: " + b.text
	}
	if a.Story.Cause != "" {
		b.more = "likely: " + clean(a.Story.Cause)
	}
	if a.Story.Action != "" {
		b.more = join(l, b.more, "first: "+clean(a.Story.Action))
	}
	b.others = make([]aside, 0, len(s.Alarms))
	for j := range s.Alarms {
		if j != i {
			o := &s.Alarms[j]
			b.others = append(b.others, aside{" " + alarmLine(o) + " ", l.chip(o.Priority)})
		}
	}
	b.asides = append(b.asides, aside{kindName(a.Kind) + " " + span(float64(s.T-a.Since)/1e6), l.bold})
	if a.First && len(s.Alarms) > 1 {
		b.asides = append(b.asides, aside{"first of this burst", l.plain})
	}
	return b
}

// alarmLine words an alarm in a few words, with its state.
func alarmLine(a *alarms.AlarmView) string {
	t := priorityWord(a.Priority) + " " + a.Where.String() + " " + kindName(a.Kind)
	switch {
	case !a.Active:
		t += " (over)"
	case a.Acknowledged:
		t += " (ack)"
	}
	return t
}

// troubleBulletin tells of what is wrong with the monitor's own means, which
// no detector watches.
func troubleBulletin(s *alarms.Snapshot, st *Status) (bulletin, bool) {
	b := bulletin{level: detect.Medium, filled: true}
	switch {
	case st.RecordError != "":
		b.head, b.order = "NOT RECORDED", "CHECK DISK"
		b.tag, b.text = "THE WATCH GOES ON", clean(st.RecordError)
		b.more = "tried again on and on; " + grouped(float64(st.RecordDropped)) + " lines are not in the recording"
	case st.Lost:
		b.head, b.order = "NO DATA", "CHECK CABLE"
		b.tag, b.text, b.more = "PORT LOST", clean(st.Port), clean(st.Hint)
	case st.Ended:
		b.level, b.filled = detect.None, false
		b.head, b.order = "INPUT ENDED", "NOTHING IS WATCHED"
		b.tag, b.text = "ENDED", "no more lines will come; q leaves"
		if st.Replay {
			b.order = "END OF REPLAY"
		}
	case s.Lines > 0 && s.SilentUS > int64(2*time.Second/time.Microsecond) && !st.Replay:
		b.head, b.order = "NO DATA", "CHECK BRIDGE"
		b.tag, b.text, b.more = "SILENT", "no good line for "+span(float64(s.SilentUS)/1e6), clean(st.Hint)
	default:
		return bulletin{}, false
	}
	return b, true
}

func calmBulletin(s *alarms.Snapshot, st *Status, l *look) bulletin {
	b := bulletin{head: "NO ALARM", order: armedWord(s)}
	if s.Lines == 0 {
		b.head, b.order = "WAITING", "NO DATA YET"
		b.text = join(l, clean(st.Source), clean(st.Port))
		if s.Bad > 0 {
			b.head, b.text = "NO GOOD LINE", grouped(float64(s.Bad))+" bad lines, none good"
		}
		b.more = clean(st.Hint)
		return b
	}
	if n := len(s.NotWatched); n > 0 {
		b.tag = plural(n, "alarm") + " NOT WATCHED"
		b.text = clean(s.NotWatched[0].Name) + ": " + clean(s.NotWatched[0].Why)
		if n > 1 {
			b.text += ", ..."
		}
	} else {
		b.text = watchedText(s)
	}
	b.more = clean(st.Hint)
	return b
}

// armedWord is the craft's state for the big letters.
func armedWord(s *alarms.Snapshot) string {
	switch {
	case s.Stopped == detect.Yes:
		return "STOP PRESSED"
	case s.Armed == detect.Yes:
		return "ARMED"
	case s.Armed == detect.No:
		return "DISARMED"
	}
	return "ARMED?"
}

// craftAsides are the small lines that stand beside every bulletin.
func craftAsides(s *alarms.Snapshot, st *Status, l *look, alarm bool) []aside {
	var out []aside
	if s.PausedUS > 0 {
		out = append(out, aside{" SOUND PAUSED " + span(float64(s.PausedUS)/1e6) + " ", l.invert.Bold(true)})
	}
	if st.RecordError != "" && alarm {
		out = append(out, aside{" NOT RECORDED ", l.chip(detect.Medium)})
	}
	if name := clean(s.CraftName); name != "" {
		out = append(out, aside{name, l.bold})
	}
	if st.Replay {
		out = append(out, aside{replayWord(st, l), l.plain})
	}
	if s.Lines == 0 {
		return out
	}
	return append(out, aside{clock(s.T, 1) + " since the first line", l.plain})
}

// replayWord says where a replay stands and how fast it goes.
func replayWord(st *Status, l *look) string {
	t := "at " + clock(int64(st.ReplayAt*1e6), 1) + " of " + clock(int64(st.ReplayLength*1e6), 1)
	if st.Paused {
		return t + " PAUSED"
	}
	return t + " " + l.times + num(st.Speed, 2)
}

// join puts what is not empty side by side.
func join(l *look, parts ...string) string {
	var b strings.Builder
	for _, p := range parts {
		if p == "" {
			continue
		}
		if b.Len() > 0 {
			b.WriteString(l.dot)
		}
		b.WriteString(p)
	}
	return b.String()
}

// firstWords cuts an action to its first part, for the big letters.
func firstWords(s string) string {
	for _, at := range []string{";", ",", ":", ". ", " AND ", " THEN "} {
		if i := strings.Index(s, at); i > 0 {
			s = s[:i]
		}
	}
	return strings.TrimSpace(s)
}
