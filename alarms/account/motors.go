package account

import (
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// speedHole, microseconds: over a longer hole nobody knows how the rotors turned.
	speedHole = 1_000_000
	// lookEvery: the scale is asked so often, microseconds.
	lookEvery = 50_000
	// riseSpan is the time over which a temperature's rise is taken: that of
	// motor-heat.
	riseSpan = 2_000_000
	// riseLeast lines, and this share of the span, must be there.
	riseLeast, riseWhole = 3, 0.8
	riseRoom             = 64
	// speedBins of one turn a second each hold how often a shaft speed was seen.
	speedBins = 1500
	// tail is the share of the time left out at each end of a rotor line: what
	// stays is the middle 90 % (common practice, no source).
	tail = 0.05
)

// motors gathers what the motors do.
type motors struct {
	outs, rpms, temps grid
	most              [decode.MaxMotors]detect.Reading // output
	fastest           [decode.MaxMotors]detect.Reading // electrical speed

	scale  *detect.Scale
	next   int64 // look at the scale
	shares [decode.MaxMotors]batches
	twist  batches
	last   int64 // end of the last steady second
	output float64
	weighs int

	idle, work pace  // armed with the rotors turning: at idle, and over it
	erpmAt     int64 // of the last line of speeds

	heat  [decode.MaxMotors]heat
	times [riseRoom]int64
	lines int
}

type heat struct {
	start, peak detect.Reading
	rise        detect.Reading // fastest, deg C a second
	v           [riseRoom]float64
}

func newMotors() motors {
	return motors{outs: newGrid(decode.MaxMotors), rpms: newGrid(decode.MaxMotors), temps: newGrid(decode.MaxMotors), scale: detect.NewScale()}
}

func (m *motors) restart() {
	m.scale.Reset()
	m.lines = 0
}

// observe hands a line to the scale, and keeps the steady second that it ends.
func (m *motors) observe(c *Collector, s *decode.Sample, at int64) {
	in := detect.Input{S: s, At: at}
	m.scale.Observe(c.bench, &in)
	if c.bench.Now < m.next {
		return
	}
	m.next = c.bench.Now + lookEvery
	h, ok := m.scale.Look(c.bench, c.found)
	if !ok {
		return
	}
	joined := m.weighs > 0 && h.At-m.last < 3*detect.Second/2
	m.last = h.At
	m.weighs++
	m.output += (h.Output - m.output) / float64(m.weighs)
	n := min(c.bench.Motors, decode.MaxMotors)
	for i := range n {
		m.shares[i].add(h.Shares[i], joined)
	}
	if t, ok := detect.Twist(&c.bench.Craft, h.Shares[:n]); ok {
		m.twist.add(t, joined)
	}
}

func most(to *detect.Reading, v float64) {
	if !to.OK || v > to.V {
		*to = detect.Reading{V: v, OK: true}
	}
}

func (m *motors) out(c *Collector, at int64) {
	m.outs.at(at)
	for i := range c.bench.Motors {
		if r := &c.bench.Out[i]; r.OK {
			m.outs.add(i, r.V)
			most(&m.most[i], r.V)
		}
	}
}

func (m *motors) erpm(c *Collector, at int64) {
	m.rpms.at(at)
	lasted := max(0, min(at-m.erpmAt, speedHole))
	if m.erpmAt == 0 {
		lasted = 0
	}
	m.erpmAt = at
	p := &m.idle
	if c.over {
		p = &m.work
	}
	for i := range c.bench.Motors {
		r := &c.bench.ERPM[i]
		if !r.OK {
			continue
		}
		m.rpms.add(i, r.V)
		most(&m.fastest[i], r.V)
		if c.turns && r.V > 0 {
			p.add(r.V/60, uint64(lasted))
		}
	}
}

// A pace is how long which speeds were turned with, microseconds of all motors
// together, by electrical turns a second over speedStep.
type pace struct {
	lasted [speedBins]uint64
	sum    uint64
}

func (p *pace) add(perSecond float64, lasted uint64) {
	p.lasted[min(int(perSecond/speedStep), speedBins-1)] += lasted
	p.sum += lasted
}

