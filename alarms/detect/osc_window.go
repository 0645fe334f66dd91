package detect

import "tetherbell/alarms/tone"

const (
	// leastCycles a window must hold: fewer cannot tell a growing oscillation
	// from one movement.
	leastCycles = 3
	// oscLow and oscHigh bound the band that is watched, hertz. Below it lie
	// the pilot and the position loops, above it no rate loop of a craft that
	// size oscillates (common practice, no source).
	oscLow, oscHigh = 1.9, 60.0
	// leastPerCycle samples a cycle the stream must give.
	leastPerCycle = 4
	// looksPerWindow: a window is looked at anew when an eighth of it is new,
	// and ten times a second at least.
	looksPerWindow = 8
	// leastReal share of a window's frames must hold samples of their own.
	leastReal = 0.7
	// baseMemory is the time over which a bin's usual power is learned,
	// seconds. A tone that grows by g a second stands 1+2*g*baseMemory over a
	// base that follows it: 10 at 0.3 /s.
	baseMemory = 15.0
	// baseClip bounds what one window adds to the base, in powers of the base.
	baseClip = 4.0
	// baseFirst windows are averaged before the base is used or clipped.
	baseFirst = 6
	// baseYoung: until then it is low by chance in some bins.
	baseYoung = 5 * looksPerWindow
)

// An oscSpec lays down one window length and the bands that are searched in it.
type oscSpec struct {
	seconds float64
	edges   []float64 // hertz, rising; a band lies between two of them
}

// oscSpecs are the windows that run side by side, a factor of root two apart:
// quick growth is seen in the short ones, slow growth in the long ones. Each
// holds at least leastCycles of its lowest frequency. The bands are an octave
// wide, so that a loud tone in one hides nothing in another.
var oscSpecs = [...]oscSpec{
	{0.14, []float64{22, oscHigh}},
	{0.2, []float64{15, 30, oscHigh}},
	{0.28, []float64{10.8, 22, 44}},
	{0.4, []float64{7.5, 15, 30, oscHigh}},
	{0.57, []float64{5.3, 10.8, 22}},
	{0.8, []float64{15, 30, oscHigh}},
	{0.8, []float64{3.8, 7.5, 15}},
	{1.13, []float64{2.7, 5.3}},
	{1.6, []float64{15, 30, oscHigh}},
	{1.6, []float64{oscLow, 3.8, 7.5, 15}},
	{2.26, []float64{oscLow, 3.8}},
	{3.2, []float64{oscLow, 3.8, 7.5, 15}},
}

// oscWindow holds the newest stretch of one level.
type oscWindow struct {
	seconds  float64
	level    int
	rate     float64
	n        int       // frames
	hop      int       // frames between looks
	looksAt  int       // the level's count at the last look
	lookedAt int64     // engine time of the last that saw enough
	x, y     []float64 // the stretch: of the level's tape, valid during a look
	r        []float64 // what the demand explains of x
	d        []float64 // the demand
	spect    *tone.Spectrum
	rest     *tone.Spectrum
	base     []float64 // usual power of each bin from first to last, which is all that is asked for
	first    int
	last     int
	looks    int
	bands    []oscBand
	fast     bool // see newFastWindow
}

func newOscWindow(spec oscSpec, levels []level, stream float64) *oscWindow {
	w := &oscWindow{seconds: spec.seconds}
	top := stream / leastPerCycle
	for i, lo := range spec.edges[:len(spec.edges)-1] {
		if hi := min(spec.edges[i+1], top); hi > lo {
			w.bands = append(w.bands, oscBand{oscWindow: w, lo: lo, hi: hi})
		}
	}
	if len(w.bands) == 0 {
		return nil
	}
	high := w.bands[len(w.bands)-1].hi
	for i := range levels {
		// The level must leave its half-band filter's flat part to the band.
		if i == 0 || levels[i].rate >= 5*high {
			w.level = i
		}
	}
	rate := levels[w.level].rate
	if n := int(spec.seconds * rate); n < 3*leastCycles || n > ringFrames {
		return nil
	}
	w.lay(rate)
	return w
}

const (
	// fastSeconds is the length of the fast window, fastTop its band's upper
	// end over the stream's pace: a little under half of it, where the grid
	// leaves nothing.
	fastSeconds = 0.8
	fastTop     = 0.45
)

// newFastWindow is one for what a slow stream is too slow to watch: from four
// lines a cycle to nearly two, where what folds lies too. Growth cannot be
// judged there, but what swings over the limit must not pass for calm: this
// window sees the level alone. It is nil where the stream shows the whole band.
func newFastWindow(levels []level, stream float64) *oscWindow {
	lo := stream / leastPerCycle
	if lo >= wholeBand {
		return nil
	}
	w := &oscWindow{seconds: fastSeconds, fast: true}
	w.bands = []oscBand{{oscWindow: w, lo: lo, hi: fastTop * stream}}
	w.lay(levels[0].rate)
	return w
}

