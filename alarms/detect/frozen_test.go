package detect

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// quantum rounds to the last digit that a stream sends.
func quantum(v, step float64) float64 { return math.Round(v/step) * step }

// trembling are rates, temperatures, pack, load and pressure that tremble by
// their noise until a time each, and then hang.
func trembling(tr *trial, hz float64, hang map[decode.Tag]float64, loss float64) []stream {
	held := map[decode.Tag][]float64{}
	make := func(tag decode.Tag, n int, noise, step float64, rest ...float64) func(float64) []float64 {
		return func(s float64) []float64 {
			if at, ok := hang[tag]; ok && s >= at && held[tag] != nil {
				return held[tag]
			}
			var v []float64
			for range n {
				v = append(v, quantum(20+noise*tr.rng.NormFloat64(), step))
			}
			held[tag] = append(v, rest...)
			return held[tag]
		}
	}
	return []stream{
		{tag: decode.State, hz: 20, value: steady(state(1, 0, 1, 0.3)...)},
		{tag: decode.Out, hz: 50, value: steady(all4(0.3)...)},
		{tag: decode.Axes, hz: hz, loss: loss, jitter: 0.2, value: make(decode.Axes, 3, 1, 0.1, 0, 0, 0, 0, 0, 0, 0.3)},
		{tag: decode.Temp, hz: 5, loss: loss, value: make(decode.Temp, 4, 0.05, 0.1)},
		{tag: decode.Pack, hz: 20, loss: loss, value: make(decode.Pack, 2, 0.02, 0.01)},
		{tag: decode.Load, hz: 50, loss: loss, value: make(decode.Load, 1, 0.02, 0.001)},
		{tag: decode.Air, hz: 20, loss: loss, value: make(decode.Air, 1, 1.2, 0.1, 14)},
	}
}

func TestFrozenSensor(t *testing.T) {
	gyro := Roll | Pitch | Yaw
	four := M1 | M2 | M3 | M4
	for _, c := range []struct {
		tag      decode.Tag
		where    Where
		from, to float64 // after the hang
		name     string
	}{
		{decode.Axes, gyro, 1, 1.1, "gyro"}, {decode.Temp, four, 1.8, 4.5, "motor temperature"}, {decode.Pack, Pack, 1, 1.3, "pack"},
		{decode.Load, Craft, 1, 1.1, "load cells"}, {decode.Air, Craft, 1, 1.2, "barometer"},
	} {
		for _, hz := range []float64{50, 200, 1000} {
			for _, loss := range []float64{0, 0.05} {
				tr := newTrial(NewFrozenSensor(), heron)
				tr.run(0, 24, trembling(tr, hz, map[decode.Tag]float64{c.tag: 16}, loss)...)
				watchful(t, tr, true)
				ch := tr.one(t, c.where, Medium, 16+c.from-0.15, 16+c.to+0.1)
				assert.Contains(t, ch.story.Text, c.name)
				assert.GreaterOrEqual(t, ch.value, 1.0)
				assert.Equal(t, "s", ch.story.Unit)
			}
		}
	}
}

// TestFrozenSensorAlive: what trembles rings nothing, minute after minute.
func TestFrozenSensorAlive(t *testing.T) {
	tr := newTrial(NewFrozenSensor(), heron)
	tr.run(0, 300, trembling(tr, 100, nil, 0.05)...)
	tr.silent(t)
	watchful(t, tr, true)
}

// TestFrozenSensorBoundary: a hang just under the time rings nothing.
func TestFrozenSensorBoundary(t *testing.T) {
	for _, c := range []struct {
		seconds float64
		rings   bool
	}{{0.97, false}, {1.05, true}} {
		tr := newTrial(NewFrozenSensor(), heron)
		s := trembling(tr, 200, map[decode.Tag]float64{decode.Axes: 10}, 0)
		tr.run(0, 10+c.seconds, s...)
		tr.run(10+c.seconds, 14, trembling(tr, 200, nil, 0)...)
		if c.rings {
			tr.one(t, Roll|Pitch|Yaw, Medium, 11, 11.1)
			assert.Equal(t, "cleared", tr.said[len(tr.said)-1].word)
		} else {
			tr.silent(t)
		}
	}
}

// TestFrozenSensorRamp: a value that only climbed and then stands never
// trembled: a coarse temperature that has come to rest.
func TestFrozenSensorRamp(t *testing.T) {
	tr := newTrial(NewFrozenSensor(), heron)
	tr.run(0, 60,
		stream{tag: decode.State, hz: 20, value: steady(state(1, 0, 1, 0.3)...)},
		stream{tag: decode.Out, hz: 50, value: steady(all4(0.3)...)},
		stream{tag: decode.Temp, hz: 2, value: func(s float64) []float64 { return all4(math.Floor(min(20+2*s, 80))) }})
	tr.silent(t)
	watchful(t, tr, false)
}

// TestFrozenSensorOneMotor: the telemetry of one drive hangs; and a rotor that
// stands is not called a sensor that hangs.
func TestFrozenSensorOneMotor(t *testing.T) {
	for _, at := range []float64{40123, 0} {
		tr := newTrial(NewFrozenSensor(), heron)
		tr.run(0, 15,
			stream{tag: decode.State, hz: 20, value: steady(state(1, 0, 1, 0.3)...)},
			stream{tag: decode.Out, hz: 50, value: steady(all4(0.3)...)},
			stream{tag: decode.ERPM, hz: 50, value: func(s float64) []float64 {
				v := all4(0)
				for i := range v {
					v[i] = math.Round(40000 + 40*tr.rng.NormFloat64())
				}
				if s > 10 {
					v[2] = at
				}
				return v
			}})
		if at == 0 {
			tr.silent(t)
			continue
		}
		tr.one(t, M3, Medium, 11, 11.2)
	}
}

