package detect

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tetherbell/decode"
)

// A climb is a craft whose outputs are functions of time, at a stick of its own.
type climb struct {
	stick         func(t float64) float64
	out           func(t float64, motor int) float64
	thr           func(t float64) float64 // nil: not known
	volts, speed  func(t float64) float64 // nil: not known
	armed         func(t float64) []float64
	hz, jit, loss float64
	stateHz       float64
}

func (c *climb) run(seconds float64) *trial {
	bird := heron
	bird.IdleReady, bird.IdleLeast = 0.08, 0.10
	tr := newTrial(NewRunaway(), bird)
	st := func(t float64) []float64 {
		if c.armed != nil {
			return c.armed(t)
		}
		return state(1, 0, 1, c.stick(t))
	}
	streams := []stream{
		{decode.State, c.stateHz, 0, c.loss, st},
		{decode.Out, c.hz, c.jit, c.loss, func(t float64) []float64 {
			v := make([]float64, 4)
			for i := range v {
				v[i] = min(max(c.out(t, i), 0), 1)
			}
			return v
		}},
		{decode.Axes, max(c.hz, 50), c.jit, c.loss, func(t float64) []float64 {
			thr := no
			if c.thr != nil {
				thr = c.thr(t)
			}
			return []float64{0, 0, 0, 0, 0, 0, 0, 0, 0, thr}
		}},
	}
	if c.volts != nil {
		streams = append(streams, stream{decode.Pack, 20, 0, c.loss, func(t float64) []float64 { return []float64{c.volts(t), 10} }})
	}
	if c.speed != nil {
		streams = append(streams, stream{decode.ERPM, 50, 0, c.loss, func(t float64) []float64 { return all4(c.speed(t)) }})
	}
	tr.run(0, seconds, streams...)
	return tr
}

func still(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// rampAt climbs by so much from a time on, so fast (a second).
func rampAt(at, by, pace float64) func(float64) float64 {
	return func(t float64) float64 { return min(max(0, (t-at)*pace), by) }
}

func TestRunaway(t *testing.T) {
	for _, tt := range []struct {
		name  string
		c     climb
		rings bool
		cause string
	}{
		{"steady", climb{stick: still(0.3), out: func(float64, int) float64 { return 0.35 }}, false, ""},
		{"climbs by itself", climb{stick: still(0.3), out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.3)(t) }}, true, "outputs rise"},
		{"with its throttle", climb{stick: still(0.3), thr: func(t float64) float64 { return 0.35 + rampAt(5, 0.4, 0.3)(t) },
			out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.3)(t) }}, true, "hold mode"},
		{"under the limit", climb{stick: still(0.3), out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.145, 0.3)(t) }}, false, ""},
		{"slower than that", climb{stick: still(0.3), out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.13)(t) }}, false, ""},
		{"asked for", climb{stick: func(t float64) float64 { return 0.3 + rampAt(5, 0.4, 0.3)(t) },
			out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.3)(t) }}, false, ""},
		{"asked for at once", climb{stick: func(t float64) float64 { return 0.3 + rampAt(5, 0.4, 4)(t) },
			out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 4)(t) }}, false, ""},
		{"falls", climb{stick: still(0.6), out: func(t float64, _ int) float64 { return 0.6 - rampAt(5, 0.4, 0.3)(t) }}, false, ""},
		{"swings", climb{stick: still(0.3), out: func(t float64, m int) float64 {
			return 0.35 + 0.2*float64(1-m%2*2)*math.Sin(2*math.Pi*4*t)*min(t/5, 1)
		}}, false, ""},
		{"swings over its bounds", climb{stick: still(0.15), thr: still(0.2), out: func(t float64, m int) float64 {
			return max(0.10, 0.2+0.7*float64(1-m%2*2)*math.Sin(2*math.Pi*6*t)*min(max(t-4, 0), 1))
		}}, false, ""},
		{"pushes at its bounds", climb{stick: still(0.15), thr: still(0.2), out: func(t float64, m int) float64 {
			return max(0.10, 0.2+float64(1-m%2*2)*rampAt(5, 0.6, 0.7)(t))
		}}, true, "bounds"},
		{"pack falls, speed level", climb{stick: still(0.5), volts: func(t float64) float64 { return 16 * (1 - rampAt(5, 0.25, 0.4)(t)) }, speed: still(40000),
			out: func(t float64, _ int) float64 { return 0.55 / (1 - rampAt(5, 0.25, 0.4)(t)) }}, false, ""},
		{"pack falls, speed climbs", climb{stick: still(0.3), volts: func(t float64) float64 { return 16 - rampAt(5, 1, 1)(t) }, speed: func(t float64) float64 { return 40000 * (1 + rampAt(5, 1, 0.8)(t)) },
			out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.3)(t) }}, true, ""},
		{"pack holds, speed not told", climb{stick: still(0.3), volts: still(16),
			out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.3)(t) }}, true, ""},
		{"stick at zero: ground-thrust's", climb{stick: still(0), out: func(t float64, _ int) float64 { return 0.08 + rampAt(5, 0.4, 0.3)(t) }}, false, ""},
		{"first touch", climb{stick: rampAt(5, 0.03, 0.03), out: func(t float64, _ int) float64 {
			if t > 5.4 {
				return 0.55
			}
			return 0.08
		}}, false, ""},
		{"spins up at arming", climb{armed: func(t float64) []float64 { return state(float64(min(1, int(t/5))), 0, 1, 0.2) }, stick: still(0.2),
			out: func(t float64, _ int) float64 { return rampAt(5, 0.3, 0.4)(t) }}, false, ""},
		{"disarmed", climb{armed: steady(state(0, 0, 1, 0.3)...), stick: still(0.3), out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.3)(t) }}, false, ""},
		{"stick not known", climb{armed: steady(state(1, 0, 1, no)...), stick: still(0.3), out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.3)(t) }}, false, ""},
		{"a motor stops telling", climb{stick: still(0.3), out: func(t float64, m int) float64 {
			if m == 0 && t > 5 {
				return no
			}
			return []float64{0.1, 0.5, 0.8, 0.8}[m]
		}}, false, ""},
	} {
		for _, p := range [][3]float64{{25, 0, 0}, {50, 0.3, 0.05}, {200, 0.3, 0.05}, {1000, 0, 0}} {
			for _, stateHz := range []float64{10, 50} {
				c := tt.c
				c.hz, c.jit, c.loss, c.stateHz = p[0], p[1], p[2], stateHz
				t.Run(fmt.Sprintf("%s %v %v", tt.name, p, stateHz), func(t *testing.T) {
					tr := c.run(9)
					if !tt.rings {
						tr.silent(t)
						return
					}
					// 0.3 a second is over the limit after half a second.
					late := 0.1 + 0.06 + 2.5/stateHz
					got := tr.one(t, Craft, High, 5.35, 5.5+late)
					if !strings.Contains(got.story.Cause, tt.cause) {
						t.Error(got.story.Cause)
					}
				})
			}
		}
	}
}

