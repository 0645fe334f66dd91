package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
)

// The standard atmosphere up to 11 km: ISO 2533:1975 (constants from memory,
// rows of the table recomputed).
const (
	isoTemperature = 288.15 // K at sea level
	isoPressure    = 101325 // Pa at sea level
	isoLapse       = 0.0065 // K/m
	isoExponent    = 5.2558761
)

// pressureAltitude returns the geopotential altitude, in metres, at which the
// standard atmosphere has a pressure in pascals.
func pressureAltitude(pascal float64) float64 {
	return isoTemperature / isoLapse * (1 - math.Pow(pascal/isoPressure, 1/isoExponent))
}

const (
	// dipBin: pressure and thrust are averaged over so long, dipBins are kept:
	// 25 s, a run-up with its hold.
	dipBin  = Second / 10
	dipBins = 250
	// dipLeast bins must be there, and dipSpan of thrust between them, of the
	// most that was seen: without a change there is nothing to see.
	dipLeast = 40
	dipSpan  = 0.5
	// dipDrift is how fast pressure altitude may wander by itself, m/s, one
	// standard deviation: weather of 1 hPa an hour is 0.0023 m/s, a sensor that
	// warms up some hundredths (common practice, no source). It is what tells
	// thrust from time where thrust just rises.
	dipDrift = 0.02
	// dipSure standard errors: the change must be so many over nothing.
	dipSure = 5
	dipHold = 0.8 // the note holds down to this part of its limit
)

// dipBinOf is one bin.
type dipBinOf struct {
	slot             int64
	metres, thrust   float64
	metresN, thrustN int
}

// pressureDip tells of a barometer that feels the rotors: pressure altitude of
// a craft that is held goes with its thrust.
type pressureDip struct {
	bins    [dipBins]dipBinOf
	cur     dipBinOf
	bySpeed bool
	fresh   bool
	change  float64 // metres from least to most thrust, + a climb
	sure    bool
	up      bool
	errorM  float64
}

// NewPressureDip returns the detector of pressure-dip.
func NewPressureDip() Detector {
	d := &pressureDip{}
	d.Reset()
	return d
}

func (*pressureDip) Kind() Kind { return PressureDip }

// Reset drops the window.
func (d *pressureDip) Reset() {
	*d = pressureDip{}
	d.cur.slot = -1
	for i := range d.bins {
		d.bins[i].slot = -1
	}
}

// Observe fills the bins. Thrust goes with speed squared, and speed nearly
// with output.
func (d *pressureDip) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.Air:
		d.turn(in.At)
		if b.Pascal.OK {
			d.cur.metres += pressureAltitude(b.Pascal.V)
			d.cur.metresN++
		}
	case decode.Out:
		d.turn(in.At)
		if !d.bySpeed {
			d.thrust(&b.Out, b.Motors, 1)
		}
	case decode.ERPM:
		d.turn(in.At)
		if sum, _ := sumSquares(&b.ERPM, b.Motors); sum > 0 && !d.bySpeed {
			d.Reset() // speeds from now on: the two must not be joined
			d.bySpeed = true
			d.cur.slot = in.At / dipBin
		}
		if d.bySpeed {
			d.thrust(&b.ERPM, b.Motors, 1e-4)
		}
	}
}

func (d *pressureDip) thrust(v *[decode.MaxMotors]Reading, motors int, unit float64) {
	if sum, n := sumSquares(v, motors); n > 0 && n == motors {
		d.cur.thrust += sum * unit * unit
		d.cur.thrustN++
	}
}

// sumSquares sums the squares of what is measured.
func sumSquares(v *[decode.MaxMotors]Reading, motors int) (sum float64, n int) {
	for i := range motors {
		if v[i].OK {
			sum += v[i].V * v[i].V
			n++
		}
	}
	return sum, n
}

// turn ends the bin when its time is over.
func (d *pressureDip) turn(at int64) {
	slot := at / dipBin
	if slot <= d.cur.slot {
		return
	}
	if d.cur.slot >= 0 {
		d.bins[d.cur.slot%dipBins] = d.cur
		d.fresh = true
	}
	d.cur = dipBinOf{slot: slot}
}

