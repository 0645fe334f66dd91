package detect

import (
	"math"

	"tetherbell/alarms/tone"
)

const (
	// nearBand: what lies within this ratio of a tone's frequency competes
	// with it. 1.7 is about an octave and a half in all.
	nearBand = 1.7
	// nearCells bounds it in a long window: what lies further off than so many
	// of its resolution cells does not touch the tone's estimate.
	nearCells = 6
	// faintRate: a tone whose rate stands fewer of its standard errors out of
	// the rate's noise, even in its strongest quarter, has a phase that is off
	// by a quarter of a radian or more: nothing to hold against it.
	faintRate = 4.0
	// worth a closer look is growth of so many standard errors.
	worth = 1.5
)

// An oscBand looks for one tone in its part of a window.
type oscBand struct {
	*oscWindow
	lo, hi float64
	now    oscTone
	chance *sequence // evidence against growth by chance
	run    evidence  // of growth
	steady evidence  // of a level over the limit
	press  evidence  // of a level near it that nothing explains
	close  bool      // the last look found it near the limit
	like   likeness  // to a rotor's line
}

// oscTone is what one look found.
type oscTone struct {
	ok         bool
	at         int64   // engine time of the window's end
	peak       float64 // amplitude of the spectrum's peak, for the gauge
	peakHz     float64
	fit        tone.Estimate
	hz         float64
	amplitude  float64 // at the window's end, undrooped
	level      float64 // at its middle
	growth     float64 // per second
	growthErr  float64
	ownErr     float64 // of growth, by the noise beside the tone alone
	share      float64 // of the power near the tone that it explains
	overBase   float64 // power over the usual power of its bin
	quarters   [4]float64
	quarterErr float64
	evidence   float64 // accumulated, of growth against chance
	doubt      float64 // amplitude that the demand may have left
	locked     float64 // steadiness of the phase between output and rate, 0..1
	faint      bool    // the rate is too noisy there to have a phase
	nearLine   bool
	limit      float64 // that it was weighed against
	next       forecast
	looked     bool // next is there
}

// drop forgets what the last looks found.
func (b *oscBand) drop() {
	b.now, b.run, b.steady, b.press = oscTone{}, evidence{}, evidence{}, evidence{}
	b.close, b.like = false, unlike
}

// find measures the strongest tone of the band, if any stands out.
func (b *oscBand) find(a *oscAxis, at int64, floor float64) {
	b.now = oscTone{at: at}
	f, amp, ok := b.spect.Peak(b.lo/b.rate, b.hi/b.rate)
	if !ok {
		return
	}
	base := b.usual(f)
	t := &b.now
	t.peakHz = f * b.rate
	lift := 1 / droop(t.peakHz, a.stream, a.grid.step)
	t.peak = amp * lift
	if t.peak < floor {
		return
	}
	t.overBase = outOfBase // while it is not known
	if base > 0 {
		t.overBase = amp * amp / base
	}
	t.fit, ok = a.fitter.Fit(b.x, f)
	if !ok {
		return
	}
	t.hz = t.fit.Frequency * b.rate
	if t.hz < 0.9*b.lo || t.hz > 1.1*b.hi {
		return
	}
	t.ok = true
	t.amplitude, t.level = t.fit.Amplitude*lift, t.fit.Middle*lift
	t.growth, t.growthErr = t.fit.Growth*b.rate, t.fit.GrowthErr*b.rate
	// The few cells beside the tone may be quiet by chance: the usual noise of
	// the bench is a second witness.
	noise, more := t.fit.Noise, 1.0
	if usual := b.usualNoise(f); usual > noise {
		noise, more = usual, usual/noise
	}
	t.ownErr = t.growthErr
	t.growthErr *= math.Sqrt(more)
	t.quarterErr = math.Sqrt(2 * noise / float64(b.n/4))
	if t.growth < worth*t.ownErr && t.amplitude < nearLimit*a.hold.limit {
		return // nothing that could ring: a steady line, most often
	}
	b.rest.Load(a.fitter.Rest(b.n))
	cells := nearCells / float64(b.n)
	lo := max(t.fit.Frequency/nearBand, t.fit.Frequency-cells)
	hi := min(t.fit.Frequency*nearBand, t.fit.Frequency+cells)
	if all := b.spect.Band(lo, hi); all > 0 {
		t.share = 1 - b.rest.Band(lo, hi)/all
	}
	b.measureParts(t)
	b.measureDemand(t, a)
}

// measureParts measures the tone in the quarters of the window, in output and
// rate, and how steady the phase between them is.
func (b *oscBand) measureParts(t *oscTone) {
	amp, _, _ := tone.At(b.y, t.fit.Frequency, 0)
	left := 0.0 // mean square of the rate without its tone
	for _, y := range b.y {
		left += y * y
	}
	left = max(left/float64(b.n)-amp*amp/2, 0)
	re, im, all, best := 0.0, 0.0, 0.0, 0.0
	for q := range t.quarters {
		from, to := q*b.n/4, (q+1)*b.n/4
		au, pu, _ := tone.At(b.x[from:to], t.fit.Frequency, t.fit.Noise)
		ay, py, err := tone.At(b.y[from:to], t.fit.Frequency, left)
		t.quarters[q] = au
		// A strong quarter knows its phase better than a weak one.
		s, c := math.Sincos(pu - py)
		re, im, all = re+au*ay*c, im+au*ay*s, all+au*ay
		if err > 0 {
			best = max(best, ay/err)
		}
	}
	if all > 0 {
		t.locked = math.Hypot(re, im) / all
	}
	t.faint = best < faintRate
}

// measureDemand bounds what the demand may have left at the tone's frequency.
func (b *oscBand) measureDemand(t *oscTone, a *oscAxis) {
	switch {
	case a.fedBack(t.at, b.seconds):
	case a.demand.known():
		t.doubt = doubtKnown * hannAt(b.r, t.fit.Frequency)
	case a.main == sigU:
		t.doubt = doubtGain * hannAt(b.d, t.fit.Frequency)
	default:
		t.doubt = hannAt(b.d, t.fit.Frequency)
	}
}

// hannAt is the amplitude of x at one frequency through a Hann window.
func hannAt(x []float64, f float64) float64 {
	w := 2 * math.Pi * f
	rc, rs := math.Cos(w), math.Sin(w)
	step := 2 * math.Pi / float64(len(x))
	pc, ps := math.Cos(step), math.Sin(step)
	co, si, hc, hs := 1.0, 0.0, 1.0, 0.0
	re, im := 0.0, 0.0
	for _, v := range x {
		h := 0.5 - 0.5*hc
		re += h * v * co
		im += h * v * si
		co, si = co*rc-si*rs, si*rc+co*rs
		hc, hs = hc*pc-hs*ps, hs*pc+hc*ps
	}
	return 4 / float64(len(x)) * math.Hypot(re, im)
}
