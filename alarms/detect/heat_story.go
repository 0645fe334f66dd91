package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
)

const (
	// trillTime is the memory of how the outputs shake.
	trillTime = 0.5
	// trillLeast, of full output, and trillShare of the mean output: a shake over
	// both heats motors beyond what the lift asks for. Healthy hovers shake by
	// 0.01 to 0.03 (common practice, no source; the simulator's sound craft by
	// 0.01, with open filters by 0.3).
	trillLeast = 0.05
	trillShare = 0.15
	// hardWork: an output over the others' by more than this share explains a
	// motor that is hotter than they are. Healthy craft have up to 1.16 of the
	// mean (open set CrazyPAD, recomputed).
	hardWork = 1.2
)

// trill follows how much each output shakes about its own mean.
type trill struct {
	at       int64
	mean, sq [decode.MaxMotors]float64
	seen     Where
}

func (t *trill) take(b *Bench, at int64) {
	dt := float64(at-t.at) / float64(Second)
	t.at = at
	k := -math.Expm1(-dt / trillTime)
	for i := range b.Motors {
		if !b.Out[i].OK {
			continue
		}
		if t.seen&Motor(i) == 0 {
			t.seen |= Motor(i)
			t.mean[i] = b.Out[i].V
		}
		e := b.Out[i].V - t.mean[i]
		t.mean[i] += k * e
		t.sq[i] += k * (e*e - t.sq[i])
	}
}

// shakes returns the root mean square of a motor's shake, and whether it is
// more than a sound craft's.
func (t *trill) shakes(i int) (float64, bool) {
	v := math.Sqrt(t.sq[i])
	return v, v > max(trillLeast, trillShare*t.mean[i])
}

// leading returns the motor that a finding's value is of.
func (d *motorHeat) leading(b *Bench, f Finding) int {
	worst, _ := d.worst(b, f.Where)
	return max(worst, 0)
}

// likeLeading returns those motors of a group that what is said of motor i is
// true of now: they began alike, but need not go on so.
func (d *motorHeat) likeLeading(b *Bench, w Where, i int) Where {
	of := Motor(i)
	for j := range heatMotors(b) {
		if w&Motor(j) == 0 || !d.alike(b, i, j) {
			continue
		}
		// Told is one temperature, whatever they ring for.
		if math.Abs(d.track[j].temp-d.track[i].temp) <= b.Limits.HeatOver/2 {
			of |= Motor(j)
		}
	}
	return of
}

// Describe tells how hot, how soon too hot, and why.
func (d *motorHeat) Describe(b *Bench, f Finding) Story {
	i := d.leading(b, f)
	h, says := &d.track[i], &d.says[i]
	of := d.likeLeading(b, f.Where, i)
	who, is, heat := of.String(), "is", "heats"
	if of&(of-1) != 0 {
		is, heat = "are", "heat"
	}
	s := Story{Unit: "degC"}
	switch says.by {
	case heatByRate:
		s.Unit = "degC/s"
		s.Text = fmt.Sprintf("%s %s by %.1f degC a second, limit %.1f, and %s at %.0f degC", who, heat, f.Value, f.Limit, is, h.temp)
	case heatByOthers:
		s.Text = fmt.Sprintf("%s %s at %.0f degC, %.0f over the others", who, is, h.temp, h.temp-d.others[i])
	default:
		s.Text = fmt.Sprintf("%s %s at %.0f degC, limit %.0f", who, is, f.Value, f.Limit)
	}
	s.More = append(s.More, Fact{"temperature_c", h.temp})
	if !math.IsNaN(d.others[i]) {
		s.More = append(s.More, Fact{"others_median_c", d.others[i]})
	}
	if h.sloped {
		s.More = append(s.More, Fact{"rate_c_per_s", h.slope}, Fact{"rate_se_c_per_s", h.se})
	}
	d.outlook(b, h, &s)
	d.why(b, of, i, &s)
	switch {
	case !running(b):
		s.Action = "leave the motors off until they are cool"
		if f.Level == High {
			s.Action = "press stop; leave the motors off until they are cool"
		}
	case f.Level == High:
		s.Action = "cut throttle, then press stop"
	default:
		s.Action = "throttle down and stop; feel the motors"
	}
	return s
}

