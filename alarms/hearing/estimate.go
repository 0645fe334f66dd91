package hearing

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"

	"tetherbell/alarms/tone"
)

// What the estimator must hold: the variance of frequency and growth under so
// many bounds, their bias under so many standard errors, and the share of
// truths within 1.96 stated errors within coverWithin of coverAim.
const (
	mostRatio   = 2.0
	mostBias    = 1.0 / 3
	coverAim    = 0.95
	coverWithin = 0.03
)

// estimateSamples is the length of the windows drawn here.
const estimateSamples = 128

// estimatePole is the pole of the coloured noise, a first-order low pass.
const estimatePole = 0.8

// The axes of the table, each with each.
var (
	estimateSNRs    = [...]float64{10, 20, 30, 40}
	estimateCycles  = [...]float64{3.3, 8.4, 20.7}
	estimateGrowths = [...]float64{-1, 0, 1, 2.5}
)

// Estimated is how the estimator of growing sinusoids did on windows of one
// kind. Runs that found no sinusoid are in Failed and in none of the figures.
type Estimated struct {
	SNR                  float64 // dB: A^2/(2 s^2), A at the window's middle
	Cycles, GrowthWindow float64 // cycles in the window; growth times the window's length
	Runs, Failed         int
	// Mean square error over the Cramer-Rao bound of the same window: bias
	// counts against it. 0 where no bound is held against it.
	FrequencyRatio, GrowthRatio float64
	FrequencyBias, GrowthBias   float64 // mean error, in standard deviations of the estimate
	// Shares of truths within 1.96 of the stated standard errors. Amplitude is
	// that at the window's last sample.
	FrequencyCover, GrowthCover, AmplitudeCover float64
}

// met reports whether a row holds the targets.
func (e *Estimated) met() bool {
	ok := e.Failed < e.Runs && max(e.FrequencyRatio, e.GrowthRatio) < mostRatio &&
		max(math.Abs(e.FrequencyBias), math.Abs(e.GrowthBias)) < mostBias
	for _, c := range [...]float64{e.FrequencyCover, e.GrowthCover, e.AmplitudeCover} {
		ok = ok && math.Abs(c-coverAim) <= coverWithin
	}
	return ok
}

// Estimates measures the estimator in white noise, the given number of runs a
// row, and holds it against the bound.
func Estimates(runs int, seed uint64) []Estimated { return estimates(runs, seed, 0) }

// ColouredEstimates measures it in noise that falls with frequency as the
// background of a bench does. SNR is told in the white noise that has the same
// density at the tone. No bound is held against it: the estimator takes the
// noise as white near its tone, so what counts is that its stated errors hold.
func ColouredEstimates(runs int, seed uint64) []Estimated {
	return estimates(runs, seed, estimatePole)
}

func estimates(runs int, seed uint64, pole float64) []Estimated {
	w := newEstimateWork(pole)
	var rows []Estimated
	for _, snr := range estimateSNRs {
		for _, cycles := range estimateCycles {
			for _, growth := range estimateGrowths {
				rng := rand.New(rand.NewPCG(seed, uint64(len(rows))))
				rows = append(rows, w.row(rng, Estimated{SNR: snr, Cycles: cycles, GrowthWindow: growth, Runs: runs}))
			}
		}
	}
	return rows
}

// estimateWork holds what a row needs, made once.
type estimateWork struct {
	pole   float64
	x      []float64
	spect  *tone.Spectrum
	fitter *tone.Fitter
}

func newEstimateWork(pole float64) *estimateWork {
	return &estimateWork{
		pole: pole, x: make([]float64, estimateSamples),
		spect: tone.NewSpectrum(estimateSamples), fitter: tone.NewFitter(estimateSamples),
	}
}

