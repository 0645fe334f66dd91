package alarms

import "strings"

// OnceStill stands ahead of what leads a hand to the craft, while it is armed or
// may be.
const OnceStill = "once rotors stand, "

// handsOn are the first words of acts that lead a hand to the craft or to what
// holds and feeds it.
var handsOn = []string{
	"balance", "change", "charge", "check", "count", "cover", "fasten", "feel", "find", "free", "look", "mend",
	"move", "put", "slack", "take", "turn", "unplug",
}

// keepOff rewords an action so that no part of it leads a hand to rotors that
// turn: the parts are divided by "; ". What begins with such a part begins with
// disarming.
func keepOff(action string) string {
	var out []string
	for part := range strings.SplitSeq(action, "; ") {
		first, _, _ := strings.Cut(part, " ")
		for _, word := range handsOn {
			if first != word {
				continue
			}
			if len(out) == 0 {
				out = append(out, "disarm")
			}
			part = OnceStill + part
			break
		}
		out = append(out, part)
	}
	return strings.Join(out, "; ")
}
