package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// holdRun is a bench whose rotors make a thrust, and whose load cells show it
// in some way.
type holdRun struct {
	thrust func(t float64) float64 // N
	shows  func(t, thrust float64) float64
}

func (h holdRun) streams(tr *trial, hz float64, speeds bool) []stream {
	out := func(t float64) float64 { return math.Sqrt(h.thrust(t) / 40) }
	s := []stream{
		{tag: decode.State, hz: 20, value: steady(state(1, 0, 1, 0.3)...)},
		{tag: decode.Out, hz: hz, loss: 0.03, jitter: 0.1, value: func(t float64) []float64 { return all4(out(t)) }},
		{tag: decode.Load, hz: min(hz, 100), loss: 0.03, jitter: 0.1, value: func(t float64) []float64 {
			return []float64{h.shows(t, h.thrust(t)) + 0.02*tr.rng.NormFloat64()}
		}},
	}
	if speeds {
		s = append(s, stream{tag: decode.ERPM, hz: min(hz, 200), loss: 0.03, jitter: 0.1, value: func(t float64) []float64 {
			return all4(80000 * out(t))
		}})
	}
	return s
}

// weightN is that of the craft of the tests, 6.42 N.
const weightN = 0.655 * gravity

// holdCase is what happens at 8 s.
type holdCase struct {
	name     string
	thrust   func(float64) float64
	shows    func(t, thrust float64) float64
	cause    string // "" silent
	from, to float64
}

// holdCases are at 0.55 of the weight or at 1.35 times it.
func holdCases() []holdCase {
	low := func(t float64) float64 { return ramp(t, 2, 5, 0.1, 0.55*weightN) }
	high := func(t float64) float64 { return ramp(t, 2, 5, 0.1, 1.35*weightN) }
	// As the cells of a tether show it: see simulator/body.go. Tared with the
	// craft on its feet, they show the thrust while pads or lines hold it, and the
	// weight when nothing of it presses or pulls any more.
	after := func(show func(t, thrust float64) float64) func(float64, float64) float64 {
		return func(t, thrust float64) float64 {
			if t < 8 {
				return thrust
			}
			return show(t, thrust)
		}
	}
	part := func(k float64) func(float64, float64) float64 {
		return after(func(_, thrust float64) float64 { return k * thrust })
	}
	return []holdCase{
		{"fine", low, part(1), "", 0, 0},
		{"cells fall to nothing", low, part(0), "load cell or hook lost", 0.14, 0.25},
		{"just over nothing, and still a part", low, part(0.18), "load cell or hook lost", 0.3, 0.5},
		{"one of two cells", low, part(0.5), "load cell or hook lost", 0.3, 0.5},
		{"a part, just over the limit", low, part(0.65), "", 0, 0},
		{"cells jump up", low, part(2.3), "load cell or hook lost", 0.3, 0.5},
		{"just under a jump", low, part(1.9), "", 0, 0},
		{"cells turn over", low, part(-1), "craft turned over, or load cell lost", 0.14, 0.25},
		{"the tether lets go", high, after(func(_, _ float64) float64 { return weightN }), "tether or bolts let go", 0.11, 0.25},
		{"it lets go, but is caught at once", high, after(func(t, thrust float64) float64 {
			if t < 8.09 {
				return weightN
			}
			return thrust
		}), "", 0, 0},
		{"falls back on its feet: a dip of 0.1 s", low, after(func(t, thrust float64) float64 {
			if t < 8.1 {
				return -2
			}
			return thrust
		}), "", 0, 0},
		{"jumps into its tether and bounces", high, func(t, thrust float64) float64 {
			if thrust < weightN {
				return thrust
			}
			// Slack for 0.2 s, a snatch of 0.05 s at twice the thrust, dying away.
			beat := math.Mod(t, 0.25)
			if s := math.Exp(-(t - 4.2)); s > 0.3 {
				if beat < 0.2 {
					return weightN
				}
				return 2 * thrust
			}
			return thrust
		}, "", 0, 0},
		{"throttle is cut", func(t float64) float64 {
			return ramp(t, 2, 5, 0.1, 1.35*weightN) * math.Exp(-max(t-8, 0)/0.06)
		}, func(t, thrust float64) float64 {
			if t > 8 && t < 8.3 { // falls, then dips the pads
				return min(weightN, thrust) - 12*math.Sin(math.Pi*max(0, t-8.15)/0.15)
			}
			return thrust
		}, "", 0, 0},
	}
}

func TestHoldLost(t *testing.T) {
	for _, c := range holdCases() {
		for _, hz := range []float64{50, 200, 1000} {
			for _, speeds := range []bool{true, false} {
				tr := newTrial(NewHoldLost(), heron)
				h := holdRun{thrust: c.thrust, shows: c.shows}
				tr.run(0, 9.4, h.streams(tr, hz, speeds)...)
				watchful(t, tr, true)
				if c.cause == "" {
					if len(tr.said) > 0 {
						t.Errorf("%s at %v: %s", c.name, hz, tr.list())
					}
					continue
				}
				if len(tr.raised()) == 0 {
					t.Errorf("%s at %v: silent", c.name, hz)
					continue
				}
				ch := tr.one(t, Craft, High, 8+c.from, 8+c.to)
				assert.Equal(t, c.cause, ch.story.Cause, c.name)
				assert.Equal(t, "N", ch.story.Unit)
			}
		}
	}
}

