package detect

import (
	"math"
	"slices"

	"tetherbell/decode"
)

const (
	// apartShare: a rotor that turns so far off the others' middle at the same
	// output (the owner of the contract asks for it; motors of one kind differ by
	// about one percent). What is off by more than Limits.RotorSpeed is
	// rotor-lost's.
	apartShare = 0.15
	apartBand  = 0.03
	// Speed follows output by a power between these: by its root where thrust
	// counts, in proportion where voltage does (common practice, no source).
	apartLeast, apartMost = 0.5, 1.1
	// apartSteady: speeds and outputs may move by this share within the second.
	apartSteady = 0.12
	// apartRows: at ten reports a second a second has nine bins.
	apartRows = 8
)

// rotorsApart tells of a rotor whose speed its output does not explain.
type rotorsApart struct {
	out, speed bins
	up         int // motor that rings, -1 none
	ratio      float64
	known      bool // the second could be judged

	asked apartAsked // by the last look, and what it found
	found struct {
		motor int
		ratio float64
		is    bool
	}
}

// apartAsked is all that a look depends on: where it is the same, so is what is
// found.
type apartAsked struct {
	out, speed, motors, up int
	least, limit           float64
}

func newRotorsApart() rotorsApart {
	return rotorsApart{out: newBins(), speed: newBins(), up: -1, asked: apartAsked{out: -1}}
}

func (d *rotorsApart) clear() {
	d.out.clear()
	d.speed.clear()
	d.up, d.known = -1, false
}

// seen judges the last second, where anything has changed since it was judged.
func (d *rotorsApart) seen(b *Bench) (motor int, ratio float64, is bool) {
	now := apartAsked{d.out.turns, d.speed.turns, b.Motors, d.up, leastFlight(b), b.Limits.RotorSpeed}
	if now != d.asked {
		d.asked = now
		d.found.motor, d.found.ratio, d.found.is = d.look(b)
	}
	return d.found.motor, d.found.ratio, d.found.is
}

// look judges the last second. hold tells that an alarm that is up stays: the
// second was not steady.
func (d *rotorsApart) look(b *Bench) (motor int, ratio float64, is bool) {
	d.known = false
	var speed, out [decode.MaxMotors]float64
	n := 0
	for i := range min(b.Motors, decode.MaxMotors) {
		s, o := d.speed.ring[i], d.out.ring[i]
		if s.Count() < apartRows || o.Count() < apartRows || s.Span() < shareSpan || o.Span() < shareSpan {
			return -1, 0, false
		}
		v, u := s.Mean(), o.Mean()
		if u <= leastFlight(b) || v <= 0 || s.Spread() > apartSteady*v || o.Spread() > max(steadyLeast, apartSteady*u) {
			return -1, 0, false
		}
		speed[i], out[i] = v, u
		n++
	}
	if n < 3 {
		return -1, 0, false
	}
	d.known = true
	midSpeed, midOut := middle(speed, n), middle(out, n)
	motor = -1
	worst := 0.0
	for i := range n {
		r, o := speed[i]/midSpeed, out[i]/midOut
		low, high := 1.0, 1.0 // of the three powers nought, apartLeast and apartMost
		if p := math.Pow(o, apartMost); o < 1 {
			low = p
		} else {
			high = p
		}
		off := max(low-r, r-high, 0)
		if math.Abs(r-1) > b.Limits.RotorSpeed {
			continue
		}
		if i == d.up {
			off += apartBand
		}
		if off > worst {
			motor, ratio, worst = i, r, off
		}
	}
	return motor, ratio, over(worst, apartShare)
}

// middle is the median of the first n values.
func middle(v [decode.MaxMotors]float64, n int) float64 {
	s := v[:n]
	slices.Sort(s)
	if n%2 == 1 {
		return s[n/2]
	}
	return (s[n/2-1] + s[n/2]) / 2
}

// judge returns the motor that rings and the level; None holds it.
func (d *rotorsApart) judge(b *Bench) (motor int, ratio float64, level Priority) {
	if !b.ArmedOrUnknown() {
		d.up = -1
		return -1, 0, None
	}
	m, r, is := d.seen(b)
	switch {
	case is:
		d.up, d.ratio = m, r
		return m, r, Low
	case !d.known && d.up >= 0:
		return d.up, d.ratio, None
	}
	d.up = -1
	return -1, 0, None
}
