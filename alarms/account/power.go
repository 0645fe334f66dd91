package account

import (
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// packHole, microseconds: over a longer hole nobody knows what was drawn.
	packHole = 2_000_000
	// restAfter: the pack's voltage is at rest so long after the motors stand.
	restAfter = 1_000_000
)

// pack gathers voltage and current of the battery pack.
type pack struct {
	grid                  grid
	still                 int64 // the motors stand since, -1 they do not
	rest, least, mostAmps detect.Reading
	at                    int64 // of the last line with a current, -1 none
	volts                 float64
	voltsOK               bool
	amps                  float64
	coulombs, joules      float64
	drawn, worked         bool
	fit                   detect.Resistance
	ohm, se               float64
}

func newPack() pack { return pack{grid: newGrid(2), still: -1, at: -1} }

func (p *pack) restart() {
	p.at, p.still = -1, -1
	p.fit = detect.Resistance{}
}

func (p *pack) take(b *detect.Bench, at int64) {
	p.grid.at(at)
	v, a := &b.Volts, &b.Amps
	if v.OK {
		p.grid.add(0, v.V)
		p.voltage(b, at)
	}
	if a.OK {
		p.grid.add(1, a.V)
		most(&p.mostAmps, a.V)
		p.draw(v, a, at)
	}
	if v.OK && a.OK && detect.NoPack(b) == "" {
		p.fit.Take(v.V, a.V, at)
		if ohm, se, ok := p.fit.Ohm(); ok && (p.ohm == 0 || se*p.ohm < p.se*ohm) {
			p.ohm, p.se = ohm, se
		}
	}
}

// voltage notes what the pack gives at rest before the first run, and at least
// while the motors work.
func (p *pack) voltage(b *detect.Bench, at int64) {
	if detect.NoPack(b) != "" {
		p.still = -1
		return
	}
	works := b.Armed == detect.Yes || detect.AnyOutput(b)
	switch {
	case works:
		p.still = -1
		if !p.least.OK || b.Volts.V < p.least.V {
			p.least = b.Volts
		}
	case p.still < 0:
		p.still = at
	case at-p.still >= restAfter && !p.least.OK:
		p.rest = b.Volts
	}
}

// draw adds up charge and work by the trapezoidal rule.
func (p *pack) draw(v, a *detect.Reading, at int64) {
	if d := at - p.at; p.at >= 0 && d > 0 && d <= packHole {
		s := float64(d) / 1e6
		p.coulombs += (p.amps + a.V) / 2 * s
		p.drawn = true
		if v.OK && p.voltsOK {
			p.joules += (p.amps*p.volts + a.V*v.V) / 2 * s
			p.worked = true
		}
	}
	p.at, p.amps, p.volts, p.voltsOK = at, a.V, v.V, v.OK
}

func (p *pack) account(c *Collector, out *Pack) {
	period := c.link.period(decode.Pack)
	out.Volts, out.Amps = p.grid.curve(0, "volts", "V", period, 1), p.grid.curve(1, "amps", "A", period, 1)
	if n := c.bench.Craft.Cells; n > 0 {
		out.RestV, out.LeastV = measured(p.rest, 1/float64(n)), measured(p.least, 1/float64(n))
	}
	out.MostA = measured(p.mostAmps, 1)
	if p.drawn {
		out.UsedMAh = ptr(p.coulombs / 3.6)
	}
	if p.worked {
		out.UsedWh = ptr(p.joules / 3600)
	}
	if p.ohm > 0 {
		out.Ohm, out.OhmErr = ptr(p.ohm), ptr(p.se)
	}
}

// lift gathers the load cells.
type lift struct {
	grid grid
	most detect.Reading
}

func newLift() lift { return lift{grid: newGrid(1)} }

func (l *lift) take(b *detect.Bench, at int64) {
	if !b.Load.OK {
		return
	}
	l.grid.at(at)
	l.grid.add(0, b.Load.V)
	if b.Armed == detect.Yes {
		most(&l.most, b.Load.V)
	}
}

const (
	// airBin: heights are averaged over so long before they are called a
	// departure, microseconds.
	airBin = 500_000
	// airStart is what the height is counted from: the mean of the first second.
	airStart = 1_000_000
	// airKeep, s: the height before a run is that of the last seconds.
	airKeep = 3.0
)

// air gathers pressure altitude.
type air struct {
	grid       grid
	start      int64 // engine time of the first pressure, -1 none
	pascals, n float64
	zero       float64 // altitude of the start, once its second is over
	known      bool
	rest       float64 // height before the run
	rested     bool
	last       int64
	bin        int64
	sum, count float64
	dip        float64
	dipped     bool
}

func newAir() air { return air{grid: newGrid(1), start: -1, bin: -1} }

func (a *air) restart() { a.bin, a.count, a.sum = -1, 0, 0 }

func (a *air) take(c *Collector, at int64) {
	p := &c.bench.Pascal
	if !p.OK {
		return
	}
	if a.start < 0 {
		a.start = at
	}
	if !a.known {
		a.pascals += p.V
		a.n++
		a.zero = detect.PressureAltitude(a.pascals / a.n)
		a.known = at-a.start >= airStart
	}
	h := detect.PressureAltitude(p.V) - a.zero
	a.grid.at(at)
	a.grid.add(0, h)
	a.depart(c, h, at)
}

// depart follows how far the height goes from what it was before the thrust, of
// a craft that is held: one that flies may climb.
func (a *air) depart(c *Collector, h float64, at int64) {
	if !c.over {
		if a.count > 0 {
			a.restart()
		}
		k := 1.0
		if a.rested {
			k = -math.Expm1(-float64(max(at-a.last, 0)) / 1e6 / airKeep)
		}
		a.rest += k * (h - a.rest)
		a.rested, a.last = true, at
		return
	}
	if !a.rested || !c.bench.Held() {
		return
	}
	if slot := at / airBin; slot != a.bin {
		if a.count > 1 {
			if d := a.sum/a.count - a.rest; !a.dipped || math.Abs(d) > math.Abs(a.dip) {
				a.dip, a.dipped = d, true
			}
		}
		a.bin, a.sum, a.count = slot, 0, 0
	}
	a.sum += h
	a.count++
}

func (a *air) account(c *Collector, out *Air) {
	out.Height = a.grid.curve(0, "height_m", "m", c.link.period(decode.Air), 1)
	if a.n > 0 {
		out.Pascal = ptr(a.pascals / a.n)
	}
	if a.dipped {
		out.Dip = ptr(a.dip)
	}
}
