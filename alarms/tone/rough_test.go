package tone_test

import (
	"encoding/binary"
	"math"
	"testing"

	"tetherbell/alarms/tone"
)

// checkRough runs all that takes samples and fails where it says "ok" to what
// is no number, or a standard error below zero.
func checkRough(t *testing.T, x []float64, start float64) {
	t.Helper()
	n := len(x)
	fitter := tone.NewFitter(n)
	if e, ok := fitter.Fit(x, start); ok {
		for _, v := range []float64{
			e.Frequency, e.FrequencyErr, e.Growth, e.GrowthErr, e.Amplitude, e.AmplitudeErr,
			e.Middle, e.Phase, e.Noise, e.Damping(),
		} {
			if !finite(v) {
				t.Fatalf("fit from %g: %+v", start, e)
			}
		}
		if e.Frequency <= 0 || e.Frequency >= 0.5 || e.FrequencyErr < 0 || e.GrowthErr < 0 || e.AmplitudeErr < 0 || e.Noise < 0 {
			t.Fatalf("fit from %g: %+v", start, e)
		}
	}
	if len(fitter.Rest(n)) != n {
		t.Fatal("rest is short")
	}
	if a, p, se := tone.At(x, start, 0.01); !finite(a) || !finite(p) || math.IsNaN(se) || se < 0 {
		t.Fatalf("at %g: %g, %g, %g", start, a, p, se)
	}
	s := tone.NewSpectrum(n)
	s.Load(x)
	if f, a, ok := s.Peak(0, 0.5); ok && !(finite(f) && finite(a) && f >= 0 && f <= 0.5 && a >= 0) {
		t.Fatalf("peak: %g at %g", a, f)
	}
	s.Peak(start, start+0.1)
	s.Band(start, start+0.1)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// What no bench should send must neither panic nor come out as a finding.
func TestRoughSamples(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	fill := func(n int, v float64) []float64 { return wave{offset: v}.samples(nil, n) }
	one := func(n, at int, v float64) []float64 {
		x := wave{amplitude: 1, frequency: 0.1}.samples(nil, n)
		x[at] = v
		return x
	}
	for name, x := range map[string][]float64{
		"none": {}, "one": {1}, "two": {1, -1}, "seven": {1, 0, -1, 0, 1, 0, -1}, "eight": {1, 0, -1, 0, 1, 0, -1, 0},
		"nine":  {1, 3, -2, 0, 4, -1, 2, 2, 0},
		"zeros": fill(80, 0), "constant": fill(80, 3.3), "large constant": fill(80, 1e300), "line": wave{slope: 2, offset: 1}.samples(nil, 80),
		"nan": fill(80, nan), "inf": fill(80, inf), "one nan": one(80, 40, nan), "nan first": one(80, 0, nan), "nan last": one(80, 79, nan),
		"one inf": one(80, 40, inf), "one minus inf": one(80, 3, -inf), "largest": one(80, 11, math.MaxFloat64),
		"spike": one(80, 20, 1e9), "tiny": one(80, 0, 5e-324), "half the rate": wave{amplitude: 1, frequency: 0.5}.samples(nil, 80),
		"step": append(fill(40, 0), fill(40, 1)...), "subnormal": fill(80, 1e-310),
	} {
		t.Run(name, func(t *testing.T) {
			for _, start := range []float64{-0.1, 0, 1e-12, 0.01, 0.1, 0.25, 0.499, 0.5, 1, nan, inf, -inf} {
				checkRough(t, x, start)
			}
		})
	}
}

// Nothing moving is no sinusoid.
func TestNothingMoves(t *testing.T) {
	for _, v := range []float64{0, 3.3, -1e6} {
		x := wave{offset: v}.samples(nil, 80)
		s := tone.NewSpectrum(80)
		s.Load(x)
		if _, a, ok := s.Peak(0.02, 0.45); ok && a > 1e-12*math.Abs(v) {
			t.Errorf("constant %g has a peak of %g", v, a)
		}
		if e, ok := tone.NewFitter(80).Fit(x, 0.1); ok && e.Amplitude > 1e-12*math.Abs(v) {
			t.Errorf("constant %g fits %+v", v, e)
		}
	}
}

func FuzzSamples(f *testing.F) {
	seed := func(start float64, x []float64) {
		text := binary.LittleEndian.AppendUint64(nil, math.Float64bits(start))
		for _, v := range x {
			text = binary.LittleEndian.AppendUint64(text, math.Float64bits(v))
		}
		f.Add(text)
	}
	seed(0.1, nil)
	seed(0.1, wave{amplitude: 1, frequency: 0.1, growth: 0.02}.samples(nil, 40))
	seed(0.2, wave{amplitude: 1e200, frequency: 0.19}.samples(nil, 12))
	seed(0.3, []float64{1, 2, math.NaN(), 4, 5, 6, 7, 8, math.Inf(1), 1})
	f.Fuzz(func(t *testing.T, text []byte) {
		if len(text) < 8 {
			return
		}
		start := math.Float64frombits(binary.LittleEndian.Uint64(text))
		var x []float64
		for text = text[8:]; len(text) >= 8 && len(x) < 200; text = text[8:] {
			x = append(x, math.Float64frombits(binary.LittleEndian.Uint64(text)))
		}
		checkRough(t, x, start)
	})
}
