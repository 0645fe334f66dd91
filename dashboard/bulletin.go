package dashboard

import (
	"math"
	"slices"
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
	level    detect.Priority // None: nothing is wrong
	filled   bool            // the whole banner takes the colour
	flashing bool            // nobody has acknowledged it: the colour flashes
	head     string          // first big line: priority and place
	order    string          // second big line: the first action
	tag      string          // state in words, ahead of the sentence
	text     string          // one sentence
	more     string          // what to do, in full
	cause    string          // likely cause: beside the big letters, else ahead of more
	heads    []aside         // small lines beside the big letters: what is up, and for how long
	others   []other         // the other alarms, a line each
	urgent   []aside         // what else must not be lost from sight
	asides   []aside         // the rest, weightiest first
	isAlarm  bool
	past     bool  // what it names is of some time ago: nothing of it can be acknowledged
	shown    int   // the alarm that it is about, its place among the snapshot's; -1: none
	named    []int // the others that were drawn whole, by their places
}

// An aside is one small line beside the big letters.
type aside struct {
	text  string
	style tcell.Style
}

// An other is an alarm beside the shown one.
type other struct {
	aside
	alarm int // its place among the snapshot's
}

// worst picks the alarm that the banner shows: one whose condition holds
// before any that is over, then by priority, then one that nobody has
// acknowledged, then the strongest action, whoever is newest, then what happens now
// before what has been so all along. What is over must not hide what is not. -1 for
// none.
func worst(list []alarms.AlarmView) int {
	best, bestKey := -1, -1
	for i := range list {
		a := &list[i]
		if a.Priority < detect.Low {
			continue // a note is for the journal alone
		}
		key := int(a.Priority) << 6
		if !a.Acknowledged {
			key += 1 << 5
		}
		key += a.Strength() << 1
		if !lasts(a.Kind) {
			key++
		}
		if a.Active {
			key += 1 << 10
		}
		if key > bestKey {
			best, bestKey = i, key
		}
	}
	return best
}

// lasts tells of a kind that speaks of the craft as it is built or set: it can
// wait for one that speaks of this moment.
func lasts(k detect.Kind) bool {
	switch k {
	case detect.SettingsSlip, detect.IdleGap, detect.RotorLine, detect.ThrottleMismatch, detect.LowMargin, detect.Windup:
		return true
	}
	return false
}

// pressing tells whether an alarm asks for action now.
func pressing(a *alarms.AlarmView) bool { return a.Active && a.Priority >= detect.Medium }

// bulletinOf decides what the banner says. age is how long the same frame has
// been standing. A screen that stands still comes first, since what it shows
// may be over; then an alarm that presses; then the troubles of the monitor's
// own, which make it blind; then a craft armed before the card is; then the
// lesser alarms and those that are over.
func bulletinOf(f *Frame, l *look, age time.Duration) bulletin {
	if f == nil || f.Snap == nil {
		b := bulletin{head: "WAITING", order: "NO DATA YET", text: "the first line has not come", shown: -1}
		if f != nil {
			b.text = join(l, clean(f.Status.Source), clean(f.Status.Port))
			b.more = clean(f.Status.Hint)
		}
		return b
	}
	s, st := f.Snap, &f.Status
	i := worst(s.Alarms)
	trouble, troubled := troubleBulletin(s, st)
	early, warned := cardWarning(f)
	var b bulletin
	switch {
	case st.EngineStill > 0:
		b, i = engineBulletin(s, st), -1
		b.past = true
	case age > oldPicture && !st.Ended && !(st.Replay && st.Paused):
		b, i = oldBulletin(s, age), -1
		b.past = true
	case st.Leaving != "":
		b, i = leavingBulletin(st), -1
	case st.Drill != nil && (st.Drill.Page != nil || st.Drill.AlarmsOff):
		return drillBulletin(st.Drill)
	case st.Blind: // what rang last is of before
		b, i = trouble, -1
	case i >= 0 && st.Ended && s.Alarms[i].Kind.TurnsUnasked(): // matters more than that nobody watches
		b = alarmBulletin(s, i, st)
	case i >= 0 && pressing(&s.Alarms[i]):
		b = alarmBulletin(s, i, st)
	case troubled && !(warned && trouble.head == notRecorded):
		b, i = trouble, -1
	case warned:
		b, i = early, -1
	case i >= 0 && !(s.Alarms[i].Priority < detect.Medium && unseen(s)):
		b = alarmBulletin(s, i, st)
	default:
		i = -1
		b = calmBulletin(s, st, l)
		headCard(&b, f)
	}
	if b.tag != "" {
		b.heads = append([]aside{{b.tag, l.bold}}, b.heads...)
	}
	b.shown, b.others = i, otherAlarms(s, i, l)
	b.urgent = urgentAsides(s, st, l, &b, &trouble)
	b.asides = append(b.asides, craftAsides(s, st, l, b.isAlarm)...)
	return b
}

