package account

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"tetherbell/alarms/tone"
)

const (
	// stretchSeconds is about how long the stretches of Welch's method are: lines
	// half a hertz apart can be told apart, and one of 2 Hz has four periods.
	stretchSeconds = 2.0
	// slowest stream, lines a second, that is worth a spectrum.
	slowest = 10
	// longHole, microseconds: a stretch with a longer hole is dropped.
	longHole = 100_000
	// otherRate: a stretch whose stream goes faster or slower by more than this
	// share is left out.
	otherRate = 0.02
	// present: so many of a stretch's lines must be there; a slower stream has
	// fewer, too.
	present = 0.85
	// follows is how quickly the even grid follows the lines, a share of the error
	// each line: slow enough that a line that comes late does not shift it.
	follows = 0.1
	// maxBins is how many bins a spectrum is handed out with.
	maxBins = 600
)

// A welch averages the power spectral densities of one kind of line over
// stretches that overlap by half, under a Hann window (P. D. Welch, IEEE Trans.
// Audio Electroacoustics AU-15, 1967, 70-73). Lines jitter and get lost: each
// stretch has an even grid of its own, laid through the times of its lines by
// least squares, and the values are taken there by straight lines between
// neighbours. A grid that fits the stream so lies nearly on the lines
// themselves, and loses little of the upper band.
type welch struct {
	channels int
	n        int     // of a stretch
	period   float64 // microseconds, 0 before the first stretch

	at    []int64
	slot  []int
	v     [3][]float64
	count int
	phase float64 // where the newest slot lies by the grid, microseconds after at[0]

	fft    *fourier.FFT
	win    []float64
	square float64 // sum of the window's squares
	even   []float64
	bins   []complex128
	power  []float64    // of the stretch
	sum    [3][]float64 // of all
	spans  int
	loud   [3]ranked // the strongest line so far
	apart  [3]ranked // and the strongest beside the rotors' lines
	half   turning   // how the rotors turned since the last half of a stretch began
	before turning   // and in the one before it
}

// A ranked is the strongest line so far, by what of its amplitude is narrow.
type ranked struct {
	Tone
	rank float64
}

// lengthFor is the length of a stretch that is quick to transform and nearest to
// stretchSeconds.
func lengthFor(rate float64) int {
	best, want := 0, stretchSeconds*rate
	for _, odd := range [...]int{1, 3, 5} {
		for m := 4 * odd; m < 1<<20; m *= 2 {
			if math.Abs(math.Log(float64(m)/want)) < math.Abs(math.Log(float64(max(best, 1))/want)) {
				best = m
			}
		}
	}
	return best
}

// begin makes room for stretches of n lines of a period.
func (w *welch) begin(n int, period float64) {
	w.n, w.period = n, period
	room := n + n/2 + 16
	w.at, w.slot = make([]int64, room), make([]int, room)
	w.fft, w.win = fourier.NewFFT(n), tone.Hann(n)
	w.square = 0
	for _, h := range w.win {
		w.square += h * h
	}
	w.even, w.bins, w.power = make([]float64, n), make([]complex128, n/2+1), make([]float64, n/2+1)
	for c := range w.channels {
		w.v[c], w.sum[c] = make([]float64, room), make([]float64, n/2+1)
	}
	w.count = 0
}

// drop forgets the stretch under way.
func (w *welch) drop() {
	w.count = 0
	w.half, w.before = turning{}, turning{}
}

// take adds one line; rate is the stream's pace now, 0 not known.
func (w *welch) take(at int64, v *[3]float64, rate float64) {
	if w.n == 0 {
		if rate < slowest {
			return
		}
		w.begin(lengthFor(rate), 1e6/rate)
	}
	slot := 0
	if i := w.count - 1; i >= 0 {
		d := at - w.at[i]
		switch {
		case d <= 0:
			return
		case d > longHole || w.count == len(w.at):
			w.count = 0
		default:
			off := float64(at-w.at[0]) - w.phase
			ahead := max(math.Round(off/w.period), 1)
			slot = w.slot[i] + int(ahead)
			w.phase += ahead*w.period + follows*(off-ahead*w.period)
		}
	}
	if w.count == 0 {
		w.phase, slot = 0, 0
	}
	w.at[w.count], w.slot[w.count] = at, slot
	for c := range w.channels {
		w.v[c][w.count] = v[c]
	}
	w.count++
	if slot >= w.n-1 {
		w.stretch()
		w.shift()
	}
}

