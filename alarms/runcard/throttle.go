package runcard

import (
	"fmt"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// A hand holds a stick within a few hundredths; too far is worse than too
// little (common practice, no source).
const (
	holdUnder = 0.02
	holdOver  = 0.04
)

// throttleTo: the stick comes to its place and stays there, and nothing grows.
// That an oscillation that grows, or anything high, ends it is settled before.
func (r *Run) throttleTo(l *alarms.Look, s *Step) {
	b, stick := l.Bench, stickNow(l.Bench, 0)
	if !r.readyArmed(b) || !stick.OK {
		r.hold(b, false, 0)
		return
	}
	switch {
	case stick.V < s.Throttle-holdUnder:
		r.hint = hint{text: "up: the stick stands at ", value: stick.V, digits: 2}
	case stick.V > s.Throttle+holdOver:
		r.hint = hint{text: "too far: the stick stands at ", value: stick.V, digits: 2}
	default:
		r.needTurning(b)
	}
	begins, done := r.hold(b, r.hint.text == "", s.seconds())
	if begins {
		r.ev.swing = 0
	}
	if r.ev.since < 0 {
		return
	}
	for axis := range 3 {
		amplitude, limit, ok := l.Swing(axis)
		if ok && limit > 0 && amplitude/limit >= r.ev.swing {
			r.ev.swing, r.ev.swingAxis = amplitude/limit, axis
			r.ev.swingText = [2]float64{amplitude, limit}
		}
	}
	if !done {
		return
	}
	blind := detect.Where(0)
	for axis := range 3 {
		if _, _, ok := l.Swing(axis); !ok {
			blind |= detect.Axis(axis)
		}
	}
	if blind != 0 {
		r.byEye(fmt.Sprintf("held %.1f s at %.2f, but %s was not watched: did nothing shake?", s.seconds(), stick.V, blind))
		return
	}
	text := fmt.Sprintf("held %.1f s at %.2f, nothing grew; largest swing %.3f of %.3f, %s",
		s.seconds(), stick.V, r.ev.swingText[0], r.ev.swingText[1], detect.Axis(r.ev.swingAxis))
	if why := l.Missing(detect.RisingOscillation); why != "" {
		text += "; not watched " + why
	}
	r.pass(text)
}
