package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
)

// rated is the craft of the tests with a rating of 40 A.
func rated() *trial {
	c := heron
	c.RatedA = 40
	return newTrial(NewOverCurrent(), c)
}

// surge is a current over a rest of 20 A for so long.
func surge(hz, amps, seconds float64) stream {
	return packOf(hz, func(s float64) (float64, float64) {
		if s >= 3 && s < 3+seconds-1e-9 {
			return 3.8, amps
		}
		return 3.8, 20
	})
}

func TestOverCurrentLimits(t *testing.T) {
	for _, hz := range []float64{5, 10, 20, 50} {
		for _, c := range []struct {
			amps, seconds float64
			rings         bool
		}{{40, 5, false}, {40.1, 5, true}, {80, 0.1, false}, {80, 0.16, false}, {80, 0.7, true}, {45, 0.7, true}} {
			tr := rated()
			tr.run(0, 9, append(spinning(even), surge(hz, c.amps, c.seconds))...)
			if !c.rings {
				if len(tr.said) > 0 {
					t.Errorf("%v at %v a second: %s", c, hz, tr.list())
				}
				continue
			}
			got := tr.one(t, Pack, High, 3+0.2-0.6/hz, 3+0.2+1.1/hz+0.02)
			assert.InDelta(t, c.amps, got.value, 1e-9)
			assert.Equal(t, 40.0, got.limit)
			assert.Equal(t, "A", got.story.Unit)
			assert.Regexp(t, "^(cut throttle|press stop)", got.story.Action)
			assert.Equal(t, "cleared", tr.said[len(tr.said)-1].word)
		}
	}
}

func TestOverCurrentOnABadLink(t *testing.T) {
	for _, hz := range []float64{5, 20, 50} {
		tr := rated()
		s := surge(hz, 60, 3)
		s.jitter, s.loss = 0.3, 0.05
		tr.run(0, 9, append(spinning(even), s)...)
		tr.one(t, Pack, High, 3.05, 4)
	}
	// One that swings about the rating rings by its mean, one alarm in all, and
	// one whose mean is under it does not.
	for mean, rings := range map[float64]bool{44: true, 36: false} {
		tr := rated()
		tr.run(0, 8, append(spinning(even), packOf(50, func(s float64) (float64, float64) {
			return 3.8, mean + 30*math.Sin(2*math.Pi*6*s)
		}))...)
		if rings {
			tr.one(t, Pack, High, 0.5, 1.5)
		} else {
			tr.silent(t)
		}
	}
}

func TestOverCurrentUnknownAndReset(t *testing.T) {
	tr := rated()
	over := packIs(50, 3.8, 60)
	tr.run(0, 0.15, over)
	tr.run(0.15, 0.2, stream{tag: decode.Pack, hz: 50, value: steady(15, no)})
	watchful(t, tr, false)
	tr.run(0.2, 0.35, over)
	tr.d.Reset()
	tr.run(0.35, 0.5, over)
	tr.silent(t)
	tr.run(0.5, 1, over)
	tr.one(t, Pack, High, 0.5, 0.6)
	watchful(t, tr, true)
	tr.run(1, 5, spinning(even)...)
	assert.Len(t, tr.said, 1, tr.list())
	watchful(t, tr, false)

	tr = newTrial(NewOverCurrent(), heron)
	tr.run(0, 5, packIs(20, 3.8, 900))
	tr.silent(t)
	assert.Equal(t, "no rated current in the craft file (rated_a)", tr.d.Missing(&tr.b))
}

func TestOverCurrentTellsWhy(t *testing.T) {
	stuck := spinning(even)
	stuck[2].value = steady(3e4, 3e4, 0, 3e4)
	for cause, streams := range map[string][]stream{
		"m3 stands":                       stuck,
		"so little output":                spinning(even),
		"outputs near full":               spinning([4]float64{0.9, 0.9, 0.9, 0.9}),
		"blocked rotor, short, too large": spinning(even)[:1],
	} {
		tr := rated()
		tr.run(0, 6, append(streams, surge(20, 60, 2))...)
		assert.Contains(t, tr.one(t, Pack, High, 3.1, 3.3).story.Cause, cause)
	}
}