// shift keeps the later half for the next stretch.
func (w *welch) shift() {
	from := 0
	for from < w.count && w.slot[from] < w.n/2 {
		from++
	}
	if from == w.count {
		w.count = 0
		return
	}
	w.before, w.half = w.half, turning{}
	moved, first := float64(w.at[from]-w.at[0]), w.slot[from]
	w.phase -= moved
	w.count = copy(w.at, w.at[from:w.count])
	copy(w.slot, w.slot[from:])
	for c := range w.channels {
		copy(w.v[c], w.v[c][from:])
	}
	for i := range w.count {
		w.slot[i] -= first
	}
}

// lay finds the even grid, at = start + step * slot, by least squares.
func (w *welch) lay() (start, step float64) {
	n := float64(w.count)
	var mk, mt float64
	for i := range w.count {
		mk += float64(w.slot[i]) / n
		mt += float64(w.at[i]-w.at[0]) / n
	}
	var kk, kt float64
	for i := range w.count {
		k := float64(w.slot[i]) - mk
		kk += k * k
		kt += k * (float64(w.at[i]-w.at[0]) - mt)
	}
	if kk == 0 {
		return 0, w.period
	}
	step = kt / kk
	return mt - step*mk, step
}

// stretch takes the spectrum of a whole stretch.
func (w *welch) stretch() {
	start, step := w.lay()
	if w.spans == 0 && w.count >= w.n*3/4 {
		w.period = step // the pace as one whole stretch shows it
	}
	if math.Abs(step/w.period-1) > otherRate || float64(w.count) < present*float64(w.n) {
		return
	}
	w.spans++
	rotors := w.half
	rotors.join(&w.before)
	for c := range w.channels {
		w.resample(w.v[c], start, step)
		w.density(1e6 / w.period)
		for k, p := range w.power {
			w.sum[c][k] += p
		}
		w.loudest(c, rotors, seconds(w.at[0]+int64(start+step*float64(w.n)/2)))
	}
}

// resample puts a channel on the even grid.
func (w *welch) resample(v []float64, start, step float64) {
	i := 0
	for j := range w.even {
		t := start + step*float64(j)
		for i < w.count-2 && float64(w.at[i+1]-w.at[0]) <= t {
			i++
		}
		t0, t1 := float64(w.at[i]-w.at[0]), float64(w.at[i+1]-w.at[0])
		d := min(max((t-t0)/(t1-t0), 0), 1)
		w.even[j] = v[i] + d*(v[i+1]-v[i])
	}
}

// density works out the one-sided power spectral density of the even samples,
// less their mean.
func (w *welch) density(rate float64) {
	mean := 0.0
	for _, v := range w.even {
		mean += v
	}
	mean /= float64(w.n)
	for i, h := range w.win {
		w.even[i] = (w.even[i] - mean) * h
	}
	w.fft.Coefficients(w.bins, w.even)
	scale := 2 / (rate * w.square)
	for k, x := range w.bins {
		w.power[k] = (real(x)*real(x) + imag(x)*imag(x)) * scale
	}
	w.power[0] /= 2
	if w.n%2 == 0 {
		w.power[w.n/2] /= 2
	}
}

func (w *welch) binHz() float64 { return 1e6 / w.period / float64(w.n) }

const (
	// The band of oscillations: that of rising-oscillation.
	toneLow, toneHigh = 1.9, 60.0
	// edge of the band as a share of the stream's rate: nearer to half of it a
	// line cannot be told from its fold.
	toneEdge = 0.45
	// lobe: a Hann window spreads a line over two bins to each side.
	lobe = 2
	// around: what a line is compared with is an octave, and at least so many bins
	// to each side.
	around = 5
)

