package detect

import (
	"fmt"
	"math"
)

// Describe tells frequency, growth and the time that is left.
func (o *Oscillation) Describe(b *Bench, f Finding) Story {
	i := axisOf(f.Where)
	h := &o.axes[i].hold
	t := &h.story
	s := Story{Unit: "1", Action: "cut throttle", Cause: "loop gain too high"}
	amount := fmt.Sprintf("%.3f of full output", f.Value)
	if o.axes[i].main == sigY {
		s.Unit = "deg/s"
		amount = fmt.Sprintf("%.0f deg/s", f.Value)
	}
	growth, growthErr := t.growth, t.growthErr
	if h.byGrow {
		growth, growthErr = h.ahead.growth, h.ahead.growthErr
	}
	s.More = []Fact{
		{"frequency_hz", h.hz}, {"growth_per_s", growth},
		{"damping_ratio", -growth / math.Hypot(growth, 2*math.Pi*t.hz)},
		{"amplitude", f.Value}, {"share", t.share},
	}
	switch {
	case h.byGrow && f.Value < f.Limit:
		ahead := h.ahead.since(b.Now)
		left := ahead.s
		s.Text = fmt.Sprintf("%s oscillates at %.1f Hz, %s, and grows: %.1f s to the limit", f.Where, h.hz, amount, left)
		if ahead.low < 0.5*left {
			s.Text += fmt.Sprintf(", %.1f at worst", ahead.low)
		}
		s.More = append(s.More, Fact{"doubling_s", math.Ln2 / growth}, Fact{"time_to_limit_s", left},
			Fact{"time_to_limit_low_s", ahead.low}, Fact{"time_to_limit_high_s", ahead.high}, Fact{"growth_odds", h.ahead.odds})
	case f.Value >= f.Limit:
		s.Text = fmt.Sprintf("%s oscillates at %.1f Hz, %s: over the limit", f.Where, h.hz, amount)
		s.More = append(s.More, Fact{"time_to_limit_s", 0.0})
	default:
		s.Text = fmt.Sprintf("%s oscillates at %.1f Hz, %s, and does not grow now", f.Where, h.hz, amount)
		s.Action = "lower the gains before you go on"
	}
	if b.Now < o.settleTo {
		s.Cause = "loop gain too high, or the craft rocks on its feet"
	} else if t.nearLine {
		s.Cause = "loop gain too high, or a rotor line"
	}
	if !o.axes[i].both {
		s.More = append(s.More, Fact{"less_sure", "output and rate are not both measured"})
	}
	if h.byGrow {
		s.More = append(s.More, Fact{"growth_error_per_s", growthErr})
	}
	return s
}
