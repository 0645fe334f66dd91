package runcard

import "fmt"

// A Kind says how a step is passed.
type Kind uint8

// The kinds of step.
const (
	Person       Kind = iota // a person looks, and ticks it
	AtRest                   // disarmed, outputs at zero, rotors standing
	ArmedIdle                // armed with the stick at zero: idle output and no lift
	StopTest                 // the stop switch, pressed while armed: the rotors stand in time
	LeastOutput              // the first touch of the stick: no jump in output or lift
	ThrottleTo               // the throttle brought to a place and held there: nothing grows
	Sticks                   // each of roll, pitch and yaw, both ways: the answer has the right sign
	Temperatures             // after disarming: no motor hot, none far from the others
	kinds
)

var kindNames = [kinds]string{
	"person", "at-rest", "armed-idle", "stop-test", "least-output", "throttle-to", "sticks", "temperatures",
}

// String is the kind as a card spells it.
func (k Kind) String() string { return kindNames[k] }

// armed reports whether the step is done with the craft armed.
func (k Kind) armed() bool {
	switch k {
	case ArmedIdle, StopTest, LeastOutput, ThrottleTo, Sticks:
		return true
	}
	return false
}

// A Step is one line of a card.
type Step struct {
	ID       string // one word, unique on its card
	Kind     Kind
	Say      string // what to do, imperative
	Why      string // may be empty
	IfFailed string // what to do when it does not pass
	Hands    bool   // of Person: hands go to the craft, or the stop must be pressed; see hands.go
	Released bool   // of AtRest: the stop must be released, so that nobody arms with it pressed

	Throttle float64 // of ThrottleTo: where the stick goes, 0..1
	Seconds  float64 // how long it must be so; 0: the kind's own
	WithinMS float64 // of StopTest; 0: by the size of the propellers
	Move     float64 // of Sticks: how far each stick must go, both ways
	MostC    float64 // of Temperatures; 0: where motor-heat begins to ring
	SpreadC  float64 // of Temperatures: over the others' median; 0: as for motor-heat
}

// A Card is the steps of one run, in their order.
type Card struct {
	Name  string // one word
	Title string
	Steps []Step
	Text  string // as it was read: a recording keeps it
}

// seconds a step takes where the card does not say: common practice, no source.
// Long enough for a reading to settle, short enough to be waited for with a
// hand on the stop switch.
var ownSeconds = [kinds]float64{AtRest: 1, ArmedIdle: 3, ThrottleTo: 3, Temperatures: 10}

// ownMove is the stick's travel that a response can be told from: twice what
// reversed-response takes for a movement at all (common practice, no source).
const ownMove = 0.04

// seconds is how long a step must hold.
func (s *Step) seconds() float64 {
	if s.Seconds > 0 {
		return s.Seconds
	}
	return ownSeconds[s.Kind]
}

func (s *Step) move() float64 {
	if s.Move > 0 {
		return s.Move
	}
	return ownMove
}

// Needs words the kind of a step with its figures.
func (s *Step) Needs() string {
	out := s.Kind.String()
	add := func(format string, v float64) {
		if v > 0 {
			out += fmt.Sprintf(format, v)
		}
	}
	if s.Hands {
		out += ", with the stop pressed"
	}
	if s.Released {
		out += ", with the stop released"
	}
	add(" %g", s.Throttle)
	if s.Kind != LeastOutput && s.Kind != Sticks {
		add(" for %g s", s.seconds())
	}
	add(" within %g ms", s.WithinMS)
	if s.Kind == Sticks {
		add(" by %g", s.move())
	}
	add(" up to %g C", s.MostC)
	add(", %g C apart", s.SpreadC)
	return out
}
