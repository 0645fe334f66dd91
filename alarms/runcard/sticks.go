package runcard

import (
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// settle is how long a stick's answer is still looked at once it rests, seconds:
// reversed-response judges for half of it.
const settle = 1.0

// sticks: each of roll, pitch and yaw has moved both ways, and what answered it
// went the same way, by reversed-response's own measure. One that goes the wrong
// way rings high, and that fails the step.
func (r *Run) sticks(l *alarms.Look, s *Step) {
	b := l.Bench
	if !r.readyArmed(b) {
		r.hold(false, 0)
		return
	}
	open, silent := detect.Where(0), detect.Where(0)
	for axis := range 3 {
		if v := b.Stick[1+axis]; v.OK {
			r.ev.low[axis], r.ev.high[axis] = min(r.ev.low[axis], v.V), max(r.ev.high[axis], v.V)
		}
		moved := r.ev.low[axis] <= -s.move() && r.ev.high[axis] >= s.move()
		a := l.Answer(axis)
		switch {
		case !moved:
			open |= detect.Axis(axis)
		case a.Demand < r.begun && (b.Demand[axis].OK || a.Motors < r.begun):
			silent |= detect.Axis(axis)
		}
	}
	switch {
	case open != 0:
		r.hint = hint{text: "both ways still: ", where: open}
	case silent != 0:
		r.hint = hint{text: "moved, but no clear answer yet: a little more of ", where: silent}
	}
	// The last movement's verdict may still come, and it may be a bad one.
	if _, done := r.hold(open|silent == 0, settle); done {
		r.passSticks(l)
	}
}

// passSticks says what answered each stick. That the demand follows it is the
// controller's word alone: for roll and pitch the motors must have answered too,
// or a person must have seen the craft lean. Yaw turns by reaction torque, which
// the outputs of a held craft hardly show.
func (r *Run) passSticks(l *alarms.Look) {
	var parts []string
	unseen := detect.Where(0)
	for axis := range 2 {
		if l.Answer(axis).Motors < r.begun {
			unseen |= detect.Axis(axis)
		}
	}
	if unseen != 0 {
		r.byEye("the demand went the right way, the motors' answer to " + unseen.String() + " was not seen: did the craft lean the right way?")
		return
	}
	for axis := range 3 {
		a := l.Answer(axis)
		by := "demand and motors right"
		switch {
		case a.Motors < r.begun:
			by = "demand right"
		case a.Demand < r.begun:
			by = "motors right"
		}
		parts = append(parts, detect.Axis(axis).String()+": "+by)
	}
	r.pass(strings.Join(parts, ", "))
}
