package dashboard

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const unwatchedHead = "NOT WATCHED"

// unseen tells whether the main alarm cannot ring though the craft may be armed.
func unseen(s *alarms.Snapshot) bool {
	_, lacks := mainLack(s)
	return lacks && s.Armed != detect.No
}

// mainLack is why the alarm that this monitor is for first of all cannot ring. What
// is not watched in part, and windows that fill after arming, are no such reason.
func mainLack(s *alarms.Snapshot) (why string, lacks bool) {
	why = lackOf(s, detect.RisingOscillation, "")
	return why, why != "" && s.Lines > 0 && !listening(s) && !silentLong(s) && partOf(why) == "" && !detect.Settling(why)
}

// hasMain tells of lacks that the main alarm is among.
func hasMain(lacks []alarms.Lack) bool {
	return slices.ContainsFunc(lacks, alarms.Lack.Main)
}

// partOf is the part of what an alarm watches that a reason is about, "" for all.
func partOf(why string) string {
	if part := firstClause(why); part != why && len(part) < 14 {
		return part
	}
	return ""
}

// unwatchedBulletin tells in large letters that the main alarm cannot ring: who
// glances at a screen that goes on saying that it watches would rely on it.
func unwatchedBulletin(b *bulletin, s *alarms.Snapshot, why string) {
	b.head, b.order = unwatchedHead, strings.TrimPrefix(armedWord(s), "CRAFT ") // leaves room for the alarms beside it
	b.text = kindName(detect.RisingOscillation)
	if len(s.Mute) == 0 {
		b.tag = "" // the sentence counts them
	}
	if n := alarms.LackingKinds(s.NotWatched); n > 1 {
		b.text += " and " + strconv.Itoa(n-1) + " more"
	}
	b.text += ": " + why
	if s.Armed != detect.No {
		b.level = detect.Medium
	}
	b.more = mainNext(s)
}

// doubtBulletin tells in large letters of a craft or a lift that is not what the
// alarms take it for: that is the time before the craft is armed, and a screen that
// is calm would lead to it.
func doubtBulletin(b *bulletin, s *alarms.Snapshot) {
	why := s.Keeps[0]
	tag, _ := decode.TagNamed(why.Name)
	b.tag, b.head = b.order, doubtWord(tag)
	b.level = detect.Medium
	b.text = clean(why.Why)
	act := clean(why.Act())
	b.order, b.more = bigOrder(act), "first: "+act
	if _, rest, _ := strings.Cut(act, "; "); s.Armed == detect.No && !oldState(s) { // its first part is done
		b.order, b.more = "DO NOT ARM", "first: "+rest
	}
}

// sayTime is left at the start for the lines by which a bridge says what craft it is.
const sayTime = int64(time.Second / time.Microsecond)

// untoldBulletin asks to wait for what the bridge has not said yet of the craft:
// who begins to watch a bridge that runs would arm while lift, pack and settings
// have no limits. It lasts no longer than a bridge takes to say all of it again.
func untoldBulletin(b *bulletin, s *alarms.Snapshot) {
	names := make([]string, len(s.Untold))
	for i, n := range s.Untold {
		names[i] = n.Name
	}
	all := strings.Join(names, ", ")
	b.text = "craft and settings come within 10 s"
	if len(s.Mute) > 0 { // who may be the one that says so
		b.text = clean(s.Mute[0].Name + ": " + s.Mute[0].Why)
	}
	b.tag, b.head, b.order = b.order, "WAIT", "DO NOT ARM YET"
	b.more = "first: wait for it; not watched until then: " + all
	if s.Armed == detect.Yes {
		b.head, b.order = unwatchedHead, strings.ToUpper(plural(len(names), "kind"))
		b.more = "first: throttle down, disarm, wait for it; not watched: " + all
	}
}

// mainNext is what to do first.
func mainNext(s *alarms.Snapshot) string {
	next := "see why in view 6"
	for i := range s.Odd {
		if o := &s.Odd[i]; misnames(s, o) {
			next = "name that tag " + o.Meant.String() + " in the bridge"
			break
		}
	}
	if s.Armed == detect.No {
		return "first: " + next + ", before you arm"
	}
	return "first: throttle down, disarm; then " + next
}

// misnames tells of a tag that is not known under which lines of another most likely
// come.
func misnames(s *alarms.Snapshot, o *alarms.OddTag) bool {
	m, ok := s.Misnamed(o.Meant)
	return ok && m.Name == o.Name
}
