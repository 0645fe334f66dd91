package account

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whatever is merged, every stretch holds the least and the most of the values
// that were taken in it, and no other.
func TestCurveHoldsAll(t *testing.T) {
	for _, seconds := range []float64{3, 100, 5000} {
		g := newGrid(2)
		chance := rand.New(rand.NewPCG(1, 2))
		type value struct {
			at int64
			v  float32
		}
		var all []value
		for at := int64(0); float64(at) < seconds*1e6; at += 7_000 + chance.Int64N(9_000) {
			late := max(at-chance.Int64N(50_000), 0) // streams lag
			v := value{late, float32(math.Sin(float64(at)/1e6) + chance.Float64())}
			all = append(all, v)
			g.at(v.at)
			g.add(1, float64(v.v))
		}
		assert.Nil(t, g.curve(0, "none", "1", 10_000, 1), "never measured")
		c := g.curve(1, "x", "1", 10_000, 1)
		require.NotNil(t, c)
		assert.LessOrEqual(t, len(c.Min), maxStretches)
		if seconds > 50 {
			assert.GreaterOrEqual(t, len(c.Min), maxStretches/2-1)
		}
		least, most := make([]float32, len(c.Min)), make([]float32, len(c.Min))
		for i := range least {
			least[i], most[i] = none[0], none[1]
		}
		for _, v := range all {
			i := int(float64(v.at) / 1e6 / c.Step)
			least[i], most[i] = min(least[i], v.v), max(most[i], v.v)
		}
		for i := range least {
			if c.Min[i] == nil {
				assert.Equal(t, none[0], least[i])
				continue
			}
			assert.Equal(t, least[i], *c.Min[i])
			assert.Equal(t, most[i], *c.Max[i])
		}
	}
}

// A slow stream has no holes between its lines; a true one stays.
func TestCurveOfASlowStream(t *testing.T) {
	g := newGrid(1)
	for at := int64(0); at < 60_000_000; at += 500_000 {
		if at > 20_000_000 && at < 40_000_000 {
			continue
		}
		g.at(at)
		g.add(0, float64(at))
	}
	c := g.curve(0, "temp_1", "deg C", 500_000, 2)
	assert.GreaterOrEqual(t, c.Step, 1.0)
	for i := range c.Min {
		from, to := c.Step*float64(i), c.Step*float64(i+1)
		if to <= 20 || from >= 40 {
			require.NotNil(t, c.Min[i], "%g s", from)
			assert.InDelta(t, 2*from*1e6, float64(*c.Min[i]), 1e6, "doubled")
		}
		if from > 20 && to < 40 {
			assert.Nil(t, c.Min[i], "%g s", from)
		}
	}
}
