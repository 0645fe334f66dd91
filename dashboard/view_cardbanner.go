package dashboard

import (
	"strconv"
	"strings"

	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
)

// cardWarning is what the banner says where the craft was armed, or the throttle
// raised, before what the card has to come first. It rings nothing: an alarm
// that presses comes before it.
func cardWarning(f *Frame) (bulletin, bool) {
	if !hasCard(f) || f.Card.Warning == "" {
		return bulletin{}, false
	}
	v, tag := f.Card, "ARMED TOO EARLY"
	if v.WarningDo != "disarm" {
		tag = "THROTTLE TOO EARLY"
	}
	return bulletin{
		level: detect.Medium, filled: true, flashing: true,
		head: "CARD NOT DONE", order: bigOrder(clean(v.WarningDo)), tag: tag,
		text: clean(v.Warning), more: "first: " + clean(v.WarningDo) + "; then c shows what is to be done",
	}, true
}

// headLetters is the widest text of the card in big letters, in dots: what is left
// of 80 columns.
const headLetters = 74

// pressStop is what stands under a step that wants hands at a craft that may start.
const pressStop = "PRESS STOP"

// headCard puts the step that is due in the big letters of a calm banner, and
// what the card came to once it is over and the craft disarmed. That it is
// watched stands in the small words.
func headCard(b *bulletin, f *Frame) {
	if !hasCard(f) || b.head != watchingHead {
		return
	}
	v := f.Card
	at := strconv.Itoa(v.Current + 1)
	switch {
	case v.Ended && f.Snap.Armed == detect.No && v.Lacking == "":
		b.head = "CARD PASSED"
	case v.Ended && f.Snap.Armed == detect.No:
		b.head, b.more = "CARD NOT PASSED", clean(v.Lacking)
	case v.Ended:
	case v.StopFirst && v.Current >= len(v.Steps) && f.Snap.Armed != detect.Yes:
		b.head, b.order = "LOOK AT CARD", pressStop
	case v.Current >= len(v.Steps) && (v.TickWaits != "" || f.Snap.Armed != detect.No): // nobody is called to a live craft
	case v.Current >= len(v.Steps):
		b.head = "LOOK AT CARD"
	case v.Steps[v.Current].State == runcard.Failed:
		b.head = bigName(at+" "+clean(v.Steps[v.Current].ID)+" failed", "step "+at+" failed")
		if f.Snap.Armed != detect.No { // what the card says to do begins so
			b.order = "CUT THROTTLE"
		}
	default:
		asks := ""
		if v.Steps[v.Current].Kind == runcard.Person {
			asks = "?" // "props-off" alone reads as how it is
		}
		b.head = bigName(at+" "+clean(v.Steps[v.Current].ID)+asks, "step "+at+asks)
		if v.StopFirst && f.Snap.Armed != detect.Yes { // the name of the step alone would call hands to the craft
			b.order = pressStop
		}
	}
}

// bigName is the first text in capitals where its big letters fit 80 columns, else
// the other.
func bigName(text, short string) string {
	text = strings.ToUpper(text)
	if rows, ok := dots(text); ok && len(rows[0]) <= headLetters {
		return text
	}
	return strings.ToUpper(short)
}

// pressingAction is the first action of the alarm that the banner shows, "" where
// none presses. The card then gives no advice of its own beside it.
func pressingAction(f *Frame) string {
	if f == nil || f.Snap == nil {
		return ""
	}
	i := worst(f.Snap.Alarms)
	if i < 0 || !pressing(&f.Snap.Alarms[i]) {
		return ""
	}
	if action := clean(f.Snap.ActionOf(i)); action != "" {
		return action
	}
	return "as the banner says"
}

// warningWords are the same in one sentence, what to do first.
func warningWords(v *runcard.View) string {
	return strings.ToUpper(clean(v.WarningDo)) + ": " + clean(v.Warning)
}
