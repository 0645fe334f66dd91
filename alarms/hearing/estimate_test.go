package hearing

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// growingBound is the bound on the variance of angular frequency and of growth
// alike, per sample, for a real growing sinusoid of amplitude a at its first
// sample: (2 s^2/a^2) S0/(S0 S2 - S1^2), Sk = sum i^k exp(2 growth i). After
// Y.-X. Yao and S. M. Pandit, IEEE Trans. Signal Processing 43(4), 1995,
// 878-885, paper not seen: derived again (recomputed).
func growingBound(a, growth, sd float64, n int) float64 {
	s0, s1, s2 := 0.0, 0.0, 0.0
	for i := range n {
		q, t := math.Exp(2*growth*float64(i)), float64(i)
		s0, s1, s2 = s0+q, s1+q*t, s2+q*t*t
	}
	return 2 * sd * sd / (a * a) * s0 / (s0*s2 - s1*s1)
}

// meanBound is the bound averaged over 16 phases: the closed forms leave out
// what depends on phase.
func meanBound(s swelling, n int, sd float64, line bool) (omega, growth float64) {
	const phases = 16
	for k := range phases {
		s.phase = 2 * math.Pi * (float64(k) + 0.3) / phases
		o, g := s.bound(n, sd, line)
		omega, growth = omega+o/phases, growth+g/phases
	}
	return omega, growth
}

// The Fisher matrix without offset and slope against figures from outside.
func TestEstimateBoundClosedForms(t *testing.T) {
	for _, c := range []struct {
		name                string
		first, growth, var2 float64 // amplitude at the first sample, growth a sample, variance of the noise
		n                   int
		want                float64 // of omega and growth
		within              float64 // relative
	}{
		// S. M. Kay, Fundamentals of Statistical Signal Processing: Estimation
		// Theory, 1993, example 3.14 (from memory): 24 s^2/(A^2 n(n^2-1)), in
		// cycles 4.86344e-10 (recomputed; a numeric matrix gave 4.86358e-10).
		{"no growth", 1, 0, 0.1, 500, 4.86344e-10 * 4 * math.Pi * math.Pi, 2e-4},
		// Yao and Pandit's formula 7.591e-6 and 1.369e-4; numeric matrices at one
		// phase gave 7.598e-6 and 7.615e-6, 1.410e-4 and 1.366e-4 (recomputed).
		{"long decay", 1.3, -0.02, 0.1, 200, 7.591e-6, 5e-3},
		{"short decay", 1.3, -0.05, 0.1, 50, 1.369e-4, 2e-2},
	} {
		t.Run(c.name, func(t *testing.T) {
			sd := math.Sqrt(c.var2)
			require.InEpsilon(t, c.want, growingBound(c.first, c.growth, sd, c.n), 4e-4, "to the last digit told")
			s := swelling{amplitude: c.first * math.Exp(c.growth*float64(c.n-1)/2), growth: c.growth, omega: 2 * math.Pi * 0.21}
			omega, growth := meanBound(s, c.n, sd, false)
			assert.InEpsilon(t, c.want, omega, c.within, "frequency")
			assert.InEpsilon(t, c.want, growth, c.within, "growth")
		})
	}
}

// The same for the windows of the table, growing ones too; and what offset and
// slope cost: something with few cycles, next to nothing with many.
func TestEstimateBoundOfTheTable(t *testing.T) {
	const n, sd = estimateSamples, 0.1
	for _, cycles := range estimateCycles {
		for _, growth := range estimateGrowths {
			t.Run(fmt.Sprintf("%g cycles, growth %g", cycles, growth), func(t *testing.T) {
				s := swelling{amplitude: 1, growth: growth / n, omega: 2 * math.Pi * cycles / n}
				closed := growingBound(math.Exp(-s.growth*(n-1)/2), s.growth, sd, n)
				omega, grow := meanBound(s, n, sd, false)
				// What the closed form leaves out falls with the cycles squared.
				within := 0.7 / (cycles * cycles)
				assert.InEpsilon(t, closed, omega, within, "frequency")
				assert.InEpsilon(t, closed, grow, within, "growth")

				fullOmega, fullGrow := meanBound(s, n, sd, true)
				for name, r := range map[string]float64{"frequency": fullOmega / omega, "growth": fullGrow / grow} {
					assert.Greater(t, r, 1.0, name)
					assert.Less(t, r, 1+3/(cycles*cycles), name)
				}
			})
		}
	}
}

