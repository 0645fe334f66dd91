package tone_test

import (
	"fmt"
	"testing"

	"tetherbell/alarms/tone"
)

// bench is a growing sinusoid in noise as a window of a run holds it.
func bench(n int) (x []float64, f float64) {
	w := wave{amplitude: 0.05, frequency: 0.11, growth: 1 / float64(n), phase: 0.7, offset: 0.02, slope: 1e-4}
	x = w.samples(nil, n)
	newNoise(1).addTo(x, 0.005)
	return x, w.frequency
}

// The work of one window must not allocate.
func TestWorkAllocatesNothing(t *testing.T) {
	for _, n := range []int{80, 160} {
		x, f := bench(n)
		s, fitter := tone.NewSpectrum(n), tone.NewFitter(n)
		s.Load(x)
		for name, work := range map[string]func(){
			"Load": func() { s.Load(x) },
			"Peak": func() { s.Peak(0.02, 0.3) },
			"Band": func() { s.Band(0.02, 0.3) },
			"Fit":  func() { fitter.Fit(x, f) },
			"At":   func() { tone.At(x, f, 0.01) },
		} {
			if got := testing.AllocsPerRun(100, work); got != 0 {
				t.Errorf("%s of %d samples allocates %g times", name, n, got)
			}
		}
	}
}

func BenchmarkLoad(b *testing.B) {
	each(b, func(b *testing.B, x []float64, _ float64) {
		s := tone.NewSpectrum(len(x))
		for b.Loop() {
			s.Load(x)
		}
	})
}

func BenchmarkPeak(b *testing.B) {
	each(b, func(b *testing.B, x []float64, f float64) {
		s := tone.NewSpectrum(len(x))
		s.Load(x)
		for b.Loop() {
			if _, _, ok := s.Peak(f-0.05, f+0.05); !ok {
				b.Fatal("no peak")
			}
		}
	})
}

func BenchmarkFit(b *testing.B) {
	each(b, func(b *testing.B, x []float64, f float64) {
		fitter := tone.NewFitter(len(x))
		for b.Loop() {
			if _, ok := fitter.Fit(x, f); !ok {
				b.Fatal("no fit")
			}
		}
	})
}

func BenchmarkAt(b *testing.B) {
	each(b, func(b *testing.B, x []float64, f float64) {
		for b.Loop() {
			tone.At(x, f, 0.01)
		}
	})
}

func each(b *testing.B, run func(b *testing.B, x []float64, f float64)) {
	for _, n := range []int{80, 160} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			x, f := bench(n)
			b.ReportAllocs()
			run(b, x, f)
		})
	}
}