// lay makes the room of a window at a rate.
func (w *oscWindow) lay(rate float64) {
	w.rate = rate
	w.n = int(w.seconds * w.rate)
	w.hop = max(1, int(min(w.seconds/looksPerWindow, 0.1)*w.rate))
	for i := range w.bands {
		w.bands[i].chance = newSequence(w.seconds, w.n, w.hop)
	}
	w.spect, w.rest = tone.NewSpectrum(w.n), tone.NewSpectrum(w.n)
	w.base = make([]float64, w.spect.Bins())
	w.first, w.last = w.spect.Only(w.reach())
	w.rest.Only(w.reach())
}

// reach are the frequencies, in cycles a frame, that looks at the window's bands
// ask for: find takes tones a tenth beyond a band and what competes with them,
// and usualNoise the two cells beside a peak.
func (w *oscWindow) reach() (lo, hi float64) {
	cell := 1 / float64(w.n)
	lo, hi = 0.9*w.bands[0].lo/w.rate, 1.1*w.bands[len(w.bands)-1].hi/w.rate
	lo = max(min(max(lo/nearBand, lo-nearCells*cell), lo/0.9-3*cell)-cell, 0)
	hi = max(min(hi*nearBand, hi+nearCells*cell), hi/1.1+3*cell) + cell
	return lo, min(hi, 0.5)
}

// forget drops what a window knows, its usual power too.
func (w *oscWindow) forget() {
	clear(w.base)
	w.looks, w.looksAt = 0, 0 // the level counts from nothing again
	w.pass()
	for i := range w.bands {
		w.bands[i].chance.clear()
	}
}

// pass drops what the last look found.
func (w *oscWindow) pass() {
	for i := range w.bands {
		w.bands[i].drop()
	}
}

// gather takes the newest frames, where they lie. It reports false where they
// are too few or too full of holes. Where the demand is fed back, it explains
// nothing.
func (w *oscWindow) gather(l *level, theta *[2][basis]float64, main int, fedBack bool) bool {
	if l.n < w.n {
		return false
	}
	l.answer(theta)
	u, y := l.left[0], l.left[1]
	if fedBack {
		u, y = l.v[sigU], l.v[sigY]
	}
	r := l.answered[0]
	if main == sigY {
		u, r = y, l.answered[1]
	}
	w.x, w.y, w.r, w.d = l.newest(u, w.n), l.newest(y, w.n), l.newest(r, w.n), l.newest(l.v[0], w.n)
	holes := l.holes[l.end] - l.holes[l.end-w.n]
	return float64(holes) <= (1-leastReal)*float64(w.n)
}

// look measures the strongest tone of each band.
func (w *oscWindow) look(a *oscAxis, at int64, floor float64) {
	w.spect.Load(w.x)
	for i := range w.bands {
		w.bands[i].find(a, at, floor)
	}
	w.learnBase()
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

// usualNoise is the mean square of a white noise that would give the usual
// power about a frequency: in a Hann-weighted bin it stands for 6 s^2/n.
func (w *oscWindow) usualNoise(f float64) float64 {
	if w.looks < baseFirst {
		return 0
	}
	cell := w.spect.Padded() / w.n
	k := w.spect.Bin(f)
	sum, count := 0.0, 0
	for i := max(k-2*cell, 0); i <= min(k+2*cell, len(w.base)-1); i++ {
		sum, count = sum+w.base[i], count+1
	}
	return sum / float64(count) * float64(w.n) / 6
}

// learnBase brings the usual power up to date. It falls as fast as the looks
// teach it and rises slowly, by a fifth a second at most, whatever comes: a
// craft that is armed with gains too high grows from its first second on, and
// its own history must not pass for what is usual.
func (w *oscWindow) learnBase() {
	w.looks++
	slow := float64(w.hop) / w.rate / baseMemory
	mean := max(slow, 1/float64(w.looks))
	base := w.base[w.first : w.last+1]
	power := w.spect.Powers()[w.first : w.last+1]
	if w.looks <= baseFirst {
		for k, p := range power {
			base[k] += mean * (p - base[k])
		}
		return
	}
	for k, p := range power {
		b := base[k]
		by := slow
		if p < b {
			by = mean
		}
		base[k] = b + by*(min(p, baseClip*b)-b)
	}
}

// young reports whether the usual power rests on few looks yet.
func (w *oscWindow) young() bool { return w.looks < baseYoung }
