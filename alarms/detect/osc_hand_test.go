package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestHandRests(t *testing.T) {
	var h hand
	assert.False(t, h.rests(100*Second, 1), "an unknown stick is not at rest")
	put := func(v float64, at int64) { h.take(Reading{V: v, OK: true}, at) }
	put(0.2, 10*Second)
	assert.False(t, h.rests(11*Second, 1))
	assert.True(t, h.rests(12*Second+1, 1), "held to one side it rests too")
	put(0.205, 13*Second)
	assert.True(t, h.rests(13*Second, 1), "a trembling gimbal is no move")
	put(0.23, 14*Second)
	assert.False(t, h.rests(15*Second, 1))
	assert.True(t, h.rests(15*Second+1, 0))
	h.take(Reading{}, 20*Second)
	assert.False(t, h.rests(30*Second, 1), "no longer measured")
}

// What comes and goes in blocks is relied on once, and then only after it has
// come with every line for long.
func TestPresenceDoesNotFlip(t *testing.T) {
	var p presence
	changes, was := 0, false
	for k := range 20 * 120 {
		p.take(k%120 < 60)
		if p.there() != was {
			changes, was = changes+1, p.there()
		}
	}
	assert.Equal(t, 2, changes, "there once, and gone")
	for range regain - 1 {
		p.take(true)
	}
	assert.False(t, p.there())
	for range 10 {
		p.take(true)
	}
	assert.True(t, p.there())
	p.take(false)
	assert.True(t, p.there(), "one lost field is nothing")
}