// otherAlarms words all alarms but the shown one; those that nobody has
// acknowledged come first, since the room may not hold them all.
func otherAlarms(s *alarms.Snapshot, shown int, l *look) []other {
	out := make([]other, 0, len(s.Alarms))
	for j := range s.Alarms {
		if a := &s.Alarms[j]; j != shown && a.Priority >= detect.Low {
			place := a.Where
			if place == detect.Craft || place == detect.Link {
				place = 0 // the kind says as much, and the room is small
			}
			// The room may cut the end: that an alarm has ended stands ahead.
			t := alarmWords(a, place, "", " ack")
			if !a.Active {
				t = "ended " + t
			}
			out = append(out, other{aside{" " + t + " ", l.chip(a.Priority)}, j})
		}
	}
	slices.SortStableFunc(out, func(x, y other) int {
		a, b := s.Alarms[x.alarm].Acknowledged, s.Alarms[y.alarm].Acknowledged
		switch {
		case a == b:
			return 0
		case b:
			return -1
		}
		return 1
	})
	return out
}

func oldBulletin(s *alarms.Snapshot, age time.Duration) bulletin {
	b := bulletin{
		level: detect.High, filled: true, flashing: true,
		head: "OLD PICTURE", order: "CUT THROTTLE", tag: "THE MONITOR STANDS STILL",
		text: "for " + span(age.Seconds()) + " this screen has had nothing new; no alarm can ring",
	}
	if s.Armed == detect.No {
		b.order = "START AGAIN"
	}
	return b
}

// itWas stands ahead of what an alarm said that is over.
const itWas = "it was: "

func alarmBulletin(s *alarms.Snapshot, i int, st *Status) bulletin {
	a, action := &s.Alarms[i], clean(s.ActionOf(i))
	b := bulletin{
		level: a.Priority, isAlarm: true,
		head: strings.TrimSpace(priorityWord(a.Priority) + " " + placeWord(a.Kind, a.Where)),
		text: clean(a.Story.Text),
	}
	b.order = bigOrder(action)
	if b.order == "" {
		b.order = strings.ToUpper(kindName(a.Kind))
	}
	takes, clears := " (a)", ": a clears"
	if st.Replay { // no key can: it shows the day as it was
		takes, clears = "", ""
	}
	switch {
	case !a.Active:
		// Who reads only ENDED walks in: whether it is armed goes with it.
		b.tag, b.head = priorityWord(a.Priority)+", ENDED, kept"+clears, "ENDED "+placeWord(a.Kind, a.Where)
		switch {
		case a.Kind.TurnsUnasked():
			b.order, b.more = "HANDS OFF", "it may turn again: no hand near it until the pack is out"
		case s.Armed != detect.No: // what has ended is not mended
			b.order = "STILL ARMED"
		default:
			b.order = armedWord(s)
		}
	case a.Acknowledged:
		b.tag = "acknowledged, STILL ON"
	default:
		b.tag, b.filled, b.flashing = "NOT ACKNOWLEDGED"+takes, true, true
	}
	if st.Ended && a.Active && a.Acknowledged { // whether it is still, nobody knows
		b.tag = "acknowledged, ON AT THE END"
	}
	done := a.Active && s.Armed == detect.No && !oldState(s) && a.Kind != detect.SpinDisarmed && forThrottle(b.order)
	if done {
		b.order = armedWord(s) // it is done already
	}
	if a.Active && a.Priority < detect.Medium && s.Armed == detect.Yes && s.Stopped == detect.Yes {
		b.order = armedWord(s) // whoever pressed stop walks up next
	}
	if b.text == "" {
		b.text = kindName(a.Kind)
	}
	if !a.Active {
		b.text = itWas + b.text
	}
	if swapped(a) && !a.Active {
		b.text, b.more = itWas+detect.Swapped, swappedNow(s)
	}
	if a.Story.Cause != "" && !swapped(a) { // which says it
		b.cause = "likely: " + clean(a.Story.Cause)
	}
	if !a.Active && b.more == "" {
		b.more = nextStep(s, a.Priority, b.cause, action)
	}
	head := kindName(a.Kind)
	if a.Active {
		// What has ended neither lasts on nor asks for its first action still.
		head += ", " + span(float64(s.T-a.Since)/1e6) + " ago" // since it rang: many alarms have a time of their own
		if action != "" {
			b.more = "first: " + leftOver(action, done)
		}
	}
	if a.Active && !a.Kind.TurnsUnasked() && doneAtRest(bigOrder(action)) && atRest(s, st) {
		b.order, b.more, b.text = armedWord(s), nextAtRest(s, action), itWas+b.text
	} else if a.Active && !a.Kind.TurnsUnasked() && forThrottle(b.order) && idles(s, st) {
		b.order, b.more = "DISARM", nextStep(s, detect.High, b.cause, action) // the throttle is cut
	}
	b.heads = []aside{{head, tcell.StyleDefault.Bold(true)}}
	if a.First && len(s.Alarms) > 1 {
		b.asides = append(b.asides, aside{"the first that rang", tcell.StyleDefault})
	}
	return b
}

