package tone_test

import (
	"math"
	"math/rand/v2"
	"testing"
)

// wave is a growing sinusoid with offset and drift; time counts from the
// middle of the stretch, as in an Estimate.
type wave struct {
	amplitude, frequency, growth, phase float64
	offset, slope                       float64
}

// samples adds n samples of the wave to dst (made where nil).
func (w wave) samples(dst []float64, n int) []float64 {
	if dst == nil {
		dst = make([]float64, n)
	}
	for i := range dst {
		t := float64(i) - float64(n-1)/2
		dst[i] += w.amplitude*math.Exp(w.growth*t)*math.Cos(2*math.Pi*w.frequency*t+w.phase) + w.offset + w.slope*t
	}
	return dst
}

// end is the amplitude at the last of n samples.
func (w wave) end(n int) float64 { return w.amplitude * math.Exp(w.growth*float64(n-1)/2) }

// noise is white and Gaussian, the same in every run.
type noise struct{ *rand.Rand }

func newNoise(seed uint64) noise { return noise{rand.New(rand.NewPCG(seed, 0x746f6e65))} }

func (r noise) addTo(x []float64, sd float64) {
	for i := range x {
		x[i] += sd * r.NormFloat64()
	}
}

// apart is the distance of two angles.
func apart(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 2*math.Pi)) }

// near fails the test where got lies further than within from want.
func near(t *testing.T, what string, want, got, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.10g, want %.10g within %.3g", what, got, want, within)
	}
}

// under fails the test where got does not lie under limit.
func under(t *testing.T, what string, limit, got float64) {
	t.Helper()
	if !(got < limit) {
		t.Errorf("%s: got %.6g, want under %.6g", what, got, limit)
	}
}
