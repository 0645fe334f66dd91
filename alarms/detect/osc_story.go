package detect

import (
	"fmt"
	"math"
)

// oscTelling is what a story of an oscillation is made of.
type oscTelling struct {
	axes     [3]oscTold
	settleTo int64
}

type oscTold struct {
	held
	both     bool
	rateOnly bool
}

func (o *Oscillation) telling() oscTelling {
	t := oscTelling{settleTo: o.settleTo}
	for i := range o.axes {
		a := &o.axes[i]
		t.axes[i] = oscTold{held: a.hold, both: a.both, rateOnly: a.main == sigY}
	}
	return t
}

// Telling keeps what Describe needs.
func (o *Oscillation) Telling(last Teller) Teller {
	return kept(last, o.telling())
}

// Describe tells frequency, growth and the time that is left.
func (o *Oscillation) Describe(b *Bench, f Finding) Story {
	t := o.telling()
	return t.Describe(b, f)
}

// Describe tells frequency, growth and the time that is left.
func (o *oscTelling) Describe(b *Bench, f Finding) Story {
	h := &o.axes[axisOf(f.Where)]
	t := &h.story
	s := Story{Unit: "1", Action: "cut throttle", Cause: "loop gain too high"}
	amount := fmt.Sprintf("%.3f of full output", f.Value)
	if h.rateOnly {
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
	swings := fmt.Sprintf("%s oscillates at %.1f Hz, %s", f.Where, h.hz, amount)
	if h.fold > 0 {
		swings = fmt.Sprintf("%s oscillates at %.1f Hz or what folds there, %s", f.Where, h.hz, amount)
		s.More = append(s.More, Fact{"stream_hz", h.fold})
	}
	switch {
	case f.Value >= f.Limit:
		s.Text = swings + ": over the limit"
		s.More = append(s.More, Fact{"time_to_limit_s", 0.0})
	case h.byGrow && b.Now-h.seen <= fresh:
		ahead := h.ahead.since(b.Now)
		s.Text = fmt.Sprintf("%s, and grows: %.1f s to the limit", swings, ahead.s)
		s.Text += perhaps(ahead.s, ahead.low)
		s.More = append(s.More, Fact{"doubling_s", math.Ln2 / growth}, Fact{"time_to_limit_s", ahead.s},
			Fact{"time_to_limit_low_s", ahead.low}, Fact{"time_to_limit_high_s", ahead.high}, Fact{"growth_odds", h.ahead.odds})
	case f.Value < 0.7*h.told:
		s.Text = swings + ", and falls"
	default:
		s.Text = swings + ", and does not grow now"
	}
	if f.Level == Low {
		s.Action = "lower the gains before you go on"
	}
	if b.Now < o.settleTo {
		s.Cause = "loop gain too high, or the craft rocks on its feet"
	} else if h.hz < swingHz {
		s.Cause = "loop gain too high, or the craft swings in its hold-down"
	} else if t.nearLine {
		s.Cause = "loop gain too high, or a rotor line"
	}
	if !h.both {
		s.More = append(s.More, Fact{"less_sure", "output and rate are not both measured"})
	}
	if h.byGrow {
		s.More = append(s.More, Fact{"growth_error_per_s", growthErr})
	}
	return s
}

const (
	// swingHz: up to there a craft may swing on its tether (common practice, no
	// source).
	swingHz = 4.5
	// fresh: what was seen to grow so long ago counts as growing still.
	fresh = Second / 3
)

// perhaps words how soon the limit may come, where that is clearly sooner. The
// far end of the interval is a fact for later: nobody acts on it.
func perhaps(middle, low float64) string {
	switch {
	case middle-low <= 0.2:
		return ""
	case low < 0.1:
		return ", perhaps at once"
	}
	return fmt.Sprintf(", perhaps %.1f s", low)
}