// speedStep is the width of a bin of speeds, electrical turns a second: a shaft
// of 14 poles turns once while these turn 7 times, so that a bin is about one
// turn a second wide.
const speedStep = 8

// temp follows the temperatures: where they began, how high they came, how fast.
func (m *motors) temp(c *Collector, at int64) {
	m.temps.at(at)
	place := m.lines % riseRoom
	m.times[place] = at
	m.lines++
	for i := range c.bench.Motors {
		r, h := &c.bench.Temp[i], &m.heat[i]
		h.v[place] = math.NaN()
		if !r.OK {
			continue
		}
		h.v[place] = r.V
		m.temps.add(i, r.V)
		if !h.start.OK {
			h.start = *r
		}
		most(&h.peak, r.V)
		if c.bench.Armed == detect.Yes {
			if v, ok := m.slope(i); ok {
				most(&h.rise, v)
			}
		}
	}
}

// slope is the rise of a temperature over the last two seconds, by least
// squares.
func (m *motors) slope(i int) (perSecond float64, ok bool) {
	newest := m.times[(m.lines-1)%riseRoom]
	var n, st, sv, stt, stv, span float64
	for k := m.lines - 1; k >= max(m.lines-riseRoom, 0); k-- {
		t, v := newest-m.times[k%riseRoom], m.heat[i].v[k%riseRoom]
		if t > riseSpan {
			break
		}
		if math.IsNaN(v) {
			continue
		}
		x := -float64(t) / 1e6
		n, st, sv, stt, stv, span = n+1, st+x, sv+v, stt+x*x, stv+x*v, float64(t)
	}
	d := n*stt - st*st
	if n < riseLeast || span < riseWhole*riseSpan || d <= 0 {
		return 0, false
	}
	return (n*stv - st*sv) / d, true
}

// account writes the motors and where the weight lies.
func (m *motors) account(c *Collector, out *Account) {
	out.Motors = []Motor{}
	unit, factor := "rev/min, electrical", 1.0
	if p := c.bench.Craft.Poles; p >= 2 {
		unit, factor = "rev/min", 2/float64(p)
	}
	for i := range c.bench.Motors {
		n := string(rune('1' + i))
		x := Motor{
			Number: i + 1,
			Output: m.outs.curve(i, "out_"+n, "1", c.link.period(decode.Out), 1),
			RPM:    m.rpms.curve(i, "rpm_"+n, unit, c.link.period(decode.ERPM), factor),
			Temp:   m.temps.curve(i, "temp_"+n, "deg C", c.link.period(decode.Temp), 1),
		}
		x.OutputPeak, x.RPMPeak = measured(m.most[i], 1), measured(m.fastest[i], factor)
		h := &m.heat[i]
		x.TempStart, x.TempPeak, x.TempRise = measured(h.start, 1), measured(h.peak, 1), measured(h.rise, 1)
		if b := &m.shares[i]; b.n > 0 {
			x.Share = ptr(b.mean)
			if se, ok := b.se(); ok {
				x.ShareErr = ptr(se)
			}
		}
		out.Motors = append(out.Motors, x)
	}
	m.balance(c, &out.Balance)
}

func measured(r detect.Reading, factor float64) *float64 {
	if !r.OK {
		return nil
	}
	return ptr(r.V * factor)
}

// speedRange is the range of shaft speeds, turns a second, that all but the tails
// of a time had.
func (p *pace) speedRange(poles int) (low, high float64, ok bool) {
	if p.sum == 0 || poles < 2 {
		return 0, 0, false
	}
	cut := uint64(tail * float64(p.sum))
	at := func(from, step int) float64 {
		seen := uint64(0)
		for k := from; k >= 0 && k < speedBins; k += step {
			if seen += p.lasted[k]; seen > cut {
				return float64(k)
			}
		}
		return 0
	}
	per := speedStep * 2 / float64(poles)
	return at(0, 1) * per, (at(speedBins-1, -1) + 1) * per, true
}