// row fills in the figures of one row.
func (w *estimateWork) row(rng *rand.Rand, e Estimated) Estimated {
	var frequency, growth, amplitude estimateTally
	const n = estimateSamples
	sd := math.Sqrt(0.5 * math.Pow(10, -e.SNR/10))
	for range e.Runs {
		s := swelling{
			amplitude: 1, omega: 2 * math.Pi * e.Cycles / n, growth: e.GrowthWindow / n, phase: 2 * math.Pi * rng.Float64(),
			// A window of a bench has a level and a drift of its own.
			offset: 2*rng.Float64() - 1, slope: (2*rng.Float64() - 1) / n,
		}
		s.draw(w.x)
		addEstimateNoise(w.x, rng, sd, w.pole, s.omega)
		got, ok := w.estimate(e.Cycles / n)
		if !ok {
			e.Failed++
			continue
		}
		omegaVar, growthVar := math.Inf(1), math.Inf(1)
		if w.pole == 0 {
			omegaVar, growthVar = s.bound(n, sd, true)
		}
		frequency.add(2*math.Pi*got.Frequency-s.omega, 2*math.Pi*got.FrequencyErr, omegaVar)
		growth.add(got.Growth-s.growth, got.GrowthErr, growthVar)
		amplitude.add(got.Amplitude-s.amplitude*math.Exp(s.growth*(n-1)/2), got.AmplitudeErr, math.Inf(1))
	}
	e.FrequencyRatio, e.GrowthRatio = frequency.ratio(), growth.ratio()
	e.FrequencyBias, e.GrowthBias = frequency.bias(), growth.bias()
	e.FrequencyCover, e.GrowthCover, e.AmplitudeCover = frequency.cover(), growth.cover(), amplitude.cover()
	return e
}

// estimate starts the fit as the detector does: from the highest peak of a
// band two octaves wide about the tone.
func (w *estimateWork) estimate(f float64) (tone.Estimate, bool) {
	w.spect.Load(w.x)
	at, _, ok := w.spect.Peak(f/2, 2*f)
	if !ok {
		return tone.Estimate{}, false
	}
	return w.fitter.Fit(w.x, at)
}

// swelling is the signal drawn here: a growing sinusoid on a straight line.
// Time counts in samples from the middle of the window.
type swelling struct {
	amplitude, growth, omega, phase float64
	offset, slope                   float64
}

// draw overwrites x.
func (s *swelling) draw(x []float64) {
	for i := range x {
		t := float64(i) - float64(len(x)-1)/2
		x[i] = s.amplitude*math.Exp(s.growth*t)*math.Cos(s.omega*t+s.phase) + s.offset + s.slope*t
	}
}

