package tone_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"tetherbell/alarms/tone"
)

// Two modes at once, 200 samples at 200 Hz:
// exp(-2t) cos(2 pi 8 t + 0.4) + 0.5 exp(0.7 t) cos(2 pi 15 t - 1).
const modeRate, modeCount = 200.0, 200

var modes = [2]struct{ hz, sigma, amplitude, phase, zeta float64 }{
	// Damping ratios: a matrix pencil in SciPy gave 0.0397573 and -0.0074270
	// on the clean signal (recomputed).
	{8, -2, 1, 0.4, 0.0397573},
	{15, 0.7, 0.5, -1, -0.0074270},
}

func twoModes() []float64 {
	x := make([]float64, modeCount)
	for i := range x {
		at := float64(i) / modeRate
		for _, m := range modes {
			x[i] += m.amplitude * math.Exp(m.sigma*at) * math.Cos(2*math.Pi*m.hz*at+m.phase)
		}
	}
	return x
}

// congruential is the integer noise of the reference signal, even in
// (-0.5, 0.5).
func congruential(n int) []float64 {
	s, u := uint64(12345), make([]float64, n)
	for i := range u {
		s = (1103515245*s + 12345) % (1 << 31)
		u[i] = float64(s)/(1<<31) - 0.5
	}
	return u
}

// separate fits each mode to what the other one leaves, in turns.
func separate(t *testing.T, x []float64, turns int) (e [2]tone.Estimate) {
	t.Helper()
	fitter, y := tone.NewFitter(len(x)), make([]float64, len(x))
	for turn := range turns {
		for k := range modes {
			copy(y, x)
			if other := e[1-k]; other.Middle > 0 {
				w := wave{amplitude: -other.Middle, frequency: other.Frequency, growth: other.Growth, phase: other.Phase}
				w.samples(y, len(y))
			}
			var ok bool
			if e[k], ok = fitter.Fit(y, modes[k].hz/modeRate); !ok {
				t.Fatalf("turn %d: no fit of %g Hz", turn, modes[k].hz)
			}
		}
	}
	return e
}

// With the other mode taken out in turns, the fit finds each mode as exactly
// as the matrix pencil does.
func TestTwoModesApart(t *testing.T) {
	for k, e := range separate(t, twoModes(), 12) {
		m := modes[k]
		near(t, "frequency", m.hz, e.Frequency*modeRate, 1e-6)
		near(t, "growth per second", m.sigma, e.Growth*modeRate, 1e-5)
		near(t, "damping ratio", m.zeta, e.Damping(), 1e-7)
		near(t, "amplitude at the end", m.amplitude*math.Exp(m.sigma*(modeCount-1)/modeRate), e.Amplitude, 1e-6)
	}
}

// With both modes present a single fit is biased by the other one, and its
// stated errors, which look at the noise beside the tone, do not cover that.
// What least squares over a stretch of n samples take in of another tone of at
// most amplitude B, D cells away, is at most 6B/(pi D A) of growth over the
// stretch, and as much of phase turned: sum of t cos(2 pi D t/n) against sum
// of t^2 (derived here). Whoever needs better takes the other tone out first.
func TestTwoModesTogether(t *testing.T) {
	x, fitter := twoModes(), tone.NewFitter(modeCount)
	for k, m := range modes {
		e, ok := fitter.Fit(x, m.hz/modeRate)
		if !ok {
			t.Fatalf("no fit of %g Hz", m.hz)
		}
		df, dg := e.Frequency*modeRate-m.hz, e.Growth*modeRate-m.sigma
		t.Logf("%g Hz: bias %+.4f Hz (stated %.4f), %+.4f 1/s (stated %.4f), zeta %+.5f for %+.5f",
			m.hz, df, e.FrequencyErr*modeRate, dg, e.GrowthErr*modeRate, e.Damping(), m.zeta)
		o, seconds := modes[1-k], modeCount/modeRate
		largest := o.amplitude * max(1, math.Exp(o.sigma*seconds))
		middle := m.amplitude * math.Exp(m.sigma*seconds/2)
		limit := 6 * largest / (math.Pi * math.Abs(o.hz-m.hz) * seconds * middle)
		under(t, "bias of growth over the stretch", limit, math.Abs(dg)*seconds)
		under(t, "bias of phase over the stretch", limit, 2*math.Pi*math.Abs(df)*seconds)
		if m.sigma*(m.sigma+dg) <= 0 {
			t.Errorf("%g Hz: growth %g is told as %g", m.hz, m.sigma, m.sigma+dg)
		}
	}
}

