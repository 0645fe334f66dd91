package tone_test

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"

	"tetherbell/alarms/tone"
)

// bound is the Cramer-Rao bound on the variance of angular frequency and of
// growth, both per sample, for a growing sinusoid of amplitude a at its first
// sample in white noise of mean square s2. After Y.-X. Yao and S. M. Pandit,
// IEEE Trans. Signal Processing 43(4), 1995, 878-885, general form: derived
// again and checked against numeric Fisher matrices, paper not seen
// (recomputed). For growth 0 it is 24 s2/(a^2 n(n^2-1)): S. M. Kay,
// Fundamentals of Statistical Signal Processing: Estimation Theory, 1993,
// example 3.14 (from memory, recomputed).
func bound(a, growth, s2 float64, n int) float64 {
	s := [3]float64{}
	for i := range n {
		q := math.Exp(2 * growth * float64(i))
		s[0] += q
		s[1] += q * float64(i)
		s[2] += q * float64(i) * float64(i)
	}
	return 2 * s2 / (a * a) * s[0] / (s[0]*s[2] - s[1]*s[1])
}

// The bound itself first: it must give the figures it was checked with.
func TestBound(t *testing.T) {
	// Numeric Fisher matrices (recomputed): amplitude 1.3, noise 0.1, 200
	// samples, decay 0.02: 7.598e-6 and 7.615e-6; formula 7.591e-6.
	near(t, "long decay", 7.591e-6, bound(1.3, -0.02, 0.1, 200), 1e-9)
	// 50 samples, decay 0.05: formula 1.369e-4 (recomputed).
	near(t, "short decay", 1.369e-4, bound(1.3, -0.05, 0.1, 50), 1e-7)
	// No growth: Kay's closed form (from memory, recomputed); 500 samples,
	// noise 0.1: 4.86344e-10 cycles^2.
	v := bound(1, 0, 0.1, 500)
	near(t, "no growth", 1, v/(24*0.1/(500*(500.*500-1))), 1e-12)
	near(t, "no growth, in cycles", 4.86344e-10, v/(4*math.Pi*math.Pi), 1e-15)
}

// tally gathers errors of one value over many runs.
type tally struct {
	errs    []float64
	covered int
}

func (a *tally) add(off, se float64) {
	a.errs = append(a.errs, off)
	if math.Abs(off) <= 1.96*se {
		a.covered++
	}
}

func (a *tally) cover() float64 { return float64(a.covered) / float64(len(a.errs)) }

// bias is the mean error in standard errors of a single run.
func (a *tally) bias() float64 {
	m, sd := stat.MeanStdDev(a.errs, nil)
	return m / sd
}

func (a *tally) variance() float64 {
	sum := 0.0
	for _, e := range a.errs {
		sum += e * e
	}
	return sum / float64(len(a.errs))
}

// A growing sinusoid in white noise, 2000 runs a case: variance under twice
// the Cramer-Rao bound, bias under a third of a standard error, and 1.96 of
// the stated standard errors hold the truth 95 times in 100. The signal's
// power is that at the middle of the stretch; start frequencies lie up to a
// quarter of a cell off, as a spectrum's peak may.
func TestFitReachesTheBound(t *testing.T) {
	if testing.Short() {
		t.Skip("144000 fits")
	}
	const runs = 2000
	for _, n := range []int{80, 160} {
		for _, cycles := range []float64{2.7, 3.3, 5.4, 0.4 * float64(n)} {
			for _, growth := range []float64{-2, 0, 3} {
				for _, db := range []float64{10, 20, 40} {
					name := fmt.Sprintf("n %d, %.1f cycles, growth %g, %g dB", n, cycles, growth, db)
					t.Run(name, func(t *testing.T) { boundCase(t, n, cycles/float64(n), growth/float64(n), db, runs) })
				}
			}
		}
	}
}

func boundCase(t *testing.T, n int, frequency, growth, db float64, runs int) {
	r, fitter := newNoise(1), tone.NewFitter(n)
	w := wave{amplitude: 1, frequency: frequency, growth: growth, offset: 0.3, slope: 0.1 / float64(n)}
	sd := math.Sqrt(0.5 * math.Pow(10, -db/10))
	crb := bound(math.Exp(-growth*float64(n-1)/2), growth, sd*sd, n)
	var f, g, a tally
	level := 0.0
	x := make([]float64, n)
	for range runs {
		clear(x)
		w.phase = 2 * math.Pi * r.Float64()
		w.samples(x, n)
		r.addTo(x, sd)
		e, ok := fitter.Fit(x, frequency+(r.Float64()-0.5)/2/float64(n))
		if !ok {
			t.Fatal("no fit")
		}
		f.add(e.Frequency-frequency, e.FrequencyErr)
		g.add(e.Growth-growth, e.GrowthErr)
		a.add(e.Amplitude-w.end(n), e.AmplitudeErr)
		level += e.Noise / float64(runs) / (sd * sd)
	}
	vf, vg := f.variance()*4*math.Pi*math.Pi/crb, g.variance()/crb
	t.Logf("variance/bound f %.3f g %.3f, bias f %+.3f g %+.3f a %+.3f, cover f %.3f g %.3f a %.3f, noise %.3f",
		vf, vg, f.bias(), g.bias(), a.bias(), f.cover(), g.cover(), a.cover(), level)
	under(t, "variance of frequency over the bound", 2, vf)
	under(t, "variance of growth over the bound", 2, vg)
	for _, b := range []*tally{&f, &g, &a} {
		under(t, "bias in standard errors", 1.0/3, math.Abs(b.bias()))
		near(t, "cover of 1.96 standard errors", 0.95, b.cover(), 0.03)
	}
	near(t, "noise level", 1, level, 0.05)
}
