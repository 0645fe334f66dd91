package dashboard

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard/sound"
)

const (
	notRecorded  = "NOT RECORDED"
	watchingHead = "WATCHING"
	nothingHead  = "NOT WATCHING"
)

// silentTooLong is the silence after which the banner says that no data come,
// whatever the limit of the alarm for it.
const silentTooLong = int64(2 * time.Second / time.Microsecond)

// listenTime is how much of the first data is heard before anything is called
// not watched: the slower streams have not come round before.
const listenTime = int64(3 * time.Second / time.Microsecond)

// listening tells whether it is too early to say what is watched.
func listening(s *alarms.Snapshot) bool { return s.Lines > 0 && s.T < listenTime }

// troubleBulletin tells of what is wrong with the monitor's own means, which
// no detector watches; what makes it blind first.
func troubleBulletin(s *alarms.Snapshot, st *Status) (bulletin, bool) {
	b := bulletin{level: detect.Medium, filled: true, flashing: true}
	switch {
	case st.Lost:
		b.head, b.order = "NO DATA", "CHECK CABLE"
		b.tag, b.text, b.more = "PORT LOST", clean(st.Port), clean(st.Hint)
		b.handsOff(s)
	case st.Blind:
		b.level, b.head, b.order, b.tag = detect.High, "NOT WATCHED", "CUT THROTTLE", "INPUT ENDED"
		b.text = "the craft was armed then: no alarm can ring any more"
		b.more = "first: cut throttle, press stop; a ends the sound"
	case st.Ended:
		b.level, b.filled, b.flashing = detect.None, false, false
		// Short words leave room for the names of what has rung.
		b.head, b.order, b.tag = "ENDED", "NOT WATCHING", "INPUT ENDED"
		b.text, b.more = "no more lines will come; q leaves", clean(st.Hint)
		if st.Replay {
			b.head, b.order, b.tag = "REPLAY", "ENDED", "END OF REPLAY"
			b.text = "this is all of the recording; q leaves, [ goes back"
		}
		if s.Armed == detect.Yes { // what came then nobody knows
			b.order = "WAS ARMED"
		}
	case s.Lines > 0 && s.SilentUS > silentTooLong && !st.Replay:
		b.head, b.order = "NO DATA", "CHECK BRIDGE"
		b.tag, b.text, b.more = "SILENT", "no good line for "+span(float64(s.SilentUS)/1e6), clean(st.Hint)
		b.handsOff(s)
	case st.RecordError != "":
		b.head, b.order = notRecorded, "CHECK DISK"
		b.tag, b.text = "THE WATCH GOES ON", clean(st.RecordError)
		b.more = "tried again on and on; " + grouped(float64(st.RecordMissing)) + " lines are not in the recording"
	case !st.Replay && unheard(st):
		b.head, b.order, b.tag = "NO SOUND", "USE YOUR EYES", "ALARMS ARE NOT HEARD"
		if st.Heard.Way == sound.BellOnly {
			b.head, b.tag = "BELL ONLY", "ALARMS MAY NOT BE HEARD"
		}
		b.text, b.more = clean(st.Sound), "it is tried again on and on; somebody else must look at the screen"
		if st.SoundStill {
			b.more = "the terminal's bell stands in, if it makes a sound; somebody else must look at the screen"
		}
	case st.BeaconError != "":
		b.head, b.order, b.tag = "NO BEACON", "CHECK ITS PORT", "THE WATCH GOES ON"
		b.text, b.more = clean(st.BeaconError), "whoever looks at the lamp must know that it tells nothing now"
	default:
		return bulletin{}, false
	}
	return b, true
}

// handsOff has the order of a line that is gone first stop what may turn: the alarm for
// it rings a third of a second later, and a hand that reads of the cable is at the
// craft by then.
func (b *bulletin) handsOff(s *alarms.Snapshot) {
	if s.Lines > 0 && s.Armed != detect.No {
		b.order, b.more = "CUT THROTTLE", "first: cut throttle, press stop; once rotors stand, look at cable and bridge"
	}
}

