package tone_test

import (
	"fmt"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"tetherbell/alarms/tone"
)

// Against an independent library's transform of the same windowed samples, at
// every size that a window of up to 1280 samples is padded to: each bin to
// within 1e-12 of the strongest.
func TestPowerOfALibrary(t *testing.T) {
	seen := map[int]bool{}
	for n := 1; n <= 1280; n++ {
		s := tone.NewSpectrum(n)
		if seen[s.Padded()] && n%97 != 0 {
			continue
		}
		seen[s.Padded()] = true
		x := wave{amplitude: 1, frequency: 0.123, phase: 1, offset: 3, slope: -0.01}.samples(nil, n)
		newNoise(uint64(n)).addTo(x, 0.3)
		s.Load(x)
		flat, w := flatten(x), tone.Hann(n)
		padded := make([]float64, s.Padded())
		for i := range w {
			if n > 1 {
				padded[i] = flat[i] * w[i]
			}
		}
		want := fourier.NewFFT(s.Padded()).Coefficients(nil, padded)
		most := 1e-3
		for _, c := range want {
			most = max(most, 4*cmplx.Abs(c)/float64(n))
		}
		for k, c := range want {
			a := 4 * cmplx.Abs(c) / float64(n)
			near(t, fmt.Sprintf("n %d of %d, bin %d", n, s.Padded(), k), a*a, s.Power(k), 1e-12*most*most)
		}
	}
	if len(seen) < 20 {
		t.Errorf("only %d sizes", len(seen))
	}
}

// A spectrum that is asked for a part of its bins gives the same there, to the
// bit, and nothing elsewhere.
func TestPartOfASpectrum(t *testing.T) {
	for _, n := range []int{70, 100, 192, 400, 800} {
		x := wave{amplitude: 1, frequency: 0.05, growth: 1e-3}.samples(nil, n)
		newNoise(2).addTo(x, 0.5)
		whole := tone.NewSpectrum(n)
		whole.Load(x)
		for _, band := range [][2]float64{{0, 0.5}, {0.03, 0.12}, {0.2, 0.4}, {0, 0.01}, {0.45, 0.5}} {
			part := tone.NewSpectrum(n)
			lo, hi := part.Only(band[0], band[1])
			part.Load(x)
			for k := range whole.Bins() {
				want := whole.Power(k)
				if k < lo || k > hi {
					want = 0
				}
				if got := part.Power(k); got != want {
					t.Errorf("n %d band %v bin %d: %g, not %g", n, band, k, got, want)
				}
			}
		}
	}
}