// loudest keeps the strongest lines of all stretches.
func (w *welch) loudest(c int, rotors turning, at float64) {
	hz := w.binHz()
	from := max(int(math.Ceil(toneLow/hz)), lobe+1)
	to := int(min(toneHigh, toneEdge*1e6/w.period) / hz)
	to = min(to, len(w.power)-lobe-1)
	for k := from; k <= to; k++ {
		p := w.power[k]
		if p <= 0 || p < w.power[k-1] || p < w.power[k+1] {
			continue
		}
		line := 0.0
		for j := k - lobe; j <= k+lobe; j++ {
			line += w.power[j]
		}
		amplitude := math.Sqrt(2 * line * hz)
		if amplitude <= w.apart[c].rank {
			continue
		}
		all := 0.0
		lo := max(min(int(float64(k)/math.Sqrt2), k-around), 1)
		hi := min(max(int(float64(k)*math.Sqrt2), k+around), len(w.power)-1)
		for j := lo; j <= hi; j++ {
			all += w.power[j]
		}
		share := min(line/all, 1)
		t := ranked{rank: amplitude * share, Tone: Tone{Hz: (float64(k) + w.middle(k)) * hz, Amplitude: amplitude, Share: share, At: at}}
		if t.rank <= w.apart[c].rank {
			continue
		}
		if t.Rotor = rotors.lineAt(t.Hz, binSlack*hz, 1e6/w.period/2); t.Rotor == "" {
			w.apart[c] = t
		}
		if t.rank > w.loud[c].rank {
			w.loud[c] = t
		}
	}
}

// middle is how far a line lies beside its highest bin: of a Hann window the
// ratio of the two highest magnitudes tells (Grandke's interpolation; T. Grandke,
// IEEE Trans. Instrumentation and Measurement IM-32, 1983, 350-355; from memory).
func (w *welch) middle(k int) float64 {
	m, l, r := math.Sqrt(w.power[k]), math.Sqrt(w.power[k-1]), math.Sqrt(w.power[k+1])
	if r >= l {
		a := r / m
		return min(max((2*a-1)/(a+1), -0.5), 0.5)
	}
	a := l / m
	return -min(max((2*a-1)/(a+1), -0.5), 0.5)
}

// spectrum hands out the mean of one channel, or the sum of all for c < 0; nil
// without one whole stretch.
func (w *welch) spectrum(c int, name, unit string) *Spectrum {
	if w.spans == 0 {
		return nil
	}
	all := make([]float64, w.n/2+1)
	for ch := range w.channels {
		if c >= 0 && ch != c {
			continue
		}
		for k, p := range w.sum[ch] {
			all[k] += p / float64(w.spans)
		}
	}
	width := 1
	for len(all) > maxBins*width {
		width *= 2
	}
	all = widen(all, width)
	s := &Spectrum{
		Name: name, Unit: unit, Spans: w.spans, BinHz: w.binHz() * float64(width), TopHz: 1e6 / w.period / 2,
		Root: make([]float32, len(all)), Orders: []RotorLine{},
	}
	for k, p := range all {
		s.Root[k] = float32(math.Sqrt(p))
	}
	return s
}

// widen makes bins of width times their width, each about its own middle: what
// lies on the border of two goes half to each.
func widen(p []float64, width int) []float64 {
	if width == 1 {
		return p
	}
	out := make([]float64, (len(p)-1)/width+1)
	for k := range out {
		sum, weights := 0.0, 0.0
		for j := -width / 2; j <= width/2; j++ {
			i := k*width + j
			if i < 0 || i >= len(p) {
				continue
			}
			weight := 1.0
			if j == -width/2 || j == width/2 {
				weight = 0.5
			}
			sum += weight * p[i]
			weights += weight
		}
		out[k] = sum / weights
	}
	return out
}