// leavingBulletin is for the second in which a watch that somebody relies on makes
// itself heard before it ends: whoever turns round at the bell shall not see that
// all is well.
func leavingBulletin(st *Status) bulletin {
	return bulletin{
		level: detect.High, filled: true, flashing: true,
		head: "WATCH ENDS", order: "CUT THROTTLE", tag: "NOBODY WATCHES NOW",
		text: clean(st.Leaving),
		more: "first: cut throttle, press stop; then start the watch again",
	}
}

// unheard tells whether alarms are not heard though somebody relies on it: the
// audio has gone, or there has never been any sound. A bell from the start is
// said in the row of the craft's state.
func unheard(st *Status) bool {
	return !st.Heard.Chosen && (st.Heard.Way == sound.Silent || st.Heard.Way == sound.BellOnly && st.Heard.Lost)
}

// calmBulletin is for when nothing rings and nothing is broken.
func calmBulletin(s *alarms.Snapshot, st *Status, l *look) bulletin {
	if s.Lines == 0 {
		return waitingBulletin(s, st, l)
	}
	b := bulletin{head: watchingHead, order: armedWord(s), text: watchedText(s), more: clean(st.Hint)}
	if b.more == "" && !listening(s) {
		b.more = nearestText(s, l)
	}
	n := len(alarms.Asked(s.NotWatched)) // the row below names them all
	switch {
	case listening(s):
		b.head = "LISTENING"
	case len(s.NotWatched) >= int(detect.KindCount):
		b.head, b.tag = nothingHead, "NO ALARM CAN RING"
	case len(s.Mute) > 0:
		b.tag = "A BRIDGE IS NOT HEARD"
	case n > 0:
		b.tag = strings.ToUpper(plural(max(1, alarms.LackingKinds(s.NotWatched)), "kind")) + " NOT WATCHED"
	}
	why, lacks := mainLack(s)
	switch left := pressingLeft(s); {
	case s.Awaited && s.T >= sayTime && len(left) == 0 && len(s.Keeps) == 0 && !(lacks && !listening(s)):
		untoldBulletin(&b, s)
	case len(left) > 0 && !listening(s) && (!lacks || hasMain(left)):
		leftBulletin(&b, s, left)
	case len(s.Keeps) > 0:
		doubtBulletin(&b, s)
	case lacks && len(s.NotWatched) < int(detect.KindCount):
		unwatchedBulletin(&b, s, why)
	}
	if stickUp(s) {
		b.head, b.order = "STICK IS UP", "DO NOT ARM"
	}
	return b
}

// pressingLeft is what left the watch and whose silence may harm somebody within
// seconds. The rest, which speaks of the craft as it is built, stands in the list.
func pressingLeft(s *alarms.Snapshot) []alarms.Lack {
	return slices.DeleteFunc(slices.Clone(s.Left), func(n alarms.Lack) bool {
		k, ok := detect.KindNamed(n.Name)
		return !ok || lasts(k) || k == detect.PressureDip
	})
}

// leftNames is how many kinds that left the watch are named in the banner.
const leftNames = 3

// leftBulletin tells in large letters what left the watch while the craft was
// armed: a screen that goes on being calm would say that it is still watched.
// The reason stands ahead of the names, and of what there is to do nothing is cut.
func leftBulletin(b *bulletin, s *alarms.Snapshot, left []alarms.Lack) {
	why := left[max(0, slices.IndexFunc(left, func(n alarms.Lack) bool { return n.Act() != "" }))]
	names := make([]string, 0, leftNames)
	for i := range min(len(left), leftNames) {
		names = append(names, left[i].Name)
	}
	all := strings.Join(names, ", ")
	if more := len(left) - len(names); more > 0 {
		all += " +" + strconv.Itoa(more)
	}
	b.tag, b.head, b.order = b.order, unwatchedHead, strings.ToUpper(left[0].Name)
	if len(left) > 1 {
		b.order = strings.ToUpper(plural(len(left), "kind"))
	}
	b.heads = []aside{{all, tcell.StyleDefault.Bold(true)}}
	b.text = clean(why.Why)
	disarmed, act := s.Armed == detect.No && !oldState(s), clean(why.Act())
	switch _, rest, _ := strings.Cut(act, "; "); {
	case act == "" && disarmed:
		b.more = "first: find out why before you arm"
	case act == "":
		b.more = "first: ease off; find out why before you go on"
	case disarmed: // its first part is done
		b.order, b.more = "DO NOT ARM", "first: "+rest
	default:
		b.order, b.more = bigOrder(act), "first: "+act
	}
}

