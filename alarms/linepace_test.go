package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestLinesOfTheLastSecond: a flood is counted while it comes and no longer, and so
// is what comes again after a silence, from the first line on.
func TestLinesOfTheLastSecond(t *testing.T) {
	var p linePace
	assert.Zero(t, p.rate(0))
	now := int64(7_000_000)
	run := func(seconds, hz float64) {
		for end := now + int64(seconds*1e6); now < end; now += int64(1e6 / hz) {
			p.line(now)
		}
	}
	run(0.35, 800)
	assert.InDelta(t, 800, p.rate(now), 5, "before there is a whole second")
	run(5, 800)
	assert.InDelta(t, 800, p.rate(now), 2)
	run(1.1, 8000)
	assert.InDelta(t, 8000, p.rate(now), 20, "a flood")
	run(0.5, 800)
	assert.InDelta(t, 4400, p.rate(now), 750, "half a second after it")
	run(0.6, 800)
	assert.InDelta(t, 800, p.rate(now), 2, "a second after it")
	now += 500_000
	assert.InDelta(t, 400, p.rate(now), 82, "a silence of half a second")
	now += 2_000_000
	assert.Zero(t, p.rate(now))
	run(0.5, 800)
	assert.InDelta(t, 400, p.rate(now), 82, "half a second after it")
	run(0.6, 800)
	assert.InDelta(t, 800, p.rate(now), 2, "a second after it")
	assert.Zero(t, testing.AllocsPerRun(100, func() { p.line(now); p.rate(now) }))
}