// outlook tells when the high limit will be met.
func (d *motorHeat) outlook(b *Bench, h *heatTrack, s *Story) {
	limit := b.Limits.HeatHigh
	if !running(b) || h.temp >= limit || !h.rising(b.Limits.HeatRate/4) {
		return
	}
	t := h.until(limit)
	if !h.curve.known {
		s.More = append(s.More, Fact{"model", "straight line"}, Fact{"time_to_limit_s", t}, Fact{"limit_c", limit})
		s.Text += fmt.Sprintf("; %.0f degC in %.1f s at this rate", limit, t)
		return
	}
	s.More = append(s.More, Fact{"model", "first order"}, Fact{"end_c", h.curve.end}, Fact{"time_constant_s", h.curve.tau})
	if later := h.curve.until(limit); !math.IsInf(later, 1) {
		s.More = append(s.More, Fact{"time_to_limit_s", later}, Fact{"limit_c", limit})
		s.Text += fmt.Sprintf("; %.0f degC in %.1f s", limit, later)
		return
	}
	s.More = append(s.More, Fact{"straight_line_s", t}, Fact{"limit_c", limit})
	s.Text += fmt.Sprintf("; its course tends to %.0f degC, a straight line to %.0f degC in %.1f s", h.curve.end, limit, t)
}

// why looks for the cause: all motors alike, or what this one does that the
// others do not.
func (d *motorHeat) why(b *Bench, w Where, i int, s *Story) {
	if b.Amps.OK {
		s.More = append(s.More, Fact{"current_a", b.Amps.V})
	}
	shake, shakes := d.trill.shakes(i)
	if b.Out[i].OK {
		s.More = append(s.More, Fact{"output", d.trill.mean[i]}, Fact{"output_shake", shake})
	}
	stuck := d.stuck & w
	work, speed := d.unlike(b, i)
	if speed > 0 {
		s.More = append(s.More, Fact{"speed_over_others", speed})
	}
	n := 0
	for j := range b.Motors {
		if w&Motor(j) != 0 {
			n++
		}
	}
	switch {
	case stuck != 0:
		s.Cause = fmt.Sprintf("rotor of %s stands although it is driven: blocked", stuck)
	case shakes && (n > 1 || b.Motors == 1):
		s.Cause = "the controller's noise: filters open or D high, the outputs shake"
	case n > 1 && n == b.Motors:
		s.Cause = "all motors alike: overload, propellers too large or too much throttle"
	case n > 1:
		s.Cause = "several motors alike: overload or weight off centre"
	case work > hardWork:
		s.Cause = "it works harder than the others: weight off centre, or its propeller lifts less"
	case speed > 0 && speed < 1-speedOff:
		s.Cause = "it turns slower than its output asks: bearing, or a propeller that drags"
	default:
		s.Cause = "one motor alone: bearing, winding or propeller"
	}
}

// unlike returns motor i's output over the others' median, and its speed for
// its output over theirs; 0 where not known.
func (d *motorHeat) unlike(b *Bench, i int) (work, speed float64) {
	var outs, speeds []float64
	gain := func(j int) float64 {
		if !b.Out[j].OK || !b.ERPM[j].OK || d.trill.mean[j] < zeroOutput {
			return 0
		}
		return b.ERPM[j].V / d.trill.mean[j]
	}
	for j := range b.Motors {
		if j == i {
			continue
		}
		if b.Out[j].OK {
			outs = append(outs, d.trill.mean[j])
		}
		if g := gain(j); g > 0 {
			speeds = append(speeds, g)
		}
	}
	if m := medianIf(outs); m > 0 && b.Out[i].OK {
		work = d.trill.mean[i] / m
	}
	if m := medianIf(speeds); m > 0 {
		speed = gain(i) / m
	}
	return work, speed
}

// medianIf is the median of two values at least, 0 where there are fewer.
func medianIf(v []float64) float64 {
	if len(v) < 2 {
		return 0
	}
	return medianOf(v)
}