// stickUp tells of a disarmed craft whose throttle stick would raise an alarm
// with the arming: before it is the time to say so.
func stickUp(s *alarms.Snapshot) bool {
	for i := range s.Reaches {
		if r := &s.Reaches[i]; r.Kind == detect.StickHigh {
			return s.Armed == detect.No && r.Share >= 1
		}
	}
	return false
}

// farShare is the share of the way to its limit under which nothing is worth
// a name in the banner.
const farShare = 0.5

// nearestText names what is nearest to its limit, for the views that do not
// list it.
func nearestText(s *alarms.Snapshot, l *look) string {
	if len(s.Reaches) == 0 {
		return ""
	}
	r := &s.Reaches[0]
	if r.Share < farShare {
		return "nothing is near its limit"
	}
	word := "nearest its limit: "
	switch {
	case waits(r):
		word = "past its limit, " + holdStill + " to be judged: "
	case r.Share >= 1:
		word = "past its limit: "
	}
	return word + r.Where.String() + " " + kindName(r.Kind) + ", " + reachWord(r, l)
}

// waitingBulletin is for when no good line has come. Bad ones alone mean most
// often that the two ends talk at different speeds; the hint says what next.
func waitingBulletin(s *alarms.Snapshot, st *Status, l *look) bulletin {
	b := bulletin{head: "WAITING", order: "NO DATA YET", more: clean(st.Hint)}
	b.text = join(l, clean(st.Source), clean(st.Port))
	if s.Bad == 0 {
		return b
	}
	b.level, b.filled, b.flashing = detect.Medium, true, true
	b.head, b.order = "NO GOOD LINE", "WRONG BAUD?"
	if st.Baud == 0 {
		b.order = "WRONG INPUT?" // a pipe or a file has no baud
	}
	b.text, b.more = plural(int(min(s.Bad, 1<<30)), "bad line")+", none good", ""
	b.asides = []aside{{b.text, l.plain}}
	if hint := clean(st.Hint); hint != "" {
		b.text = hint
	}
	return b
}

// armedWord is the craft's state for the big letters.
func armedWord(s *alarms.Snapshot) string {
	switch {
	case oldState(s):
		return "ARMED?" // whatever was said last
	case s.Stopped == detect.Yes && s.Armed != detect.No:
		return "STOP, ARMED" // who reads only STOP walks in
	case s.Stopped == detect.Yes:
		return "STOP, DISARMED"
	case s.Armed == detect.Yes:
		return "CRAFT ARMED"
	case s.Armed == detect.No:
		return "DISARMED"
	}
	return "ARMED?"
}

// watchedText says what a quiet screen stands for.
func watchedText(s *alarms.Snapshot) string {
	all, lacks := int(detect.KindCount), alarms.LackingKinds(s.NotWatched)
	switch {
	case listening(s):
		return "hearing the first 3 s of lines"
	case lacks == 0:
		return "all " + strconv.Itoa(all) + " kinds of alarm are watched"
	}
	return strconv.Itoa(max(0, all-lacks)) + " of " + strconv.Itoa(all) + " kinds of alarm are watched"
}

// blindWord says why nothing at all is watched now; empty when the lacks tell
// what is not.
func blindWord(f *Frame) string {
	s, st := f.Snap, &f.Status
	switch {
	case st.EngineStill > 0:
		return "everything, the monitor stands still"
	case st.Lost:
		return "everything, until the port is back"
	case st.Ended:
		return "everything, the input has ended"
	case s.Lines == 0:
		return "everything, until lines come"
	case s.SilentUS > silentTooLong && !st.Replay:
		return "everything, until lines come again"
	case listening(s):
		return "listening, known after 3 s"
	}
	return ""
}
