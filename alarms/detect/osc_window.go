package detect

import (
	"math"

	"tetherbell/alarms/tone"
)

const (
	// leastCycles a window must hold: fewer cannot tell a growing oscillation
	// from one movement.
	leastCycles = 4
	// oscLow and oscHigh bound the band that is watched, hertz. Below it lie
	// the pilot and the position loops, above it no rate loop of a craft that
	// size oscillates (common practice, no source).
	oscLow, oscHigh = 1.9, 60.0
	// leastPerCycle samples a cycle the stream must give.
	leastPerCycle = 4
	// leastReal share of a window's frames must hold samples of their own.
	leastReal = 0.7
	// nearBand: what lies within this ratio of a tone's frequency competes
	// with it. 1.7 is about an octave and a half in all.
	nearBand = 1.7
	// baseMemory is the time over which a bin's usual power is learned,
	// seconds. A tone that grows by g a second stands 1+2*g*baseMemory over a
	// base that follows it: 10 at 0.3 /s.
	baseMemory = 15.0
	// baseClip bounds what one window adds to the base, in powers of the base.
	baseClip = 4.0
	// faintRate: a tone whose rate stands fewer of its standard errors out of
	// the rate's noise, even in its strongest quarter, has a phase that is off
	// by a quarter of a radian or more: nothing to hold against it.
	faintRate = 4.0
	// baseFirst windows are averaged before the base is used or clipped.
	baseFirst = 6
)

// An oscSpec lays down one window length.
type oscSpec struct{ seconds, lo, hi float64 }

// oscSpecs are the windows that run side by side: each frequency lies in two
// of them at least, so that quick growth is seen in the short one and slow
// growth in the long one. Each holds at least leastCycles of its lowest.
var oscSpecs = [...]oscSpec{
	{0.2, 20, oscHigh}, {0.4, 10, oscHigh}, {0.8, 5, 25}, {1.6, 2.5, 12.5}, {3.2, oscLow, 6.25},
}

// oscWindow looks at the newest stretch of one level for one tone.
type oscWindow struct {
	spec    oscSpec
	level   int
	rate    float64
	n       int // frames
	hop     int // frames between looks
	looksAt int // the level's count at the last look
	x, y    []float64
	r       []float64 // what the demand explains of x
	d       []float64 // the demand
	spect   *tone.Spectrum
	rest    *tone.Spectrum
	base    []float64
	looks   int
	now     oscTone
	run     evidence // of growth
	steady  evidence // of a level over the limit
	close   bool     // the last look found it near the limit
	like    likeness // to a rotor's line
}

// oscTone is what one look found.
type oscTone struct {
	ok        bool
	at        int64   // engine time of the window's end
	peak      float64 // amplitude of the spectrum's peak, for the gauge
	peakHz    float64
	fit       tone.Estimate
	hz        float64
	amplitude float64 // at the window's end, undrooped
	level     float64 // at its middle
	growth    float64 // per second
	growthErr float64
	share     float64 // of the power near the tone that it explains
	overBase  float64 // power over the usual power of its bin
	quarters  [4]float64
	doubt     float64 // amplitude that the demand may have left
	rateAmp   float64 // amplitude of the same tone in the measured rate
	locked    float64 // steadiness of the phase between output and rate, 0..1
	faint     bool    // the rate is too noisy there to have a phase
	nearLine  bool
	limit     float64 // that it was weighed against
}

// evidence counts looks that agree.
type evidence struct {
	hits  int
	since int64
	hz    float64
	first float64 // frequency at the first
}

// hit takes one look. A tone at another frequency starts anew.
func (e *evidence) hit(at int64, hz, seconds float64) {
	if e.hits > 0 && math.Abs(hz-e.hz) > max(0.1*e.hz, 0.7/seconds) {
		*e = evidence{}
	}
	if e.hits == 0 {
		e.since, e.first = at, hz
	}
	e.hits++
	e.hz = hz
}

func newOscWindow(spec oscSpec, levels []level, stream float64) *oscWindow {
	w := &oscWindow{spec: spec}
	w.spec.hi = min(spec.hi, stream/leastPerCycle)
	if w.spec.hi <= w.spec.lo {
		return nil
	}
	for i := range levels {
		// The level must leave its half-band filter's flat part to the band.
		if i == 0 || levels[i].rate >= 5*w.spec.hi {
			w.level = i
		}
	}
	w.rate = levels[w.level].rate
	w.n = int(spec.seconds * w.rate)
	if w.n < 3*leastCycles || w.n > ringFrames {
		return nil
	}
	w.hop = max(1, int(min(spec.seconds/8, 0.1)*w.rate))
	w.x, w.y, w.r, w.d = make([]float64, w.n), make([]float64, w.n), make([]float64, w.n), make([]float64, w.n)
	w.spect, w.rest = tone.NewSpectrum(w.n), tone.NewSpectrum(w.n)
	w.base = make([]float64, w.spect.Bins())
	return w
}

