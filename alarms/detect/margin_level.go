package detect

import (
	"math"

	"tetherbell/alarms/tone"
)

const (
	// marginLow and marginHigh bound the frequencies that are watched, hertz:
	// those of the rate loops (see oscLow).
	marginLow, marginHigh = 2.0, 60.0
	// marginCycles of a ringing are looked at, in shortest to longest seconds.
	// With a damping ratio z they hold 2 pi z marginCycles times its memory: 60
	// at 0.02, which tells z to about an eighth.
	marginCycles                  = 500.0
	marginShortest, marginLongest = 10.0, 30.0
	// marginYoung: of them, so many cycles and seconds are enough for a first
	// word; the doubt is then larger by itself.
	marginYoungCycles, marginYoung = 60.0, 8.0
	// bandFoot and bandTop, of a level's rate, bound the frequencies that are
	// looked for in it: the half-band filters leave those alone.
	bandFoot, bandTop = 0.125, 0.25
	marginFrames      = 4096 // of a level's ring: marginCycles at its foot
	segmentFrames     = 192  // of the spectrum that candidates come from: 24 to 48 cycles
	// envelopeCycles is the length of the Hann window that the envelope is cut
	// with, in cycles of its carrier, and envelopeHop the step in windows. At 0.7
	// the floor's envelope has a correlation of 0.018 from step to step: as good
	// as white. The step is half a cycle's rate: a quarter of the carrier is seen
	// on each side.
	envelopeCycles = 2.86
	envelopeHop    = 0.7
	mostEnvelope   = 420
	leastEnvelope  = 30
	// leastPeak is how far a candidate must stand over its neighbourhood.
	leastPeak = 2.5
)

// A marginFrame is one instant of a level.
type marginFrame struct {
	u, y, d float32
	real    bool
}

// A marginLevel is one rate of an axis' pyramid: an octave of frequencies is
// looked at in it.
type marginLevel struct {
	rate   float64
	lo, hi float64 // hertz that are looked at
	ring   []marginFrame
	n      int
	down   half
	cut    *tone.Spectrum
	buf    []float64
	power  []float64 // mean of the segments'
	cuts   int
	now    marginTone
}

func newMarginLevel(rate, stream float64) *marginLevel {
	l := &marginLevel{
		rate: rate, lo: max(bandFoot*rate, marginLow), hi: min(bandTop*rate, marginHigh, stream/leastPerCycle),
		ring: make([]marginFrame, marginFrames), cut: tone.NewSpectrum(segmentFrames),
		buf: make([]float64, segmentFrames),
	}
	l.power = make([]float64, l.cut.Bins())
	return l
}

func (l *marginLevel) clear() {
	l.n, l.cuts = 0, 0
	l.down.clear()
	l.now = marginTone{}
}

// ringWindow is how many seconds of a frequency are looked at.
func ringWindow(hz float64) float64 {
	return min(max(marginCycles/hz, marginShortest), marginLongest)
}

// push takes a frame, and a new segment of the spectrum where one is whole.
func (l *marginLevel) push(f *frame, main int) {
	l.ring[l.n%marginFrames] = marginFrame{float32(f.v[sigU]), float32(f.v[sigY]), float32(f.v[0]), f.real}
	l.n++
	if l.n < segmentFrames+2 || l.n%(segmentFrames/2) != 0 || l.lo >= l.hi {
		return
	}
	for i := range l.buf {
		l.buf[i] = l.slope(segmentFrames-i, main)
	}
	l.cut.Load(l.buf)
	l.cuts++
	most := ringWindow(1.4*bandFoot*l.rate) * l.rate / (segmentFrames / 2)
	part := 1 / min(float64(l.cuts), most)
	for k := range l.power {
		l.power[k] += part * (l.cut.Power(k) - l.power[k])
	}
}

