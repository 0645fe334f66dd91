package decode

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestTicks: so many ticks a step apart, then one after a hole.
func TestTicks(t *testing.T) {
	for _, c := range []struct {
		name             string
		before           int
		step, hole, want int64
	}{
		{"four seconds at 20 ms", 50, 20, 4000, 4000},
		{"four seconds at 100 ms", 50, 100, 4000, 4000},
		{"a busy machine", 50, 20, 120, 0},
		{"a busy machine at 100 ms", 50, 100, 300, 0},
		{"a recording with a tick a second", 50, 1000, 3000, 0},
		{"nothing is learned yet", 3, 20, 4000, 0},
		{"back", 50, 20, -4000, 0},
	} {
		var k Ticks
		ms := int64(7)
		for range c.before {
			ms += c.step
			assert.Zero(t, k.Next(ms), c.name)
		}
		ms += c.hole
		assert.Equal(t, c.want, k.Next(ms), c.name)
		assert.Zero(t, k.Next(ms+c.step), c.name)
		assert.Equal(t, c.want, k.Next(ms+c.step+c.hole), c.name+", again")
	}
}
