package compare

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A stage says when it was held: a stretch for each hold, that of two holds of
// one throttle apart, and no more seconds than its blocks have.
func TestHeld(t *testing.T) {
	r := Between(session(noisy(1, 0.01), 0.3, 0.45, 0.3), session(noisy(2, 0.01), 0.3))
	found := 0
	for _, s := range r.Stages {
		for _, side := range []struct {
			held    []Span
			seconds float64
		}{{s.HeldA, s.SecondsA}, {s.HeldB, s.SecondsB}} {
			sum, last := 0.0, math.Inf(-1)
			for _, h := range side.held {
				assert.Greater(t, h.From, last)
				assert.Greater(t, h.To, h.From)
				sum, last = sum+h.To-h.From, h.To
			}
			assert.InDelta(t, side.seconds, sum, 0.3, s.Name)
		}
		if s.Name == "throttle 0.30" {
			found++
			require.Len(t, s.HeldA, 2)
			require.Len(t, s.HeldB, 1)
			// Idle 7 s and a ramp of 2 s, then a hold of 6 s, of which a part settles.
			assert.Greater(t, s.HeldA[0].From, 9.0)
			assert.Less(t, s.HeldA[0].To, 15.6)
			assert.Greater(t, s.HeldA[1].From, 25.0)
			assert.Less(t, s.HeldA[1].To, 31.6)
		}
	}
	assert.Equal(t, 1, found)
}

// What matters stands in each row, on the scale of its interval.
func TestRowsTellWhatMatters(t *testing.T) {
	r := Between(session(noisy(1, 0.01), 0.3), session(noisy(2, 0.01), 0.3))
	seen := map[string]float64{}
	for _, row := range r.Rows {
		seen[row.Measure] = row.Matters
	}
	assert.InDelta(t, 1.1, seen["control"], 1e-9)
	assert.InDelta(t, 1.1, seen["rate_roll"], 1e-9)
	if v, ok := seen["balance"]; ok {
		assert.InDelta(t, 0.03, v, 1e-9)
	}
}