// fit finds metres = a + b thrust + c time by least squares, with c held to be
// small: its penalty is the weight of one measured drift of nought, dipDrift.
func (d *pressureDip) fit() {
	d.sure = false
	var n, mx, my, mt float64
	low, high := math.Inf(1), math.Inf(-1)
	each := func(f func(x, y, t float64)) {
		for i := range d.bins {
			c := &d.bins[i]
			if c.slot < 0 || c.slot <= d.cur.slot-dipBins || c.metresN == 0 || c.thrustN == 0 {
				continue
			}
			f(c.thrust/float64(c.thrustN), c.metres/float64(c.metresN), float64(c.slot-d.cur.slot)*float64(dipBin)/float64(Second))
		}
	}
	each(func(x, y, t float64) {
		n, mx, my, mt = n+1, mx+x, my+y, mt+t
		low, high = min(low, x), max(high, x)
	})
	if n < dipLeast || !(high-low > 0) || high-low < dipSpan*high {
		return
	}
	mx, my, mt = mx/n, my/n, mt/n
	var xx, xt, tt, xy, ty, yy float64
	each(func(x, y, t float64) {
		x, y, t = x-mx, y-my, t-mt
		xx, xt, tt, xy, ty, yy = xx+x*x, xt+x*t, tt+t*t, xy+x*y, ty+t*y, yy+y*y
	})
	// The spread of one bin, from what is left without the penalty.
	det := xx*tt - xt*xt
	left := yy - xy*xy/xx
	if det > hair*xx*tt {
		left = yy - (xy*(xy*tt-ty*xt)+ty*(ty*xx-xy*xt))/det
	}
	spread := max(left, 0) / (n - 3)
	tt += max(spread, 1e-8) / (dipDrift * dipDrift)
	det = xx*tt - xt*xt
	if !(det > 0) {
		return
	}
	slope := (xy*tt - ty*xt) / det
	d.change = slope * (high - low)
	d.errorM = math.Sqrt(spread*tt/det) * (high - low)
	d.sure = math.Abs(d.change) > dipSure*d.errorM
}

// Judge tells of it in the journal, while the craft is held.
func (d *pressureDip) Judge(b *Bench, dst []Finding) []Finding {
	if !b.ArmedOrUnknown() || !b.Held() {
		d.up = false
		return dst
	}
	if d.fresh {
		d.fresh = false
		d.fit()
	}
	limit := b.Limits.PressureDip
	size := math.Abs(d.change)
	f := Finding{Where: Craft, Value: size, Limit: limit}
	switch {
	case d.sure && over(size, limit):
		d.up, f.Level = true, Note
	case d.up && (!d.sure || size > dipHold*limit):
	default:
		d.up = false
		return dst
	}
	return append(dst, f)
}

// Describe says which way the altitude goes.
func (d *pressureDip) Describe(_ *Bench, f Finding) Story {
	s := Story{
		Unit: "m", Cause: "rotor wash or ground effect on the barometer", Action: "cover the barometer with foam, or move it",
		Text: fmt.Sprintf("pressure altitude falls by %.1f m as thrust rises, and the craft is held", f.Value),
		More: []Fact{{"altitude_change_m", d.change}, {"error_m", d.errorM}, {"thrust_by_speed", d.bySpeed}},
	}
	if d.change > 0 {
		s.Text = fmt.Sprintf("pressure altitude climbs by %.1f m as thrust rises, and the craft is held", f.Value)
	}
	return s
}

// Missing: pressure, and what tells of thrust.
func (d *pressureDip) Missing(b *Bench) string {
	switch {
	case !b.Held():
		return "free craft: its altitude may change"
	case !b.Pascal.OK:
		return b.without(decode.Air, "no air pressure", "air lines come, but the pressure in them is empty")
	}
	if _, ok := b.MeanOut(); ok {
		return ""
	}
	if sum, n := sumSquares(&b.ERPM, b.Motors); n > 0 && n == b.Motors && sum >= 0 {
		return ""
	}
	return "no motor outputs or rotor speeds"
}