// At fast streams it rings within 0.1 s of the rise that passes the limit.
func TestRunawayIsQuick(t *testing.T) {
	for _, hz := range []float64{50, 200, 1000} {
		for _, pace := range []float64{0.2, 0.5, 5} {
			c := climb{stick: still(0.3), hz: hz, stateHz: 50, thr: still(0.35), out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.5, pace)(t) }}
			passed := 5 + 0.15/pace
			c.run(8).one(t, Craft, High, passed, passed+0.1)
		}
	}
}

// Lowering the stick does not call it off while the outputs stay up; outputs
// that come down do, and so does a stop.
func TestRunawayEnds(t *testing.T) {
	down := func(t float64) float64 { return max(0, 0.3-rampAt(7, 0.3, 1)(t)) }
	c := climb{stick: down, hz: 100, stateHz: 50, out: func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.5)(t) }}
	tr := c.run(10)
	if len(tr.raised()) != 1 || len(tr.up) != 1 {
		t.Errorf("said%s", tr.list())
	}
	c.out = func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.5)(t) - rampAt(7, 0.6, 1)(t) }
	if tr = c.run(10); len(tr.raised()) != 1 || len(tr.up) != 0 {
		t.Errorf("said%s", tr.list())
	}
	c.stick = still(0.3)
	c.out = func(t float64, _ int) float64 { return 0.35 + rampAt(5, 0.4, 0.5)(t) }
	tr = c.run(7)
	if tr.d.Reset(); len(tr.d.Judge(&tr.b, nil)) != 0 {
		t.Error("Reset keeps the rise")
	}
	tr = newTrial(NewRunaway(), heron)
	watchful(t, tr, false)
	tr.run(0, 1, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0.3)...)}, stream{decode.Out, 50, 0, 0, steady(all4(0.3)...)})
	watchful(t, tr, true)
	tr.run(1, 2, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, no)...)})
	watchful(t, tr, false)
}
