package tone_test

import (
	"fmt"
	"math"
	"testing"

	"tetherbell/alarms/tone"
)

// compare fails where an estimate of n samples is not the wave it came from.
func compare(t *testing.T, w wave, e tone.Estimate, n int, within float64) {
	t.Helper()
	near(t, "frequency in cells", w.frequency*float64(n), e.Frequency*float64(n), within)
	near(t, "growth over the stretch", w.growth*float64(n), e.Growth*float64(n), within)
	near(t, "amplitude at the middle", 1, e.Middle/w.amplitude, within)
	near(t, "amplitude at the end", 1, e.Amplitude/w.end(n), within)
	near(t, "phase", 0, apart(e.Phase, w.phase), within)
}

// Without noise the fit must give the closed form back, on cells and between
// them, near zero and near half the sample rate, with offset and drift.
func TestFitOfClosedForms(t *testing.T) {
	for _, n := range []int{40, 80, 160} {
		fitter := tone.NewFitter(n)
		for _, cycles := range []float64{1.6, 2, 3.37, 7.5, 13, 0.25 * float64(n), 0.47 * float64(n)} {
			for _, growth := range []float64{-3, -0.4, 0, 0.7, 2, 4} {
				w := wave{
					amplitude: 0.034, frequency: cycles / float64(n), growth: growth / float64(n),
					phase: 0.3 + cycles, offset: 5, slope: -2 / float64(n),
				}
				t.Run(fmt.Sprintf("n %d, %g cycles, growth %g", n, cycles, growth), func(t *testing.T) {
					e, ok := fitter.Fit(w.samples(nil, n), (cycles+0.2)/float64(n))
					if !ok {
						t.Fatal("no fit")
					}
					compare(t, w, e, n, 1e-6)
					for _, r := range fitter.Rest(n) {
						near(t, "rest", 0, r, 1e-8)
					}
				})
			}
		}
	}
}

// The estimate's start may be a spectrum's peak, as in use.
func TestFitFromPeak(t *testing.T) {
	const n = 80
	s, fitter := tone.NewSpectrum(n), tone.NewFitter(n)
	for cycles := 3.0; cycles < 35; cycles += 0.173 {
		for _, growth := range []float64{-3, -1, 0, 1, 3} {
			w := wave{amplitude: 0.2, frequency: cycles / n, growth: growth / n, phase: cycles * 2, offset: 1, slope: 0.01}
			x := w.samples(nil, n)
			s.Load(x)
			f, _, ok := s.Peak(w.frequency-2./n, w.frequency+2./n)
			if !ok {
				t.Fatalf("%g cycles, growth %g: no peak", cycles, growth)
			}
			e, ok := fitter.Fit(x, f)
			if !ok {
				t.Fatalf("%g cycles, growth %g: no fit", cycles, growth)
			}
			compare(t, w, e, n, 1e-6)
		}
	}
}

// A start further off than a cell must not end at a tone that was not asked
// for; some of these starts would wander there.
func TestFitStaysNearItsStart(t *testing.T) {
	const n = 80
	fitter, settled := tone.NewFitter(n), 0
	for _, growth := range []float64{-2, 0, 2} {
		x := wave{amplitude: 1, frequency: 20. / n, growth: growth / n, phase: 0.2}.samples(nil, n)
		newNoise(2).addTo(x, 0.1)
		for cycles := 15.0; cycles < 25; cycles += 0.0625 {
			e, ok := fitter.Fit(x, cycles/n)
			if !ok {
				continue
			}
			settled++
			if math.Abs(e.Frequency*n-cycles) > 1 {
				t.Errorf("start at %g cycles gave %g", cycles, e.Frequency*n)
			}
		}
	}
	if settled == 0 {
		t.Error("no start settled")
	}
}

// Damping ratio and growth per cycle belong together by
// growth = exp(2 pi -zeta/sqrt(1-zeta^2)) (recomputed).
func TestDampingRatioByGrowthPerCycle(t *testing.T) {
	for _, c := range []struct{ zeta, growth, half float64 }{
		{-0.01, 1.06485, 5e-6},
		{-0.05, 1.36965, 5e-6},
		{-0.10, 1.88040, 5e-6},
		{-0.01517, 1.1, 5e-5},
		{-0.02901, 1.2, 5e-5},
		{-0.06440, 1.5, 5e-5},
		{-0.10965, 2, 1e-4},
		{0.21545, 0.25, 1e-5}, // quarter decay, after J. G. Ziegler and N. B. Nichols, 1942
	} {
		delta := -math.Log(c.growth)
		// One cycle takes 1 s: sigma = -delta, omega = 2 pi.
		near(t, fmt.Sprintf("zeta of growth %g", c.growth), c.zeta, tone.DampingRatio(-delta, 2*math.Pi), 6e-6)
		near(t, fmt.Sprintf("growth of zeta %g", c.zeta), c.growth,
			math.Exp(-2*math.Pi*c.zeta/math.Sqrt(1-c.zeta*c.zeta)), c.half)
	}
	near(t, "no pole", 0, tone.DampingRatio(0, 0), 0)
	near(t, "no oscillation", 1, tone.DampingRatio(-3, 0), 0)
}