// bound returns the Cramer-Rao bound on the variances of omega and growth, per
// sample, in n samples with white noise of standard deviation sd: from the
// inverse of the Fisher matrix of cosine, sine, growth, omega and, where asked
// for, offset and slope. For the bound without these two there are closed
// forms: Y.-X. Yao and S. M. Pandit, IEEE Trans. Signal Processing 43(4), 1995,
// 878-885, and S. M. Kay, Fundamentals of Statistical Signal Processing:
// Estimation Theory, 1993; but unknown offset and slope cost some knowledge of
// a slow tone, and with few cycles the phase matters too.
func (s *swelling) bound(n int, sd float64, line bool) (omega, growth float64) {
	params := 4
	if line {
		params = 6
	}
	var sum [6][6]float64
	for i := range n {
		t := float64(i) - float64(n-1)/2
		u := t / float64(n) // keeps the matrix well scaled
		g := math.Exp(s.growth * t)
		sin, cos := math.Sincos(s.omega*t + s.phase)
		// Derivatives by amplitude, phase, growth and omega: amplitude and
		// phase span the same as cosine and sine.
		j := [6]float64{g * cos, -s.amplitude * g * sin, s.amplitude * g * u * cos, -s.amplitude * g * u * sin, 1, u}
		for p := range params {
			for q := 0; q <= p; q++ {
				sum[p][q] += j[p] * j[q]
			}
		}
	}
	fisher := mat.NewSymDense(params, nil)
	for p := range params {
		for q := 0; q <= p; q++ {
			fisher.SetSym(p, q, sum[p][q]/(sd*sd))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(fisher) {
		return math.Inf(1), math.Inf(1) // these samples cannot tell
	}
	inverse := mat.NewSymDense(params, nil)
	if err := chol.InverseTo(inverse); err != nil {
		return math.Inf(1), math.Inf(1)
	}
	scale := 1 / (float64(n) * float64(n))
	return inverse.At(3, 3) * scale, inverse.At(2, 2) * scale
}

// addEstimateNoise adds Gaussian noise through a first-order low pass of the
// given pole, 0 for white. At omega its density is that of white noise of
// standard deviation sd.
func addEstimateNoise(x []float64, rng *rand.Rand, sd, pole, omega float64) {
	drive := sd * math.Sqrt(1-2*pole*math.Cos(omega)+pole*pole)
	// The window finds the noise long since under way.
	state := drive / math.Sqrt(1-pole*pole) * rng.NormFloat64()
	for i := range x {
		x[i] += state
		state = pole*state + drive*rng.NormFloat64()
	}
}

// estimateTally gathers the errors of one value.
type estimateTally struct {
	n, within    int
	sum, squares float64
	overBound    float64 // sum of squared errors over their bounds
}

func (a *estimateTally) add(off, stated, bound float64) {
	a.n++
	a.sum += off
	a.squares += off * off
	a.overBound += off * off / bound
	if math.Abs(off) <= 1.96*stated {
		a.within++
	}
}

func (a *estimateTally) ratio() float64 { return a.overBound / float64(max(a.n, 1)) }

func (a *estimateTally) cover() float64 { return float64(a.within) / float64(max(a.n, 1)) }

// bias is the mean error in standard deviations of a single one.
func (a *estimateTally) bias() float64 {
	n := float64(a.n)
	if a.n < 2 {
		return 0
	}
	mean := a.sum / n
	sd := math.Sqrt(max(a.squares-n*mean*mean, 0) / (n - 1))
	if sd == 0 {
		return 0
	}
	return mean / sd
}

// WriteEstimates writes the rows as a markdown table and a line that sums them
// up. A row that misses a target is marked with an asterisk.
func WriteEstimates(w io.Writer, rows []Estimated) error {
	var b bytes.Buffer
	b.WriteString("| SNR dB | cycles | growth x window | runs | no fit | variance/bound: frequency | growth | bias/sd: frequency | growth | cover %: frequency | growth | amplitude |\n")
	b.WriteString("|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|\n")
	for i := range rows {
		e := &rows[i]
		fmt.Fprintf(&b, "| %g%s | %g | %g | %d | %d |", e.SNR, estimateMark(e), e.Cycles, e.GrowthWindow, e.Runs, e.Failed)
		if e.Failed >= e.Runs {
			b.WriteString(" - | - | - | - | - | - | - |\n")
			continue
		}
		for _, r := range [...]float64{e.FrequencyRatio, e.GrowthRatio} {
			if r == 0 {
				b.WriteString(" - |")
				continue
			}
			fmt.Fprintf(&b, " %.2f |", r)
		}
		fmt.Fprintf(&b, " %+.2f | %+.2f | %.1f | %.1f | %.1f |\n", e.FrequencyBias, e.GrowthBias,
			100*e.FrequencyCover, 100*e.GrowthCover, 100*e.AmplitudeCover)
	}
	b.WriteString("\n" + estimateSummary(rows) + "\n")
	_, err := w.Write(b.Bytes())
	return err
}

func estimateMark(e *Estimated) string {
	if e.met() {
		return ""
	}
	return " *"
}

// estimateSummary tells the worst of the rows in one line.
func estimateSummary(rows []Estimated) string {
	runs, failed, missed := 0, 0, 0
	ratio, bias, lo, hi := 0.0, 0.0, math.Inf(1), math.Inf(-1)
	for i := range rows {
		e := &rows[i]
		runs, failed = runs+e.Runs, failed+e.Failed
		if !e.met() {
			missed++
		}
		if e.Failed >= e.Runs {
			continue
		}
		ratio = max(ratio, e.FrequencyRatio, e.GrowthRatio)
		bias = max(bias, math.Abs(e.FrequencyBias), math.Abs(e.GrowthBias))
		lo = min(lo, e.FrequencyCover, e.GrowthCover, e.AmplitudeCover)
		hi = max(hi, e.FrequencyCover, e.GrowthCover, e.AmplitudeCover)
	}
	if lo > hi {
		return fmt.Sprintf("Of %d runs none gave an estimate.", runs)
	}
	worst := fmt.Sprintf("Worst variance %.2f of the bound, worst", ratio)
	if ratio == 0 {
		worst = "Worst" // no bound was held against these rows
	}
	targets := fmt.Sprintf("variance under %g bounds, bias under %.2f standard errors, covers %g +- %g %%", mostRatio, mostBias, 100*coverAim, 100*coverWithin)
	verdict := fmt.Sprintf("all %d rows hold the targets (%s)", len(rows), targets)
	if missed > 0 {
		verdict = fmt.Sprintf("%d of %d rows (*) miss a target (%s)", missed, len(rows), targets)
	}
	return fmt.Sprintf("%s bias %.2f standard errors, covers %.1f to %.1f %%; %d of %d runs gave no estimate; %s.",
		worst, bias, 100*lo, 100*hi, failed, runs, verdict)
}