// leftOver is what of an action is left to do where its first part, about the
// throttle, is done.
func leftOver(action string, done bool) string {
	if !done {
		return action
	}
	if _, rest, ok := strings.Cut(action, "; "); ok {
		return rest
	}
	return "find out why before you arm"
}

// doneAtRest tells of orders that nothing is left of where nothing turns.
func doneAtRest(order string) bool {
	return forThrottle(order) || strings.HasPrefix(order, "PRESS STOP")
}

// swappedNow says whether to go on once the lines of swapped cables are used. It
// leads nobody to a craft that is armed.
func swappedNow(s *alarms.Snapshot) string {
	_, lacks := s.Lacking()
	switch {
	case lacks || oldState(s) || len(pressingLeft(s)) > 0:
		return "not all is watched again: do not go on"
	case len(alarms.Asked(s.NotWatched)) > 0:
		return "ports stay exchanged; what is not watched stands below: read it first"
	case s.Armed == detect.No:
		return "ports stay exchanged, all is watched as before: seat plugs before you arm"
	}
	return "ports stay exchanged, all is watched as before"
}

// forThrottle tells of orders that end with the craft disarmed.
func forThrottle(order string) bool {
	for _, o := range []string{"CUT THROTTLE", "EASE OFF", "EASE THE THROTTLE"} {
		if strings.HasPrefix(order, o) {
			return true
		}
	}
	return false
}

// alarmLine words an alarm in a few words, with its state.
func alarmLine(a *alarms.AlarmView) string { return alarmWords(a, a.Where, " (ended)", " (ack)") }

func alarmWords(a *alarms.AlarmView, place detect.Where, over, acknowledged string) string {
	t := priorityWord(a.Priority) + " "
	if place != 0 {
		t += place.String() + " "
	}
	t += kindName(a.Kind)
	switch {
	case !a.Active:
		t += over
	case a.Acknowledged:
		t += acknowledged
	}
	return t
}

// urgentAsides are what must be seen beside every bulletin: that the sound is
// paused, and a trouble of the monitor's own that the banner does not show.
func urgentAsides(s *alarms.Snapshot, st *Status, l *look, b, trouble *bulletin) []aside {
	var out []aside
	if trouble.tag != "" && b.tag != trouble.tag {
		out = append(out, aside{trouble.tag, l.chip(detect.Medium)})
	}
	if st.RecordError != "" && b.head != notRecorded && trouble.head != notRecorded {
		out = append(out, aside{notRecorded, l.chip(detect.Medium)})
	}
	if unseen(s) && b.head != unwatchedHead && b.head != nothingHead {
		out = append(out, aside{strings.ToUpper(kindName(detect.RisingOscillation)) + " NOT WATCHED", l.chip(detect.Medium)})
	}
	if s.PausedUS > 0 {
		out = append(out, aside{"SOUND OFF " + pauseLeft(s), l.invert.Bold(true)})
	}
	return out
}

// pausedWord says how long the sound stays off, and what ends that.
func pausedWord(s *alarms.Snapshot) string {
	return "sound paused " + pauseLeft(s) + ", ends at a new HIGH"
}

func pauseLeft(s *alarms.Snapshot) string { return num(math.Ceil(float64(s.PausedUS)/1e6), 0) + " s" }

// craftAsides are the least of the small lines. The craft's name gives way to
// an alarm.
func craftAsides(s *alarms.Snapshot, st *Status, l *look, alarm bool) []aside {
	var out []aside
	if name := clean(s.CraftName); name != "" && !alarm {
		out = append(out, aside{name, l.bold})
	}
	if s.Lines > 0 {
		out = append(out, aside{clock(s.T, 1) + " watched", l.plain})
	}
	if st.Replay {
		out = append(out, aside{replayWord(st, l), l.plain})
	}
	return out
}

// replayWord says where in its file a replay stands and how fast it goes. The
// file may begin before the first good line, so this is another clock than
// that of the journal.
func replayWord(st *Status, l *look) string {
	if st.Drill != nil { // how much is left would tell too much
		return drillWord(st.Drill) + speedWord(st, " "+l.times)
	}
	t := "file " + clock(int64(st.ReplayAt*1e6), 0)
	if st.ReplayLength > 0 {
		t += " of " + clock(int64(st.ReplayLength*1e6), 0)
	}
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