// With the stated noise the pencil gave 7.99858 Hz, 0.039696 and 15.00049 Hz,
// -0.007518 (recomputed). Two estimators of one noisy signal agree within
// their standard errors, and with the truth.
func TestTwoModesInNoise(t *testing.T) {
	x := twoModes()
	for i, u := range congruential(modeCount) {
		x[i] += 0.05 * u
	}
	pencil := [2][2]float64{{7.99858, 0.039696}, {15.00049, -0.007518}}
	for k, e := range separate(t, x, 12) {
		seF := e.FrequencyErr * modeRate
		seZ := e.GrowthErr / (2 * math.Pi * e.Frequency)
		t.Logf("%.5f Hz (se %.5f), zeta %.6f (se %.6f), noise %.3g", e.Frequency*modeRate, seF, e.Damping(), seZ, e.Noise)
		near(t, "frequency of the pencil", pencil[k][0], e.Frequency*modeRate, 2*seF)
		near(t, "damping of the pencil", pencil[k][1], e.Damping(), 2*seZ)
		near(t, "frequency", modes[k].hz, e.Frequency*modeRate, 3*seF)
		near(t, "damping", modes[k].zeta, e.Damping(), 3*seZ)
		// Even noise of width 0.05 has the mean square 0.05^2/12.
		near(t, "noise over the true one", 1, e.Noise/(0.05*0.05/12), 0.9)
	}
}

// The file itself, where it lies at hand: single-bin transform, and poles.
func TestReferenceFile(t *testing.T) {
	dir := os.Getenv("TETHERBELL_DATA")
	if dir == "" {
		t.Skip("TETHERBELL_DATA is not set: no reference file")
	}
	text, err := os.ReadFile(filepath.Join(dir, "oracle", "dsp.json"))
	if os.IsNotExist(err) {
		t.Skip("no reference file in TETHERBELL_DATA")
	}
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		U     []float64 `json:"u_first5"`
		X     []float64 `json:"x_first5"`
		DTFT  []float64 `json:"dtft_31Hz"`
		Noisy struct {
			Poles [][]float64 `json:"poles_fHz_sigma_zeta"`
		} `json:"mp_noisy"`
	}
	if err := json.Unmarshal(text, &ref); err != nil {
		t.Fatal(err)
	}
	u := congruential(1024)
	x := make([]float64, len(u))
	for i := range x {
		at := float64(i) / modeRate
		x[i] = 0.8*math.Exp(-1.5*at)*math.Sin(2*math.Pi*7.3*at+0.3) + 0.2*math.Sin(2*math.Pi*31*at) + 0.1*u[i]
	}
	for i := range ref.X {
		near(t, "noise", ref.U[i], u[i], 1e-15)
		near(t, "sample", ref.X[i], x[i], 1e-12)
	}
	// A transform at one frequency and least squares differ by the leakage of
	// what else is there.
	a, _, _ := tone.At(x, 31/modeRate, 0)
	near(t, "amplitude at 31 Hz", ref.DTFT[2], a, 5e-4)
	y := twoModes()
	for i := range y {
		y[i] += 0.05 * u[i]
	}
	for k, e := range separate(t, y, 12) {
		near(t, "frequency", ref.Noisy.Poles[k][0], e.Frequency*modeRate, 2*e.FrequencyErr*modeRate)
		near(t, "growth", ref.Noisy.Poles[k][1], e.Growth*modeRate, 2*e.GrowthErr*modeRate)
	}
}