// Free oscillations out of textbooks: the damped sinusoid of their mass,
// spring and damper is made and fitted; decrement and damping ratio must be
// the printed ones.
func TestDecrementsOfTextbooks(t *testing.T) {
	for _, c := range []struct {
		name          string
		mass, k, damp float64
		delta, zeta   float64
		half          float64 // what the printed digits leave open of the decrement
	}{
		// S. S. Rao, Mechanical Vibrations, shock absorber: amplitude falls to
		// a quarter in half a cycle, 2 s a cycle (from memory, recomputed). The
		// book goes on with zeta rounded to 0.4037, which is 4e-4 of decrement.
		{"Rao", 200, 2358.2652, 554.4981, 2.7726, 0.4037, 4e-4},
		// W. T. Thomson, Theory of Vibration: 10 lb, 30 lb/in, 0.12 lb s/in,
		// g 386 in/s^2; printed 0.429 (from memory, recomputed).
		{"Thomson", 10. / 386, 30, 0.12, 0.4286, 0.0681, 5e-5},
		// A solved problem: 8 kg, 5400 N/m, 40 N s/m (page seen, recomputed).
		{"solved problem", 8, 5400, 40, 0.6074, 0.0962, 5e-5},
		// A posed problem: decrement 0.314, 0.2025 s a cycle, so 31.07 rad/s
		// undamped (page seen, solution recomputed).
		{"posed problem", 1, 31.07 * 31.07, 2 * 0.0499 * 31.07, 0.314, 0.0499, 5e-4},
	} {
		t.Run(c.name, func(t *testing.T) {
			natural := math.Sqrt(c.k / c.mass)
			sigma := -c.damp / (2 * c.mass)
			omega := math.Sqrt(natural*natural - sigma*sigma)
			const perCycle, n = 30.5, 92
			dt := 2 * math.Pi / omega / perCycle
			x := make([]float64, n)
			for i := range x {
				at := float64(i) * dt
				x[i] = 0.01 * math.Exp(sigma*at) * math.Cos(omega*at)
			}
			e, ok := tone.NewFitter(n).Fit(x, 1/perCycle)
			if !ok {
				t.Fatal("no fit")
			}
			near(t, "damped frequency", omega, 2*math.Pi*e.Frequency/dt, 1e-6*omega)
			near(t, "decrement", c.delta, -e.Growth/e.Frequency, c.half)
			near(t, "damping ratio", c.zeta, e.Damping(), 5e-5)
			near(t, "amplitude at the end", 0.01*math.Exp(sigma*dt*(n-1)), e.Amplitude, 1e-8)
		})
	}
}

// At at a known frequency: the closed form, with an offset, wherever the tone
// stands between cells.
func TestAtOfClosedForms(t *testing.T) {
	for _, n := range []int{3, 20, 80, 161} {
		for _, f := range []float64{0.031, 0.12345, 0.25, 0.41} {
			for phase := -3.0; phase <= 3; phase += 0.75 {
				w := wave{amplitude: 0.7, frequency: f, phase: phase, offset: 4}
				a, p, se := tone.At(w.samples(nil, n), f, 0.02)
				name := fmt.Sprintf("n %d, f %g", n, f)
				near(t, name+" amplitude", w.amplitude, a, 1e-9)
				near(t, name+" phase", 0, apart(p, phase), 1e-9)
				// Var(A) >= 2 s^2/n: Kay 1993, example 3.14 (from memory,
				// recomputed: 500 samples, noise 0.1: 4e-4).
				near(t, name+" error", math.Sqrt(2*0.02/float64(n)), se, 1e-12)
			}
		}
	}
}

// In white noise At's amplitude must scatter as its standard error says.
func TestAtScattersAsItSays(t *testing.T) {
	const n, runs, sd = 80, 4000, 0.3
	r := newNoise(11)
	var a tally
	x := make([]float64, n)
	for range runs {
		clear(x)
		w := wave{amplitude: 1, frequency: 9.3 / n, phase: 6 * r.Float64(), offset: 2}
		w.samples(x, n)
		r.addTo(x, sd)
		got, _, se := tone.At(x, w.frequency, sd*sd)
		a.add(got-1, se)
	}
	t.Logf("variance/bound %.3f, bias %+.3f, cover %.3f", a.variance()/(2*sd*sd/n), a.bias(), a.cover())
	near(t, "variance over the bound", 1, a.variance()/(2*sd*sd/n), 0.1)
	near(t, "cover", 0.95, a.cover(), 0.02)
	under(t, "bias in standard errors", 0.1, math.Abs(a.bias()))
}
