package alarms

import (
	"strings"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// OnceStill stands ahead of what leads a hand to the craft, while rotors turn or
// may.
const OnceStill = "once rotors stand, "

// handsOn are how acts begin that lead a hand to the craft, to what holds and feeds
// it or to the bridge, or that end the watch.
var handsOn = []string{
	"balance", "begin the checksum", "change", "charge", "check", "compare", "count", "cover", "end the checksum",
	"fasten", "feel", "find", "free", "invert", "look", "lower the baud", "lower the stream", "make the checksum",
	"mend", "move", "put", "raise the baud", "set 8 data bits", "set the monitor's", "shorten", "slack",
	"start the watch", "take", "turn", "unplug", "write",
}

// A craft whose rotors turn or may is one of these.
type turning uint8

const (
	stands  turning = iota // disarmed, and every rotor is known to stand
	unasked                // disarmed, and some rotor turns, is told to, or nobody knows
	armed                  // armed, or nobody knows
)

// turns tells which it is. What a craft says of itself is not enough: outputs rise
// before the line that says it is armed, and rotors run on after the one that says
// it is not; without their speeds nobody knows that they stand until the time to coast
// is over. A motor beyond the craft's count need not be told of, but what is told of it
// counts: a craft file may be of another craft. A silence of the whole line leaves what
// was known before it.
func turns(b *detect.Bench) turning {
	if b.ArmedOrUnknown() {
		return armed
	}
	says := func(tag decode.Tag, r detect.Reading) (nought, more bool) {
		if !r.OK || b.Doubt[tag] != "" {
			return false, false
		}
		return r.V <= 0 && !b.Streams[tag].Missed(b.Now-b.Silent), r.V > 0
	}
	coasted := b.Now-b.Silent-b.DisarmedAt >= b.Coast()
	for i := range decode.MaxMotors {
		none, driven := says(decode.Out, b.Out[i])
		still, spins := says(decode.ERPM, b.ERPM[i])
		if known := still || none && coasted; driven || spins || i < b.Motors && !known {
			return unasked
		}
	}
	if b.Motors == 0 {
		return unasked
	}
	return stands
}

// keepOff rewords an action so that no part of it leads a hand to rotors that
// turn: the parts are divided by "; ". What begins with such a part begins with
// disarming, or where that is done already, with keeping clear.
func keepOff(action string, of turning) string {
	if of == stands || action == "" {
		return action
	}
	var out []string
	for part := range strings.SplitSeq(action, "; ") {
		for _, word := range handsOn {
			if !strings.HasPrefix(part, word+" ") {
				continue
			}
			switch {
			case len(out) > 0:
			case of == armed:
				out = append(out, "disarm")
			default:
				out = append(out, "keep clear")
			}
			part = OnceStill + part
			break
		}
		out = append(out, part)
	}
	return strings.Join(out, "; ")
}

// KeepOff words an action as it can be followed now, without a hand near rotors that
// turn or may.
func (e *Engine) KeepOff(action string) string { return keepOff(action, turns(&e.bench)) }
