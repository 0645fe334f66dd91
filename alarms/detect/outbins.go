package detect

import (
	"math"

	"tetherbell/decode"
)

const (
	// outKeep of binTime hold 1.9 s: a second to compare over, and what lies
	// before it.
	outKeep = 96
	// levelMean is the time over which an outBin is taken: it holds two lines of
	// the slowest stream of outputs (25 a second) and lags a rise by half of it.
	levelMean = Second / 10
)

// An outBin is what was so in one bin of time.
type outBin struct {
	slot   int64 // number of the bin, its time over binTime
	out    [decode.MaxMotors]float64
	n      [decode.MaxMotors]int
	lines  int
	lowest float64 // single output
	top    float64
	thr    float64 // collective throttle, mean
	thrN   int
	// What slower streams last said as the bin ended, NaN where unknown.
	volts, speed, lift float64
}

// outBins keeps the motors' outputs of the last two seconds in equal bins, so
// that a stream of any rate weighs the same, with what may explain them.
type outBins struct {
	bins [outKeep]outBin // by slot modulo outKeep
	cur  outBin
}

func newOutBins() outBins {
	var l outBins
	l.clear()
	return l
}

func (l *outBins) clear() {
	for i := range l.bins {
		l.bins[i].slot = -1
	}
	l.cur = outBin{slot: -1}
}

// take adds a line of outputs or axes and reports whether that ended a bin.
func (l *outBins) take(b *Bench, in *Input) bool {
	if in.S.Tag != decode.Out && in.S.Tag != decode.Axes {
		return false
	}
	ended := false
	if slot := in.At / binTime; slot > l.cur.slot {
		if l.cur.slot >= 0 && (l.cur.lines > 0 || l.cur.thrN > 0) {
			l.end(b)
			ended = true
		}
		l.cur = outBin{slot: slot, lowest: 1}
	}
	c := &l.cur
	if in.S.Tag == decode.Axes {
		if b.Thr.OK {
			c.thr += b.Thr.V
			c.thrN++
		}
		return ended
	}
	any := false
	for i := range b.Motors {
		if o := b.Out[i]; o.OK {
			any = true
			c.out[i] += o.V
			c.n[i]++
			c.lowest, c.top = min(c.lowest, o.V), max(c.top, o.V)
		}
	}
	if any {
		c.lines++
	}
	return ended
}

func (l *outBins) end(b *Bench) {
	c := &l.cur
	for i := range c.out {
		c.out[i] /= max(float64(c.n[i]), 1)
	}
	c.thr /= max(float64(c.thrN), 1)
	c.volts, c.lift = orNaN(b.Volts), orNaN(b.Load)
	c.speed = meanSpeed(b)
	l.bins[c.slot%outKeep] = *c
}

func orNaN(r Reading) float64 {
	if r.OK {
		return r.V
	}
	return math.NaN()
}

// meanSpeed is the mean electrical speed, NaN unless every motor tells it.
func meanSpeed(b *Bench) float64 {
	sum := 0.0
	for i := range b.Motors {
		sum += orNaN(b.ERPM[i])
	}
	if b.Motors == 0 {
		return math.NaN()
	}
	return sum / float64(b.Motors)
}

// bin returns the bin of a slot, nil where nothing was measured in it.
func (l *outBins) bin(slot int64) *outBin {
	if slot < 0 {
		return nil
	}
	if b := &l.bins[slot%outKeep]; b.slot == slot {
		return b
	}
	return nil
}

// A stretch is the mean of some bins.
type stretch struct {
	out    [decode.MaxMotors]float64
	has    [decode.MaxMotors]bool
	lines  int
	thr    float64
	thrOK  bool
	lowest float64
	top    float64
}

// over takes the mean of the bins from one slot to another, both included.
func (l *outBins) over(from, to int64) stretch {
	s := stretch{lowest: 1}
	var n [decode.MaxMotors]float64
	thrN := 0.0
	for slot := from; slot <= to; slot++ {
		b := l.bin(slot)
		if b == nil {
			continue
		}
		for i := range b.out {
			if b.n[i] > 0 {
				s.out[i] += b.out[i]
				n[i]++
			}
		}
		s.lines += b.lines
		if b.lines > 0 {
			s.lowest, s.top = min(s.lowest, b.lowest), max(s.top, b.top)
		}
		if b.thrN > 0 {
			s.thr += b.thr
			thrN++
		}
	}
	for i := range n {
		if s.has[i] = n[i] > 0; s.has[i] {
			s.out[i] /= n[i]
		}
	}
	if s.thrOK = thrN > 0; s.thrOK {
		s.thr /= thrN
	}
	return s
}

// mean is the mean output over the motors.
func (s *stretch) mean() (float64, bool) {
	sum, n := 0.0, 0.0
	for i, ok := range s.has {
		if ok {
			sum += s.out[i]
			n++
		}
	}
	return sum / max(n, 1), n > 0
}

// rise is how much higher the mean output is than in an earlier stretch, over
// the motors that both know: one that stops telling is no rise.
func (s *stretch) rise(before *stretch) (now, was float64, ok bool) {
	n := 0.0
	for i := range s.has {
		if s.has[i] && before.has[i] {
			now += s.out[i]
			was += before.out[i]
			n++
		}
	}
	if n == 0 {
		return 0, 0, false
	}
	return now / n, was / n, true
}

// swing is how far a motor swings against the mean of all, peak to peak, from
// one slot to another: what an oscillation of an axis does, and a slow push of
// the integrators does not.
func (l *outBins) swing(from, to int64) float64 {
	var low, high [decode.MaxMotors]float64
	for i := range low {
		low[i], high[i] = math.Inf(1), math.Inf(-1)
	}
	for slot := from; slot <= to; slot++ {
		b := l.bin(slot)
		if b == nil {
			continue
		}
		sum, n := 0.0, 0.0
		for i := range b.out {
			if b.n[i] > 0 {
				sum += b.out[i]
				n++
			}
		}
		for i := range b.out {
			if b.n[i] > 0 {
				d := b.out[i] - sum/n
				low[i], high[i] = min(low[i], d), max(high[i], d)
			}
		}
	}
	most := 0.0
	for i := range low {
		most = max(most, high[i]-low[i])
	}
	return most
}

// atBound: an output so close to the least or to full is held there by the
// mixer.
const atBound = 0.01

// clipped reports whether the mixer held some output at its bound.
func (s *stretch) clipped(b *Bench) bool {
	return s.lines > 0 && (s.lowest <= leastFlight(b)+atBound || s.top >= 1-atBound)
}