// TestHoldLostEnds: it clears when lift is back, and when the motors stop.
func TestHoldLostEnds(t *testing.T) {
	tr := newTrial(NewHoldLost(), heron)
	h := holdRun{
		thrust: func(t float64) float64 { return ramp(t, 2, 5, 0.1, 4) },
		shows: func(t, thrust float64) float64 {
			if t > 8 && t < 10 {
				return 0
			}
			return thrust
		},
	}
	tr.run(0, 12, h.streams(tr, 200, true)...)
	tr.one(t, Craft, High, 8.1, 8.3)
	last := tr.said[len(tr.said)-1]
	assert.Equal(t, "cleared", last.word)
	assert.InDelta(t, 10.5, last.at, 0.1)
}

// TestHoldLostTare: weight that was put on after the cells were tared, and cells
// that show half of what is there, are no loss.
func TestHoldLostTare(t *testing.T) {
	for name, shows := range map[string]func(t, thrust float64) float64{
		"tare": func(_, thrust float64) float64 { return thrust - 2 },
		"more": func(_, thrust float64) float64 { return thrust + 2 },
		"half": func(_, thrust float64) float64 { return thrust / 2 },
		"bent": func(_, thrust float64) float64 { return thrust / (1 + thrust/3) },
	} {
		for _, armed := range []float64{0, 1} { // the tare was seen, or was not
			tr := newTrial(NewHoldLost(), heron)
			h := holdRun{shows: shows, thrust: func(t float64) float64 { return ramp(t, 2, 8, 0, 1.3*weightN) }}
			s := h.streams(tr, 100, true)
			s[0].value = from(1.9, state(armed, 0, 1, 0), state(1, 0, 1, 0.3))
			tr.run(0, 14, s...)
			if len(tr.said) > 0 {
				t.Errorf("%s, armed %v: %s", name, armed, tr.list())
			}
		}
	}
}

func TestHoldLostUnknown(t *testing.T) {
	h := holdRun{
		thrust: func(t float64) float64 { return ramp(t, 2, 5, 0.1, 4) },
		shows:  func(t, thrust float64) float64 { return ramp(t, 8, 8.001, thrust, 0) },
	}
	for name, spoil := range map[string]func(s []stream){
		"lift unknown": func(s []stream) {
			shown := s[2].value
			s[2].value = func(t float64) []float64 {
				if t >= 8 {
					return []float64{no}
				}
				return shown(t)
			}
		},
		"thrust unknown":   func(s []stream) { s[1].value, s[3].value = steady(no, no, no, no), steady(no, no, no, no) },
		"one rotor of two": func(s []stream) { s[1].value, s[3].value = steady(0.3, no, no, no), steady(2e4, no, no, no) },
	} {
		t.Run(name, func(t *testing.T) {
			tr := newTrial(NewHoldLost(), heron)
			s := h.streams(tr, 200, true)
			spoil(s)
			tr.run(0, 10, s...)
			tr.silent(t)
			watchful(t, tr, false)
		})
	}
	free := heron
	free.Hold = craft.Free
	tr := newTrial(NewHoldLost(), free)
	tr.run(0, 10, h.streams(tr, 200, true)...)
	tr.silent(t)
	watchful(t, tr, false)

	// Without the mass a tether cannot be known to be taut; cells can fall.
	light := heron
	light.MassG = 0
	tr = newTrial(NewHoldLost(), light)
	tr.run(0, 10, h.streams(tr, 200, true)...)
	tr.one(t, Craft, High, 8.1, 8.3)
}

// TestHoldLostDisarmed: lift that is pulled out of disarmed cells by hand, and
// a craft that turns fast, are not this alarm's.
func TestHoldLostDisarmed(t *testing.T) {
	h := holdRun{
		thrust: func(t float64) float64 { return ramp(t, 2, 5, 0.1, 4) },
		shows:  func(t, thrust float64) float64 { return ramp(t, 8, 8.001, thrust, 0) },
	}
	tr := newTrial(NewHoldLost(), heron)
	s := h.streams(tr, 200, true)
	s[0].value = from(7.9, state(1, 0, 1, 0.3), state(0, 0, 1, 0))
	tr.run(0, 10, s...)
	tr.silent(t)

	tr = newTrial(NewHoldLost(), heron)
	s = append(h.streams(tr, 200, true), stream{tag: decode.Axes, hz: 200, value: from(7.95, []float64{0, 0, 0}, []float64{400, 0, 0})})
	tr.run(0, 10, s...)
	tr.silent(t)
}

func TestHoldLostReset(t *testing.T) {
	tr := newTrial(NewHoldLost(), heron)
	h := holdRun{
		thrust: func(t float64) float64 { return ramp(t, 2, 5, 0.1, 1.35*weightN) },
		shows:  func(t, thrust float64) float64 { return ramp(t, 8, 8.001, thrust, weightN) },
	}
	s := h.streams(tr, 200, true)
	tr.run(0, 8, s...)
	tr.d.Reset()
	tr.run(8, 10, s...) // it is not known any more that the tether was taut
	tr.silent(t)
}
