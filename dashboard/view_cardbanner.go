package dashboard

import (
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
	v := f.Card
	return bulletin{
		level: detect.Medium, filled: true, flashing: true,
		head: "CARD NOT DONE", order: bigOrder(clean(v.WarningDo)), tag: "NOT YET",
		text: clean(v.Warning), more: "first: " + clean(v.WarningDo) + "; then c shows what is to be done",
	}, true
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
	if action := clean(f.Snap.Alarms[i].Story.Action); action != "" {
		return action
	}
	return "as the banner says"
}

// warningWords are the same in one sentence, what to do first.
func warningWords(v *runcard.View) string {
	return strings.ToUpper(clean(v.WarningDo)) + ": " + clean(v.Warning)
}