// TestFrozenSensorState: disarmed, or with the motors at rest, nothing need
// tremble; unknown values and a stream that stops are others' business.
func TestFrozenSensorState(t *testing.T) {
	hang := map[decode.Tag]float64{decode.Axes: 10}
	for name, spoil := range map[string]func([]stream){
		"disarmed":       func(s []stream) { s[0].value = steady(state(0, 0, 1, 0)...) },
		"disarmed at 10": func(s []stream) { s[0].value = from(10, state(1, 0, 1, 0.3), state(0, 0, 1, 0)) },
		"outputs zero":   func(s []stream) { s[1].value = from(10, all4(0.3), all4(0)) },
		"unknown":        func(s []stream) { s[2].value = from(10, s[2].value(0), []float64{no, no, no}) },
		"never trembled": func(s []stream) { s[2].value = steady(1, 2, 3) },
		"begins to hang": func(s []stream) { s[2].value = from(0.1, []float64{1, 2, 3}, []float64{2, 2, 2}) },
		"stream is gone": func(s []stream) { s[2].hz = 0.01 },
		"seldom changing": func(s []stream) {
			s[2].value = func(t float64) []float64 { return []float64{math.Floor(min(t, 9.9) * 5), 0, 0} }
		},
	} {
		t.Run(name, func(t *testing.T) {
			tr := newTrial(NewFrozenSensor(), heron)
			s := trembling(tr, 200, hang, 0)
			spoil(s)
			tr.run(0, 14, s...)
			tr.silent(t)
		})
	}
}

// TestFrozenSensorStaysDead: a gyro that hung at the stop hangs at the next arming,
// and is told again within a second of thrust; one that moved meanwhile, or never
// trembled under thrust, is not.
func TestFrozenSensorStaysDead(t *testing.T) {
	gyro := Roll | Pitch | Yaw
	for name, c := range map[string]struct {
		hang  float64
		moved bool
		raise []float64
	}{
		"hangs before the stop":        {8, false, []float64{9, 17}},
		"hangs as the stop comes":      {9.9, false, []float64{17}},
		"moves at rest, stands after":  {8, true, []float64{9}},
		"alive at the stop, dies then": {11, false, nil},
	} {
		t.Run(name, func(t *testing.T) {
			tr := newTrial(NewFrozenSensor(), heron)
			s := trembling(tr, 200, map[decode.Tag]float64{decode.Axes: c.hang}, 0)
			s[0].value = func(at float64) []float64 {
				if at >= 10 && at < 16 {
					return state(0, 1, 1, 0)
				}
				return state(1, 0, 1, 0.3)
			}
			if hung := s[2].value; c.moved {
				s[2].value = func(at float64) []float64 {
					v := slices.Clone(hung(at))
					if at >= 13 {
						v[0], v[1], v[2] = v[0]+0.1, v[1]+0.1, v[2]-0.1
					}
					return v
				}
			}
			tr.run(0, 20, s...)
			var at []float64
			for _, r := range raises(tr) {
				assert.Equal(t, gyro, r.where)
				at = append(at, r.at)
			}
			require.Len(t, at, len(c.raise))
			for i := range at {
				assert.InDelta(t, c.raise[i], at[i], 0.2)
			}
		})
	}
}

func TestFrozenSensorReset(t *testing.T) {
	tr := newTrial(NewFrozenSensor(), heron)
	s := trembling(tr, 200, map[decode.Tag]float64{decode.Axes: 10}, 0)
	tr.run(0, 10.5, s...)
	tr.d.Reset()
	tr.run(10.5, 14, s...)
	tr.silent(t) // it is not known any more that it ever trembled
}

// TestFrozenChance: noise in coarse steps, drawn a million times, hardly ever
// stays in one step for as long as the rule asks (the bound S^((n+1)/2) holds
// for any noise; here the steps are as wide as two standard deviations).
func TestFrozenChance(t *testing.T) {
	p := pulse{known: true, lines: 999, same: 399, turns: 300, since: 0}
	assert.InDelta(t, 0.4, p.repeats(), 1e-12)
	p.run = 29 // 0.4^15 = 1.07e-6
	assert.False(t, p.frozen(10*Second, Second))
	p.run = 31 // 0.4^16 = 4.3e-7
	assert.True(t, p.frozen(10*Second, Second))

	rng := rand.New(rand.NewPCG(3, 5))
	for _, offset := range []float64{0, 0.25, 0.5} {
		var q pulse
		last, rings := math.NaN(), 0
		for k := range 1_000_000 {
			v := math.Floor(rng.NormFloat64()/2 + offset + 0.5)
			if k == 0 {
				q = pulse{known: true}
			} else {
				q.see(v != last, k%3 != 0, int64(k)*Second/5)
				if q.frozen(int64(k)*Second/5, Second) {
					rings++
				}
			}
			last = v
		}
		assert.LessOrEqual(t, rings, 1, "steps off by %g", offset)
	}
}