// The full matrix against one from central differences of the signal itself,
// by cosine and sine where the bound goes by amplitude and phase.
func TestEstimateBoundByDifferences(t *testing.T) {
	const n, sd = 90, 0.2
	s := swelling{amplitude: 1.7, growth: 0.02, omega: 2 * math.Pi * 2.9 / n, phase: 0.7, offset: 0.4, slope: -0.003}
	at := func(p [6]float64) []float64 {
		x := make([]float64, n)
		w := swelling{amplitude: math.Hypot(p[0], p[1]), phase: math.Atan2(-p[1], p[0]), growth: p[2], omega: p[3], offset: p[4], slope: p[5]}
		w.draw(x)
		return x
	}
	point := [6]float64{s.amplitude * math.Cos(s.phase), -s.amplitude * math.Sin(s.phase), s.growth, s.omega, s.offset, s.slope}
	jacobian := mat.NewDense(n, 6, nil)
	for p := range point {
		const h = 1e-5
		up, down := point, point
		up[p] += h
		down[p] -= h
		a, b := at(up), at(down)
		for i := range n {
			jacobian.Set(i, p, (a[i]-b[i])/(2*h))
		}
	}
	var normal, inverse mat.Dense
	normal.Mul(jacobian.T(), jacobian)
	require.NoError(t, inverse.Inverse(&normal))
	omega, growth := s.bound(n, sd, true)
	assert.InEpsilon(t, sd*sd*inverse.At(3, 3), omega, 1e-5)
	assert.InEpsilon(t, sd*sd*inverse.At(2, 2), growth, 1e-5)
}

// Samples that cannot tell the parameters apart have no bound.
func TestEstimateBoundOfTooFew(t *testing.T) {
	s := swelling{amplitude: 1, omega: 1}
	omega, growth := s.bound(5, 0.1, true)
	assert.True(t, math.IsInf(omega, 1) && math.IsInf(growth, 1))
}

// The noise: its density at the tone is what it says, and a first-order low
// pass has correlation pole^k at lag k (textbook, from memory).
func TestEstimateNoise(t *testing.T) {
	const n, windows, sd = 256, 4000, 0.3
	for _, pole := range []float64{0, estimatePole} {
		for _, omega := range []float64{0.25, 1.1} {
			t.Run(fmt.Sprintf("pole %g, omega %g", pole, omega), func(t *testing.T) {
				rng := rand.New(rand.NewPCG(1, 2))
				x := make([]float64, n)
				power, first, last, lag, square := 0.0, 0.0, 0.0, 0.0, 0.0
				for range windows {
					clear(x)
					addEstimateNoise(x, rng, sd, pole, omega)
					re, im := 0.0, 0.0
					for i, v := range x {
						sin, cos := math.Sincos(omega * float64(i))
						re, im = re+v*cos, im+v*sin
						square += v * v
						if i > 0 {
							lag += v * x[i-1]
						}
					}
					power += (re*re + im*im) / n / windows
					first, last = first+x[0]*x[0]/windows, last+x[n-1]*x[n-1]/windows
				}
				// One periodogram's value is off by as much as itself, one square by
				// sqrt 2 of itself: four standard errors of 4000 of them.
				assert.InEpsilon(t, sd*sd, power, 4/math.Sqrt(windows), "density at the tone")
				assert.InEpsilon(t, first, last, 4*2/math.Sqrt(windows), "as strong at either end")
				assert.InDelta(t, pole, lag/square*n/(n-1), 0.01, "correlation at lag 1")
			})
		}
	}
}

// The bookkeeping, on errors whose figures are known: those of a normal
// distribution (share within 1.96 sd 0.950, within 0.98 sd 0.673, 1.96 sd about
// a mean 0.3 off 0.940: tables of the normal distribution, recomputed).
func TestEstimateTally(t *testing.T) {
	for _, c := range []struct {
		name                           string
		mean, stated, bound            float64
		wantRatio, wantBias, wantCover float64
	}{
		{"at the bound", 0, 0.5, 0.25, 1, 0, 0.950},
		{"twice the bound", 0, 0.5, 0.125, 2, 0, 0.950},
		{"errors stated half", 0, 0.25, 0.25, 1, 0, 0.673},
		{"off by 0.3 standard errors", 0.15, 0.5, 0.25, 1.09, 0.3, 0.940},
		{"no bound", 0, 0.5, math.Inf(1), 0, 0, 0.950},
	} {
		t.Run(c.name, func(t *testing.T) {
			const n = 20000
			rng := rand.New(rand.NewPCG(3, 4))
			var a estimateTally
			for range n {
				a.add(c.mean+0.5*rng.NormFloat64(), c.stated, c.bound)
			}
			assert.InDelta(t, c.wantRatio, a.ratio(), 4*max(c.wantRatio, 1e-9)*math.Sqrt(2./n))
			assert.InDelta(t, c.wantBias, a.bias(), 4/math.Sqrt(n))
			assert.InDelta(t, c.wantCover, a.cover(), 4*math.Sqrt(c.wantCover*(1-c.wantCover)/n))
		})
	}
	var a estimateTally
	assert.Equal(t, [3]float64{}, [3]float64{a.ratio(), a.bias(), a.cover()}, "of nothing")
	a.add(0.1, 1, 1)
	assert.Zero(t, a.bias(), "one error has no spread")
}

