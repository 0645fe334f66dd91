package detect

import "strings"

// An Ailment is what an alarm says of the line.
type Ailment uint8

// The ailments. Only some faults of the line explain each.
const (
	NoAilment Ailment = iota
	StaysAway         // lines do not come
	Spoilt            // lines are bad or lost
	Overfull          // the line carries nearly all that it can
	Anew              // the bridge began anew
)

// Ailing is what ails the line by an alarm's story.
type Ailing struct {
	What   Ailment
	Bridge string // of several bridges the one that it is about; "" all
}

// Seen is what was seen of the line's faults, by who looks at its bytes.
type Seen struct {
	All    string // every fault of just now; "" none
	Cause  string // the one that explains the ailment; "" none does
	Whole  bool   // that is all there is of All
	Action string // what mends it; "" where nothing is known that does
}

// checkLine is what to do about spoilt lines as long as nobody knows why.
const checkLine = "check cable, ground and baud"

// Seen adds what was seen of the line. What explains the alarm is its likely cause,
// for a guess beside it would contradict it, and what mends that comes after what is
// to be done at once.
func (s Story) Seen(of Seen) Story {
	if of.All == "" {
		return s
	}
	s.More = append(s.More, Fact{"seen", of.All})
	if of.Cause == "" || !of.Whole {
		s.Text += "; the line shows: " + of.All
	}
	if of.Cause == "" {
		return s
	}
	s.Cause = of.Cause
	switch {
	case of.Action == "":
	case strings.Contains(s.Action, checkLine):
		s.Action = strings.Replace(s.Action, checkLine, of.Action, 1)
	case s.Action == lookAtBridge:
		s.Action = of.Action
	case s.Ails.What != Overfull:
		s.Action += "; " + of.Action
	}
	return s
}