// slope is the difference of two frames, a frame ago and ahead: what is slow
// and strong stays away from the envelope's window.
func (l *marginLevel) slope(back, main int) float64 {
	a, b := l.at(back-1), l.at(back+1)
	if main == sigY {
		return float64(a.y - b.y)
	}
	return float64(a.u - b.u)
}

// at returns the frame that lies i before the newest.
func (l *marginLevel) at(i int) *marginFrame { return &l.ring[(l.n-1-i)%marginFrames] }

// candidate is the frequency that stands furthest over its neighbourhood.
func (l *marginLevel) candidate() (hz, over float64) {
	if l.cuts == 0 {
		return 0, 0
	}
	bin := l.rate / float64(l.cut.Padded())
	best := 0
	for k := max(int(l.lo/bin), 2); k <= min(int(l.hi/bin)+1, len(l.power)-2); k++ {
		p := l.power[k]
		if p < l.power[k-1] || p < l.power[k+1] {
			continue
		}
		f := float64(k)
		around, n := 0.0, 0.0
		for _, side := range [2][2]float64{{0.72, 0.86}, {1.14, 1.28}} {
			for j := int(side[0] * f); j <= min(int(side[1]*f), len(l.power)-1); j++ {
				around, n = around+l.power[j], n+1
			}
		}
		if around > 0 && p*n/around > over {
			best, over = k, p*n/around
		}
	}
	return float64(best) * bin, over
}

// An envelope's company: what else is known of the window that it was cut from.
type company struct {
	uu, yy, dd float64 // mean squares of the envelopes
	ud         complex128
	seconds    float64
}

// envelope cuts the complex envelope about a frequency out of the newest
// frames. A sinusoid of amplitude A there has an envelope of A.
func (l *marginLevel) envelope(r *ringFit, hz float64, main int) (c company, ok bool) {
	long := int(math.Round(envelopeCycles * l.rate / hz))
	hop := int(math.Round(envelopeHop * float64(long)))
	have := min(l.n, marginFrames) - 2
	if float64(have) < max(marginYoungCycles/hz, marginYoung)*l.rate {
		return c, false
	}
	have = min(have, int(ringWindow(hz)*l.rate))
	r.n = min((have-long)/hop, mostEnvelope)
	r.dt = float64(hop) / l.rate
	w := 2 * math.Pi * hz / l.rate
	var tapRe, tapIm [64]float64
	long = min(long, len(tapRe))
	scale := 4 / float64(long) / (2 * math.Sin(w))
	for j := range long {
		h := scale * (0.5 - 0.5*math.Cos(2*math.Pi*(float64(j)+0.5)/float64(long)))
		s, co := math.Sincos(w * float64(j))
		tapRe[j], tapIm[j] = h*co, -h*s
	}
	ts, tc := math.Sincos(w * float64(hop))
	turn, step := complex(1, 0), complex(tc, -ts)
	for i := range r.n {
		first := (r.n-1-i)*hop + long // frames back of the window's first
		var u, y, d complex128
		holes := 0
		for j := range long {
			at := first - j
			a, b := l.at(at-1), l.at(at+1)
			if !a.real {
				holes++
			}
			tap := complex(tapRe[j], tapIm[j])
			u += complex(float64(a.u-b.u), 0) * tap
			y += complex(float64(a.y-b.y), 0) * tap
			d += complex(float64(a.d-b.d), 0) * tap
		}
		u, y, d = u*turn, y*turn, d*turn
		turn *= step
		if main == sigY {
			u = y
		}
		r.z[i], r.real[i] = u, holes*4 <= long
		c.uu += sq(u)
		c.yy += sq(y)
		c.dd += sq(d)
		c.ud += u * complex(real(d), -imag(d))
	}
	n := float64(r.n)
	c.uu, c.yy, c.dd, c.ud = c.uu/n, c.yy/n, c.dd/n, c.ud/complex(n, 0)
	c.seconds = n * r.dt
	return c, r.begin()
}

func sq(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }
