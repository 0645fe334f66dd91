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
		r.hold(b, false, 0)
		return
	}
	r.ev.ways.look(b, s.move())
	open, silent := detect.Where(0), detect.Where(0)
	oneSided := ""
	for axis := range 3 {
		if v := stickNow(b, 1+axis); v.OK {
			r.ev.low[axis], r.ev.high[axis] = min(r.ev.low[axis], v.V), max(r.ev.high[axis], v.V)
		}
		moved := r.ev.low[axis] <= -s.move() && r.ev.high[axis] >= s.move()
		a := l.Answer(axis)
		switch {
		case !moved:
			open |= detect.Axis(axis)
		case a.Demand < r.begun && (b.Demand[axis].OK || a.Motors < r.begun):
			silent |= detect.Axis(axis)
		case b.Demand[axis].OK && oneSided == "":
			for way, so := range r.ev.ways.axis[axis].demanded() {
				if !so {
					oneSided = wayNames[axis][way]
				}
			}
		}
	}
	switch {
	case open != 0:
		r.hint = hint{text: "both ways still: ", where: open}
	case silent != 0:
		r.hint = hint{text: "moved, but no clear answer yet: a little more of ", where: silent}
	case oneSided != "":
		r.hint = hint{text: "no answer this way yet: ", word: oneSided}
	}
	// The last movement's verdict may still come, and it may be a bad one.
	if _, done := r.hold(b, r.hint.text == "", settle); done {
		r.passSticks(l)
	}
}

// passSticks says what answered each stick. That the demand follows it is the
// controller's word alone: for roll and pitch the motors must have answered too,
// both ways, or a person must have seen the craft lean. Yaw turns by reaction
// torque, which the outputs of a held craft hardly show.
func (r *Run) passSticks(l *alarms.Look) {
	unseen, both, asked, driven := detect.Where(0), detect.Where(0), detect.Where(0), detect.Where(0)
	for axis := range 3 {
		a := l.Answer(axis)
		motors := a.Motors >= r.begun && r.ev.ways.axis[axis].driven()
		switch {
		case axis < 2 && !motors:
			unseen |= detect.Axis(axis)
		case motors && a.Demand >= r.begun:
			both |= detect.Axis(axis)
		case motors:
			driven |= detect.Axis(axis)
		default:
			asked |= detect.Axis(axis)
		}
	}
	if unseen != 0 {
		r.byEye("the motors' answer to " + names(unseen) + " was not seen both ways: did the craft lean the right way each time?")
		return
	}
	var parts []string
	for _, p := range []struct {
		of detect.Where
		by string
	}{{both, "demand and motors"}, {driven, "motors"}, {asked, "demand"}} {
		if p.of != 0 {
			parts = append(parts, names(p.of)+" by "+p.by)
		}
	}
	r.pass("right both ways: " + strings.Join(parts, "; "))
}
