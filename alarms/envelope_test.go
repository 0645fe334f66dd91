package alarms

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A wire delays lines. Its frame is what a port hands over at once: a read then
// ends at the next multiple of it, as adapters do every 1 to 16 ms.
type wire struct {
	rng   *rand.Rand
	mean  float64 // of an exponential delay, microseconds
	frame int64   // microseconds; 1: none
	phase int64
}

func (w *wire) arrives(at int64) int64 {
	at += int64(w.rng.ExpFloat64() * w.mean)
	return (at-w.phase+w.frame-1)/w.frame*w.frame + w.phase
}

// The truth is drawn: a clock that is off by up to 100 ppm, delays that are
// exponential, and ports that hand over in frames. An hour of it is gone through
// line by line, and the estimate is asked a thousand times.
func TestEnvelopeHoldsTheTruth(t *testing.T) {
	for _, c := range []struct {
		mean   float64
		frame  int64
		period int64
	}{
		{0, 1, 10_000}, {300, 1, 1000}, {2000, 1, 10_000}, {8000, 1, 100_000},
		{300, 1000, 1000}, {300, 16_000, 1100}, {1000, 16_000, 10_300}, {2000, 8000, 20_700}, {200, 4000, 97_000},
	} {
		t.Run(fmt.Sprintf("%.0f_%d_%d", c.mean, c.frame, c.period), func(t *testing.T) {
			asked, held, worst, sum, late := 0, 0, 0.0, 0.0, 0
			for seed := range uint64(12) {
				rng := rand.New(rand.NewPCG(seed, 7))
				w := wire{rng: rng, mean: c.mean, frame: c.frame, phase: rng.Int64N(c.frame)}
				ppm, zero := rng.Float64()*200-100, rng.Int64N(1e12)
				var e envelope
				for own := int64(0); own < 300_000_000; own += c.period {
					true0 := zero + int64(float64(own)*ppm/1e6)
					e.take(own, w.arrives(own+true0))
					if rng.IntN(int(1_000_000/c.period)+1) > 0 {
						continue
					}
					off := math.Abs(float64(e.offset(own) - true0))
					asked++
					if off <= float64(e.unsure()) {
						held++
					}
					if own > 20_000_000 {
						worst, sum, late = max(worst, off), sum+off, late+1
					}
				}
			}
			share := float64(held) / float64(asked)
			t.Logf("held %.4f of %d, mean error %.0f us, worst after 20 s %.0f us", share, asked, sum/float64(late), worst)
			assert.GreaterOrEqual(t, share, 0.95)
		})
	}
}

// An hour of one clock: the drift that is stated holds the true one as often as
// it says, and the error does not grow with the hours.
func TestEnvelopeOverAnHour(t *testing.T) {
	for _, ppm := range []float64{-100, -20, 0, 35, 100} {
		w := wire{rng: rand.New(rand.NewPCG(3, uint64(1000+ppm))), mean: 1500, frame: 16_000}
		var e envelope
		asked, held, heldDrift := 0, 0, 0
		for own := int64(0); own < 3_600_000_000; own += 9_700 {
			clock := 77 + int64(float64(own)*ppm/1e6)
			e.take(own, w.arrives(own+clock))
			got, unsure, known := e.slopePPM()
			if own%97_000 != 0 || !known {
				continue
			}
			asked++
			if math.Abs(float64(e.offset(own)-clock)) <= float64(e.unsure()) {
				held++
			}
			if math.Abs(got-ppm) <= unsure {
				heldDrift++
			}
		}
		assert.Greater(t, asked, 10_000)
		assert.GreaterOrEqual(t, float64(held)/float64(asked), 0.95, "%v ppm", ppm)
		assert.GreaterOrEqual(t, float64(heldDrift)/float64(asked), 0.95, "%v ppm", ppm)
	}
}

// A clock that loses time, or gains some, is measured anew within a few seconds.
func TestEnvelopeStep(t *testing.T) {
	for _, step := range []int64{200_000, -200_000, 5_000_000, -5_000_000} {
		var e envelope
		for own := int64(0); own < 60_000_000; own += 10_000 {
			host := own + 1_000_000
			if own >= 30_000_000 {
				host += step
			}
			e.take(own, host)
			if own < 30_000_000 || own > 34_000_000 {
				require.Equal(t, host-own, e.offset(own), "step %d at %d", step, own)
			}
		}
	}
}

// What waited in a port that nobody read comes first, late by seconds: it tells
// nothing of the jitter of what follows.
func TestEnvelopeBeginsWithAHeap(t *testing.T) {
	var e envelope
	for own := int64(0); own < 40_000_000; own += 10_000 {
		e.take(own, max(own+500, 3_000_000))
	}
	assert.EqualValues(t, 500, e.offset(40_000_000))
	assert.Less(t, e.unsure(), int64(1000))
}

// Days of silence and wild times neither overflow nor draw a line that is none.
func TestEnvelopeWild(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		var e envelope
		own := int64(0)
		for range 300 {
			own += int64(math.Exp(rng.Float64() * 26)) // up to days
			host := own + rng.Int64N(1+int64(math.Exp(rng.Float64()*22)))
			e.take(own, host)
			off := host - own - e.offset(own)
			require.GreaterOrEqual(t, off, int64(0), "a delay is never negative")
			require.LessOrEqual(t, max(e.slope, -e.slope), steepest)
		}
	}
}

// A small step of a clock is no drift, and neither is what the slope is held to.
func TestEnvelopeTellsNoDriftOfAStep(t *testing.T) {
	for name, tc := range map[string]struct {
		host  func(t int64) int64
		known bool
	}{
		"straight":  {func(t int64) int64 { return t + t/10_000 }, true},
		"a step":    {func(t int64) int64 { return t + t/40_000_000*40_000%80_000 }, false},
		"too steep": {func(t int64) int64 { return t + t/3 }, false},
	} {
		t.Run(name, func(t *testing.T) {
			var e envelope
			for at := int64(0); at < 60_000_000; at += 5000 {
				e.take(at, tc.host(at))
			}
			ppm, unsure, known := e.slopePPM()
			assert.Equal(t, tc.known, known, "%v ± %v", ppm, unsure)
		})
	}
}
