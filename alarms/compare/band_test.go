package compare

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestBand holds the band against the response of the filter that it stands
// for: two first-order sections at each end, |H| = 1/(1+(f/fc)^2) twice over for
// the low-pass, its mirror image for the high-pass.
func TestBand(t *testing.T) {
	response := func(f float64) float64 {
		low, high := bandLow*pair, bandHigh/pair
		return f * f / (f*f + low*low) / (1 + f*f/high/high)
	}
	assert.InDelta(t, math.Sqrt(0.5), response(bandLow), 0.001, "-3 dB at its ends")
	assert.InDelta(t, math.Sqrt(0.5), response(bandHigh), 0.002)
	for _, c := range []struct{ hz, rate, jitter, lost, within float64 }{
		{0.2, 400, 0, 0, 0.05}, {1.9, 400, 0, 0, 0.02}, {5, 400, 0.03, 0.02, 0.03}, {14, 400, 0.03, 0.02, 0.05},
		{14, 1000, 0, 0, 0.03}, {30, 1000, 0, 0, 0.05}, {60, 2000, 0, 0, 0.06}, {200, 2000, 0, 0, 0.15}, {6, 50, 0, 0, 0.2},
	} {
		rng := rand.New(rand.NewPCG(1, 2))
		var b band
		var m mean
		last := 0.0
		for i := range int(c.rate * 12) {
			at := (float64(i) + c.jitter*rng.NormFloat64()) / c.rate
			if i == 0 || rng.Float64() < c.lost {
				continue
			}
			y := b.take(3+math.Sin(2*math.Pi*c.hz*at), stepOf(at-last))
			last = at
			if at > 2 {
				m.add(y)
			}
		}
		assert.InEpsilon(t, response(c.hz)/math.Sqrt2, m.rms(1), c.within, "%v", c)
	}
}
