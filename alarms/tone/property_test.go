package tone_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tetherbell/alarms/tone"
)

// stretch is a drawn growing sinusoid in noise, and where to start its fit.
type stretch struct {
	x     []float64
	start float64
	e     tone.Estimate
}

func drawStretch(t *rapid.T) stretch {
	n := rapid.IntRange(30, 200).Draw(t, "n")
	cells := rapid.Float64Range(2.5, 0.45*float64(n)).Draw(t, "cells")
	w := wave{
		amplitude: 1, frequency: cells / float64(n),
		growth: rapid.Float64Range(-3, 3).Draw(t, "growth") / float64(n),
		phase:  rapid.Float64Range(-3, 3).Draw(t, "phase"),
		offset: rapid.Float64Range(-2, 2).Draw(t, "offset"),
	}
	x := w.samples(nil, n)
	newNoise(rapid.Uint64().Draw(t, "seed")).addTo(x, rapid.Float64Range(0.001, 0.1).Draw(t, "noise"))
	s := stretch{x: x, start: w.frequency}
	s.e = s.fit(t, x)
	return s
}

func (s stretch) fit(t *rapid.T, x []float64) tone.Estimate {
	e, ok := tone.NewFitter(len(x)).Fit(x, s.start)
	if !ok {
		t.Fatalf("no fit of %d samples", len(x))
	}
	return e
}

// same fails where two values differ by more than a part in a million: the
// fit stops a ten-thousandth of a radian over the stretch from where it would
// end, and its last step brings it there with the square of that.
func same(t *rapid.T, what string, want, got, scale float64) {
	if !(math.Abs(got-want) <= 1e-6*scale) {
		t.Errorf("%s: got %.12g, want %.12g", what, got, want)
	}
}

// sameTone compares all but amplitudes, which go by k.
func sameTone(t *rapid.T, s stretch, e tone.Estimate, k float64) {
	n := float64(len(s.x))
	same(t, "frequency", s.e.Frequency*n, e.Frequency*n, 1)
	same(t, "growth", s.e.Growth*n, e.Growth*n, 1)
	same(t, "amplitude", k*s.e.Amplitude, e.Amplitude, 10*e.Amplitude)
	same(t, "middle", k*s.e.Middle, e.Middle, 10*e.Middle)
	same(t, "noise", k*k*s.e.Noise, e.Noise, 1e2*e.Noise)
	same(t, "frequency error", s.e.FrequencyErr, e.FrequencyErr, 1e2*e.FrequencyErr)
	same(t, "growth error", s.e.GrowthErr, e.GrowthErr, 1e2*e.GrowthErr)
	same(t, "amplitude error", k*s.e.AmplitudeErr, e.AmplitudeErr, 1e2*e.AmplitudeErr)
}

func TestScaleScalesAmplitudeOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawStretch(t)
		k := math.Pow(10, rapid.Float64Range(-6, 6).Draw(t, "decades"))
		y := slices.Clone(s.x)
		for i := range y {
			y[i] *= k
		}
		e := s.fit(t, y)
		sameTone(t, s, e, k)
		same(t, "phase", 0, apart(s.e.Phase, e.Phase), 10)

		f0, a0, ok0 := peak(s.x)
		f1, a1, ok1 := peak(y)
		if ok0 != ok1 {
			t.Fatalf("peak %v, scaled %v", ok0, ok1)
		}
		same(t, "peak's frequency", f0, f1, 1)
		same(t, "peak's amplitude", k*a0, a1, a1)
	})
}

func TestStraightLineChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawStretch(t)
		line := wave{offset: rapid.Float64Range(-50, 50).Draw(t, "offset"), slope: rapid.Float64Range(-1, 1).Draw(t, "slope")}
		y := line.samples(slices.Clone(s.x), len(s.x))
		e := s.fit(t, y)
		sameTone(t, s, e, 1)
		same(t, "phase", 0, apart(s.e.Phase, e.Phase), 10)

		f0, a0, _ := peak(s.x)
		f1, a1, _ := peak(y)
		same(t, "peak's frequency", f0, f1, 1)
		same(t, "peak's amplitude", a0, a1, a1)
	})
}

func TestTimeReversalNegatesGrowth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawStretch(t)
		y := slices.Clone(s.x)
		slices.Reverse(y)
		e := s.fit(t, y)
		n := float64(len(s.x))
		same(t, "frequency", s.e.Frequency*n, e.Frequency*n, 1)
		same(t, "growth", -s.e.Growth*n, e.Growth*n, 1)
		same(t, "damping", -s.e.Damping(), e.Damping(), 1)
		same(t, "middle", s.e.Middle, e.Middle, 10*e.Middle)
		same(t, "phase", 0, apart(-s.e.Phase, e.Phase), 10)
		// The last sample was the first.
		same(t, "amplitude", s.e.Middle*math.Exp(-s.e.Growth*(n-1)/2), e.Amplitude, 10*e.Amplitude)
	})
}

func peak(x []float64) (f, amplitude float64, ok bool) {
	s := tone.NewSpectrum(len(x))
	s.Load(x)
	return s.Peak(0.01, 0.49)
}