// beyond is how far a share of n may lie past p by chance, in four standard
// errors of the binomial distribution.
func beyond(p float64, n int) float64 { return 4 * math.Sqrt(p*(1-p)/float64(n)) }

// holdsCover checks covers of single rows, and their mean over the rows, which
// is the sharper of the two.
func holdsCover(t *testing.T, rows []Estimated) {
	t.Helper()
	lo, hi := coverAim-coverWithin, coverAim+coverWithin
	var sum [3]float64
	runs := 0
	for _, e := range rows {
		for i, c := range [...]float64{e.FrequencyCover, e.GrowthCover, e.AmplitudeCover} {
			assert.Greater(t, c, lo-beyond(lo, e.Runs), "%+v", e)
			sum[i] += c * float64(e.Runs)
		}
		runs += e.Runs
	}
	for i, s := range sum {
		assert.Greater(t, s/float64(runs), lo-beyond(lo, runs), "value %d", i)
		assert.Less(t, s/float64(runs), hi+beyond(hi, runs), "value %d", i)
	}
}

// The targets: variance under twice the Cramer-Rao bound, bias under a third
// of a standard error, 95 +- 3 % of truths within 1.96 stated errors. No
// unbiased estimator beats the bound: one that seems to shows the bound wrong.
func TestEstimatesHold(t *testing.T) {
	const runs = 300
	rows := Estimates(runs, 1)
	require.Len(t, rows, len(estimateSNRs)*len(estimateCycles)*len(estimateGrowths))
	seen := map[[3]float64]bool{}
	frequency, growth := 0.0, 0.0
	for _, e := range rows {
		seen[[3]float64{e.SNR, e.Cycles, e.GrowthWindow}] = true
		require.Equal(t, runs, e.Runs)
		assert.Zero(t, e.Failed, "%+v", e)
		assert.Less(t, e.FrequencyRatio, 2.0, "%+v", e)
		assert.Less(t, e.GrowthRatio, 2.0, "%+v", e)
		assert.Less(t, math.Abs(e.FrequencyBias), 1.0/3, "%+v", e)
		assert.Less(t, math.Abs(e.GrowthBias), 1.0/3, "%+v", e)
		frequency += e.FrequencyRatio / float64(len(rows))
		growth += e.GrowthRatio / float64(len(rows))
	}
	assert.Len(t, seen, len(rows), "each row is another kind")
	// A sum of squares at the bound has chi-square's spread.
	chance := 4 * math.Sqrt(2/float64(runs*len(rows)))
	assert.Greater(t, frequency, 1-chance)
	assert.Greater(t, growth, 1-chance)
	for _, snr := range estimateSNRs {
		var some []Estimated
		for _, e := range rows {
			if e.SNR == snr {
				some = append(some, e)
			}
		}
		holdsCover(t, some)
	}
}

func TestColouredEstimatesHold(t *testing.T) {
	rows := ColouredEstimates(300, 1)
	require.Len(t, rows, len(estimateSNRs)*len(estimateCycles)*len(estimateGrowths))
	for _, e := range rows {
		assert.Zero(t, e.Failed, "%+v", e)
		assert.Zero(t, e.FrequencyRatio, "no bound is held against it")
		assert.Zero(t, e.GrowthRatio, "no bound is held against it")
	}
	holdsCover(t, rows)
}

func TestEstimatesSeed(t *testing.T) {
	a := Estimates(3, 7)
	assert.Equal(t, a, Estimates(3, 7))
	assert.NotEqual(t, a, Estimates(3, 8))
	assert.NotEqual(t, a[0], ColouredEstimates(3, 7)[0])
}

// Where the tone drowns, fits fail, and the rest still gives figures.
func TestEstimatesCountFailures(t *testing.T) {
	const runs = 200
	e := newEstimateWork(0).row(rand.New(rand.NewPCG(1, 1)), Estimated{SNR: -30, Cycles: 8.4, Runs: runs})
	assert.Greater(t, e.Failed, 0)
	assert.Less(t, e.Failed, runs)
	assert.Greater(t, e.FrequencyRatio, 0.0)
	assert.False(t, e.met(), "%+v", e)
}

