package account

import (
	"fmt"
	"math"
)

// balance writes where the weight lies.
func (m *motors) balance(c *Collector, b *Balance) {
	w := m.scale.Weighed()
	b.Holds = m.weighs
	if t := &m.twist; t.n > 0 {
		b.YawTwist = ptr(t.mean)
		if se, ok := t.se(); ok {
			b.YawErr = ptr(se)
		}
	}
	if w.Why != "" {
		b.Why = w.Why
		return
	}
	b.Known = true
	b.ForwardMM, b.RightMM = w.ForwardMM, w.RightMM
	b.ErrMM = max(w.ForwardWithinMM, w.RightWithinMM)
	b.Direction = direction(w.ForwardMM, w.RightMM)
	b.Why = fmt.Sprintf("by %d s of steady throttle in one run", w.Seconds)
	if w.Guessed {
		b.Why += "; the arms' length is guessed from the propeller (arm_mm)"
	}
}

// direction words a place in the plane of the craft.
func direction(forward, right float64) string {
	part := func(v float64, plus, minus string) string {
		if v < 0 {
			plus = minus
		}
		return fmt.Sprintf("%.0f mm %s", math.Abs(v), plus)
	}
	return part(forward, "forward", "back") + ", " + part(right, "right", "left")
}
