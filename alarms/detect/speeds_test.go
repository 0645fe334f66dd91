package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestSpeedsKnown: a report without one usable speed is none, and a report
// that stops is not trusted on.
func TestSpeedsKnown(t *testing.T) {
	s := newSpeeds(8, Second/20)
	var b Bench
	b.Motors = 4
	say := func(at int64, rpm float64, ok bool) {
		b.Now = at
		for m := range 4 {
			b.RPM[m] = Reading{V: rpm, OK: ok, At: at}
		}
		s.set(&b)
	}
	say(0, 0, true)
	assert.False(t, s.known(0), "nothing turns")
	say(Second, 9000, false)
	assert.False(t, s.known(Second), "poles not known")
	say(2*Second, 9000, true)
	assert.True(t, s.known(2*Second))
	assert.InDelta(t, 150, s.hz[s.row(0)][0], 1e-9)
	for at := 2 * Second; at < 5*Second; at += Second / 10 {
		say(at, 0, true)
	}
	assert.False(t, s.known(5*Second), "dead since three seconds")
	assert.Equal(t, 1, s.rows())
}