// gather takes the newest frames. It reports false where they are too few or
// too full of holes.
func (w *oscWindow) gather(l *level, d *demand, main int) bool {
	if l.n < w.n {
		return false
	}
	holes := 0
	for i := range w.n {
		f := l.back(w.n - 1 - i)
		if !f.real {
			holes++
		}
		u, y := d.answer(0, f), d.answer(1, f)
		w.x[i], w.y[i], w.r[i], w.d[i] = f.v[sigU]-u, f.v[sigY]-y, u, f.v[0]
		if main == sigY {
			w.x[i], w.r[i] = w.y[i], y
		}
	}
	return float64(holes) <= (1-leastReal)*float64(w.n)
}

// look measures the strongest tone of the window, if any stands out.
func (w *oscWindow) look(a *oscAxis, at int64, floor float64) {
	w.now = oscTone{at: at}
	w.spect.Load(w.x)
	f, amp, ok := w.spect.Peak(w.spec.lo/w.rate, w.spec.hi/w.rate)
	base := 0.0
	if ok {
		base = w.usual(f)
	}
	w.learnBase()
	if !ok {
		return
	}
	t := &w.now
	t.peakHz = f * w.rate
	lift := 1 / droop(t.peakHz, a.stream, a.grid.step)
	t.peak = amp * lift
	if t.peak < floor {
		return
	}
	if base > 0 {
		t.overBase = amp * amp / base
	}
	t.fit, ok = a.fitter.Fit(w.x, f)
	if !ok {
		return
	}
	t.hz = t.fit.Frequency * w.rate
	if t.hz < 0.9*w.spec.lo || t.hz > 1.1*w.spec.hi {
		return
	}
	t.ok = true
	t.amplitude, t.level = t.fit.Amplitude*lift, t.fit.Middle*lift
	t.growth, t.growthErr = t.fit.Growth*w.rate, t.fit.GrowthErr*w.rate
	w.rest.Load(a.fitter.Rest(w.n))
	lo, hi := t.fit.Frequency/nearBand, t.fit.Frequency*nearBand
	if all := w.spect.Band(lo, hi); all > 0 {
		t.share = 1 - w.rest.Band(lo, hi)/all
	}
	w.measureParts(t, a)
	w.measureDemand(t, a)
}

// usual returns the usual power about a frequency, 0 while unknown.
func (w *oscWindow) usual(f float64) float64 {
	if w.looks < baseFirst {
		return 0
	}
	cell := w.spect.Padded() / w.n
	k := w.spect.Bin(f)
	most := 0.0
	for i := max(k-cell, 0); i <= min(k+cell, len(w.base)-1); i++ {
		most = max(most, w.base[i])
	}
	return most
}

func (w *oscWindow) learnBase() {
	w.looks++
	a := max(float64(w.hop)/w.rate/baseMemory, 1/float64(w.looks))
	for k := range w.base {
		p := w.spect.Power(k)
		if w.looks > baseFirst {
			p = min(p, baseClip*w.base[k])
		}
		w.base[k] += a * (p - w.base[k])
	}
}

// measureParts measures the tone in the quarters of the window, in output and
// rate, and how steady the phase between them is.
func (w *oscWindow) measureParts(t *oscTone, a *oscAxis) {
	t.rateAmp, _, _ = tone.At(w.y, t.fit.Frequency, 0)
	left := 0.0 // mean square of the rate without its tone
	for _, y := range w.y {
		left += y * y
	}
	left = max(left/float64(w.n)-t.rateAmp*t.rateAmp/2, 0)
	re, im, all, best := 0.0, 0.0, 0.0, 0.0
	for q := range t.quarters {
		from, to := q*w.n/4, (q+1)*w.n/4
		au, pu, _ := tone.At(w.x[from:to], t.fit.Frequency, t.fit.Noise)
		ay, py, err := tone.At(w.y[from:to], t.fit.Frequency, left)
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
	t.rateAmp /= droop(t.hz, a.stream, a.grid.step)
}

// measureDemand bounds what the demand may have left at the tone's frequency.
func (w *oscWindow) measureDemand(t *oscTone, a *oscAxis) {
	if a.demand.known() {
		t.doubt = doubtKnown * hannAt(w.r, t.fit.Frequency)
	} else if a.main == sigU {
		t.doubt = doubtGain * hannAt(w.d, t.fit.Frequency)
	} else {
		t.doubt = hannAt(w.d, t.fit.Frequency)
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
