package main

import (
	"strings"

	"tetherbell/alarms/cable"
	"tetherbell/alarms/detect"
)

// explaining are the faults of the line that explain each ailment, those first that
// explain the others. A bit that turned over keeps no line away, and a heap of late
// lines spoils none.
var explaining = map[detect.Ailment][]cable.Kind{
	detect.StaysAway: {cable.Unplugged, cable.WrongBaud, cable.Restart, cable.HeldUp, cable.Trickle, cable.Flood},
	detect.Spoilt: {
		cable.WrongBaud, cable.Unplugged, cable.Flood, cable.FlippedBits, cable.LostBytes, cable.DoubledBytes,
		cable.MergedLines, cable.Miswritten,
	},
	detect.Overfull: {cable.Flood},
	detect.Anew:     {cable.ClockStep},
}

// blame names what the line shows just now, and what of it explains an alarm.
func (d *desk) blame(of detect.Ailing) (seen detect.Seen) {
	var all, causes []string
	seen.Whole = true
	for i, w := range d.cables {
		cause := w.Cause()
		if cause == "" || of.Bridge != "" && d.many.from != 0 && d.many.name(i+1) != of.Bridge {
			continue
		}
		all = append(all, d.ofCable(i)+cause)
		likely, act := likelyOf(w, of.What)
		if seen.Whole = seen.Whole && likely == cause; likely == "" {
			continue
		}
		if seen.Action == "" {
			seen.Action = act
		}
		if of.Bridge == "" {
			likely = d.ofCable(i) + likely
		}
		causes = append(causes, likely)
	}
	seen.All, seen.Cause = strings.Join(all, "; "), strings.Join(causes, "; ")
	return seen
}

// likelyOf names the fault that explains an ailment, and what mends it. What keeps
// lines away is one; what spoils them may be several, and then nobody knows which to
// mend first. A bridge that writes wrongly is to blame where nothing else is seen.
func likelyOf(w *cable.Watch, what detect.Ailment) (cause, action string) {
	all := w.Recent(explaining[what])
	if len(all) == 0 || what == detect.Anew && len(w.Recent([]cable.Kind{cable.Restart})) > 0 {
		return "", ""
	}
	if what != detect.Spoilt || all[0].Kind == cable.WrongBaud {
		all = all[:1]
	}
	names := make([]string, len(all))
	for i := range all {
		names[i] = all[i].Kind.String()
	}
	if len(all) == 1 {
		action = shortAction(all[0].Action)
		if all[0].Kind == cable.Miswritten {
			action = "look how the bridge writes its lines"
		}
	}
	return strings.Join(names, ", "), action
}

// shortAction is the first part of what to do, for a banner has no room for the rest:
// it stands where the fault itself is told.
func shortAction(s string) string {
	if i := strings.IndexAny(s, ":;"); i > 0 {
		s = s[:i]
	}
	s, _, _ = strings.Cut(s, ", and ")
	return s
}
