package account

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The long-run variance of x[n] = phi x[n-1] + e[n] is s^2/(1-phi)^2, so that the
// mean of N values has the standard error s/((1-phi) sqrt(N)) (G. E. P. Box and
// G. M. Jenkins, Time Series Analysis, chapter 3; from memory). Batches of 50
// values hold to it although neighbours go together; the plain error of single
// values, taken as independent, would be seven times too small.
func TestBatchMeansOfValuesThatFollow(t *testing.T) {
	const (
		of, batch, runs = 6000, 50, 300
		spread          = 0.01
	)
	for _, phi := range []float64{0, 0.8, 0.96, 0.98} {
		chance := rand.New(rand.NewPCG(7, uint64(1000*phi)))
		want := spread / (1 - phi) / math.Sqrt(of)
		said, got, covered := 0.0, 0.0, 0
		for range runs {
			var b batches
			x, sum := spread/math.Sqrt(1-phi*phi)*chance.NormFloat64(), 0.0
			for i := range of {
				x = phi*x + spread*chance.NormFloat64()
				if sum += x; i%batch == batch-1 {
					b.add(5+sum/batch, true)
					sum = 0
				}
			}
			se, ok := b.se()
			require.True(t, ok)
			said += se * se / runs
			got += (b.mean - 5) * (b.mean - 5) / runs
			if math.Abs(b.mean-5) < 1.96*se {
				covered++
			}
		}
		assert.InEpsilon(t, want, math.Sqrt(got), 0.15, "phi %g: the mean itself", phi)
		assert.InEpsilon(t, want, math.Sqrt(said), 0.15, "phi %g", phi)
		assert.Greater(t, float64(covered)/runs, 0.90, "phi %g: 95 %% intervals", phi)
	}
}

func TestBatchesOfFew(t *testing.T) {
	var b batches
	b.add(1, false)
	b.add(2, true)
	_, ok := b.se()
	assert.False(t, ok)
	b.add(3, true)
	se, ok := b.se()
	assert.True(t, ok)
	assert.InDelta(t, 1/math.Sqrt(3), se, 1e-12) // deviation 1 over the root of 3
	assert.InDelta(t, 2, b.mean, 1e-12)
}