func TestEstimatedMet(t *testing.T) {
	good := Estimated{Runs: 10, FrequencyRatio: 1.99, GrowthRatio: 1.99, FrequencyBias: -0.33, GrowthBias: 0.33,
		FrequencyCover: 0.921, GrowthCover: 0.979, AmplitudeCover: 0.95}
	require.True(t, good.met())
	for name, spoil := range map[string]func(e *Estimated){
		"frequency variance": func(e *Estimated) { e.FrequencyRatio = 2 },
		"growth variance":    func(e *Estimated) { e.GrowthRatio = 2 },
		"frequency bias":     func(e *Estimated) { e.FrequencyBias = -0.34 },
		"growth bias":        func(e *Estimated) { e.GrowthBias = 0.34 },
		"frequency cover":    func(e *Estimated) { e.FrequencyCover = 0.919 },
		"growth cover":       func(e *Estimated) { e.GrowthCover = 0.981 },
		"amplitude cover":    func(e *Estimated) { e.AmplitudeCover = 0 },
		"no number":          func(e *Estimated) { e.GrowthBias = math.NaN() },
		"nothing found":      func(e *Estimated) { e.Failed = 10 },
	} {
		bad := good
		spoil(&bad)
		assert.False(t, bad.met(), name)
	}
}

func TestWriteEstimates(t *testing.T) {
	good := Estimated{SNR: 10, Cycles: 3.3, GrowthWindow: -1, Runs: 300, FrequencyRatio: 1.034, GrowthRatio: 0.98,
		FrequencyBias: -0.021, GrowthBias: 0.2, FrequencyCover: 0.951, GrowthCover: 0.94, AmplitudeCover: 0.9567}
	coloured := good
	coloured.FrequencyRatio, coloured.GrowthRatio = 0, 0
	bad := Estimated{SNR: 20, Cycles: 20.7, GrowthWindow: 2.5, Runs: 300, Failed: 4, FrequencyRatio: 1.2, GrowthRatio: 2.341,
		FrequencyBias: 0.1, GrowthBias: -0.45, FrequencyCover: 0.93, GrowthCover: 0.901, AmplitudeCover: 0.982}
	lost := Estimated{SNR: 40, Cycles: 8.4, Runs: 5, Failed: 5}
	const (
		goodRow = "| 10 | 3.3 | -1 | 300 | 0 | 1.03 | 0.98 | -0.02 | +0.20 | 95.1 | 94.0 | 95.7 |"
		targets = "(variance under 2 bounds, bias under 0.33 standard errors, covers 95 +- 3 %)."
	)
	for _, c := range []struct {
		name string
		rows []Estimated
		want []string // rows, an empty line, the summary
	}{
		{"all hold", []Estimated{good}, []string{goodRow, "",
			"Worst variance 1.03 of the bound, worst bias 0.20 standard errors, covers 94.0 to 95.7 %; 0 of 300 runs gave no estimate; all 1 rows hold the targets " + targets}},
		{"some miss", []Estimated{good, bad, lost}, []string{goodRow,
			"| 20 * | 20.7 | 2.5 | 300 | 4 | 1.20 | 2.34 | +0.10 | -0.45 | 93.0 | 90.1 | 98.2 |",
			"| 40 * | 8.4 | 0 | 5 | 5 | - | - | - | - | - | - | - |", "",
			"Worst variance 2.34 of the bound, worst bias 0.45 standard errors, covers 90.1 to 98.2 %; 9 of 605 runs gave no estimate; 2 of 3 rows (*) miss a target " + targets}},
		{"no bound", []Estimated{coloured}, []string{
			"| 10 | 3.3 | -1 | 300 | 0 | - | - | -0.02 | +0.20 | 95.1 | 94.0 | 95.7 |", "",
			"Worst bias 0.20 standard errors, covers 94.0 to 95.7 %; 0 of 300 runs gave no estimate; all 1 rows hold the targets " + targets}},
		{"all lost", []Estimated{lost}, []string{
			"| 40 * | 8.4 | 0 | 5 | 5 | - | - | - | - | - | - | - |", "", "Of 5 runs none gave an estimate."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b strings.Builder
			require.NoError(t, WriteEstimates(&b, c.rows))
			lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
			require.Greater(t, len(lines), 2)
			columns := strings.Count(lines[0], "|")
			for _, l := range lines[:2+len(c.rows)] {
				assert.Equal(t, columns, strings.Count(l, "|"), l)
			}
			assert.Equal(t, c.want, lines[2:])
		})
	}
}

func TestWriteEstimatesPassesErrors(t *testing.T) {
	r, w := io.Pipe()
	require.NoError(t, r.Close())
	assert.ErrorIs(t, WriteEstimates(w, nil), io.ErrClosedPipe)
}
