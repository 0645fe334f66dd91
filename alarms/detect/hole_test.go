package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
)

// A holing leaves fields of a stream empty, where lost says so of the n-th line
// at a time.
type holing struct {
	name string
	lost func(tr *trial, n int, t float64) bool
}

// punch returns the stream with holes in so many fields from the first on, 0
// means all that follow.
func (h holing) punch(tr *trial, s stream, first, fields int) stream {
	n, value := make([]int, 16), s.value
	s.value = func(t float64) []float64 {
		v := append([]float64(nil), value(t)...)
		for i := range v {
			if n[i]++; i >= first && (fields == 0 || i < first+fields) && h.lost(tr, n[i], t) {
				v[i] = no
			}
		}
		return v
	}
	return s
}

// seldom leaves a field empty in every n-th line.
func seldom(n int) func(*trial, int, float64) bool {
	return func(_ *trial, k int, _ float64) bool { return k%n == 0 }
}

// atRandom leaves so many fields empty.
func atRandom(share float64) func(*trial, int, float64) bool {
	return func(tr *trial, _ int, _ float64) bool { return tr.rng.Float64() < share }
}

// between leaves a field empty in a stretch of time.
func between(from, to float64) func(*trial, int, float64) bool {
	return func(_ *trial, _ int, t float64) bool { return t >= from-1e-9 && t < to-1e-9 }
}

func TestRotorLostHoles(t *testing.T) {
	for _, h := range []holing{
		{"none", between(0, 0)}, {"one before", between(5.985, 5.991)}, {"one after", between(6.05, 6.056)},
		{"every 80th", seldom(80)}, {"every 7th", seldom(7)}, {"one in fifty", atRandom(0.02)}, {"one in twelve", atRandom(0.08)},
	} {
		for _, hz := range []float64{50, 200} {
			for _, by := range []float64{0, 0.6, 1} {
				tr := newTrial(NewRotorLost(), heron)
				r := rotorRun{out: trembles, power: 0.8, lag: 0.05, noise: 0.005, fault: scale(6, by)}
				s := r.streams(tr, hz, 0, 0)
				s[1], s[2] = h.punch(tr, s[1], 0, 0), h.punch(tr, s[2], 0, 0)
				tr.run(0, 8, s...)
				if by == 1 {
					assert.Empty(t, tr.said, "%s at %v: %s", h.name, hz, tr.list())
					continue
				}
				t.Log(h.name, hz)
				tr.one(t, M3, High, 6.1, 6.3)
			}
		}
	}
}

// TestRotorLostLongHole: an output that was away for long is a new beginning,
// and while it is away nothing is said of its rotor.
func TestRotorLostLongHole(t *testing.T) {
	tr := newTrial(NewRotorLost(), heron)
	r := rotorRun{out: func(float64) []float64 { return all4(0.3) }, power: 0.8, lag: 0.05, fault: scale(6, 0)}
	s := r.streams(tr, 200, 0, 0)
	s[1] = holing{lost: between(5.9, 6.7)}.punch(tr, s[1], 2, 1)
	tr.run(0, 7.6, s...)
	tr.silent(t)
	tr.run(7.6, 8, s...)
	tr.one(t, M3, High, 7.7, 7.9)
}

func TestRunawayHoles(t *testing.T) {
	for _, h := range []struct {
		holing
		rings bool
	}{
		{holing{"none", between(0, 0)}, true},
		{holing{"0.6 s before", between(4.4, 4.45)}, true}, {holing{"just before", between(4.9, 4.95)}, true},
		{holing{"after", between(5.05, 5.1)}, true}, {holing{"from before to after", between(4.4, 5.1)}, true},
		{holing{"every 7th", seldom(7)}, true}, {holing{"every other", seldom(2)}, true}, {holing{"one in twelve", atRandom(0.08)}, true},
		{holing{"away from then on", between(4.9, 9)}, false},
	} {
		for _, moved := range []float64{0, 0.1} { // of the stick, within the hole
			tr := newTrial(NewRunaway(), heron)
			st := stream{decode.State, 20, 0, 0, from(5, state(1, 0, 1, 0.3), state(1, 0, 1, 0.3+moved))}
			step := from(5, all4(0.35), all4(0.515))
			tr.run(0, 9, h.punch(tr, st, 3, 1), stream{decode.Out, 200, 0, 0, step})
			if !h.rings || moved > 0 {
				assert.Empty(t, tr.said, "%s: %s", h.name, tr.list())
				continue
			}
			t.Log(h.name)
			ch := tr.one(t, Craft, High, 5.05, 5.3)
			assert.Contains(t, ch.story.More, Fact{"stick", 0.3})
		}
	}
}

func TestFrozenSensorHoles(t *testing.T) {
	for _, h := range []holing{
		{"none", between(0, 0)}, {"once before", between(15.7, 15.76)}, {"once after", between(16.5, 16.56)},
		{"every 18th", seldom(18)}, {"every 7th", seldom(7)}, {"one in fifty", atRandom(0.02)},
	} {
		for tag, where := range map[decode.Tag]Where{decode.Axes: Roll | Pitch | Yaw, decode.Pack: Pack, decode.Load: Craft} {
			tr := newTrial(NewFrozenSensor(), heron)
			s := trembling(tr, 200, map[decode.Tag]float64{tag: 16}, 0)
			for i := range s {
				if s[i].tag == tag {
					s[i] = h.punch(tr, s[i], 0, 3)
				}
			}
			tr.run(0, 20, s...)
			t.Log(h.name, tag)
			tr.one(t, where, Medium, 16.85, 17.4)
		}
		tr := newTrial(NewFrozenSensor(), heron)
		s := trembling(tr, 200, nil, 0)
		for i := 2; i < len(s); i++ {
			s[i] = h.punch(tr, s[i], 0, 0)
		}
		tr.run(0, 60, s...)
		tr.silent(t)
	}
}

// TestFrozenSensorLongHole: nobody knows what a value did in a long hole, so
// that its repeats begin anew; it was alive all the same.
func TestFrozenSensorLongHole(t *testing.T) {
	tr := newTrial(NewFrozenSensor(), heron)
	s := trembling(tr, 200, map[decode.Tag]float64{decode.Load: 16}, 0)
	s[5] = holing{lost: between(16.4, 17.2)}.punch(tr, s[5], 0, 1)
	tr.run(0, 22, s...)
	tr.one(t, Craft, Medium, 18.2, 18.5)
}

func TestGroundThrustHoles(t *testing.T) {
	c := heron
	c.IdleReady = 0.08
	for _, h := range []struct {
		holing
		from, to float64 // of the alarm, 0 none
	}{
		{holing{"none", between(0, 0)}, 3, 3.15},
		{holing{"once before", between(2.95, 3)}, 3, 3.15}, {holing{"once after", between(3.05, 3.1)}, 3, 3.15},
		{holing{"every 8th", seldom(8)}, 3, 3.15}, {holing{"every other", seldom(2)}, 3, 3.15}, {holing{"one in twelve", atRandom(0.08)}, 3, 3.25},
		{holing{"for 0.4 s", between(2.9, 3.3)}, 3.3, 3.4}, {holing{"for 0.8 s", between(2.9, 3.7)}, 4.2, 4.3},
		{holing{"from then on", between(2.9, 9)}, 0, 0},
	} {
		for _, stick := range []float64{0, 0.3} { // from the hole on, or from the start of the thrust
			tr := newTrial(NewGroundThrust(), c)
			st := stream{decode.State, 20, 0, 0, func(t float64) []float64 {
				switch {
				case t < 1:
					return state(0, 0, 1, 0)
				case t < 2.99:
					return state(1, 0, 1, 0)
				}
				return state(1, 0, 1, stick)
			}}
			tr.run(0, 6, h.punch(tr, st, 3, 1), stream{decode.Out, 200, 0, 0, from(3, all4(0.08), all4(0.19))})
			if h.to == 0 || stick > 0 {
				assert.Empty(t, tr.said, "%s, stick %v: %s", h.name, stick, tr.list())
				continue
			}
			t.Log(h.name)
			tr.one(t, Craft, High, h.from, h.to)
		}
	}
}

// TestHaltHoles: motors that go on after a stop, and one that goes in a
// disarmed craft, ring no later than 0.3 s after they do without holes, once,
// and stay.
func TestHaltHoles(t *testing.T) {
	run, disarmed, stopped := state(1, 0, 1, 0.4), state(0, 0, 1, 0), state(1, 1, 1, 0)
	lone := []float64{0, 0, 0.1, 0}
	turn := []float64{0, 0, 20000, 0}
	for _, c := range []struct {
		name     string
		d        func() Detector
		st       func(float64) []float64
		out, rpm func(float64) []float64
		from     float64
	}{
		{"outputs after a disarming", NewLateStop, from(4, run, disarmed), from(4, all4(0.4), lone), nil, 4.5},
		{"outputs after a stop", NewLateStop, from(4, run, stopped), from(4, all4(0.4), lone), nil, 4.5},
		{"speeds after a stop", NewLateStop, from(4, run, stopped), nil, from(4, all4(20000), turn), 5},
		{"a disarmed rotor", NewSpinDisarmed, steady(disarmed...), nil, from(5, all4(0), turn), 5.2},
		{"a disarmed output", NewSpinDisarmed, steady(disarmed...), from(5, all4(0), lone), nil, 5.2},
	} {
		for _, h := range []holing{
			{"none", between(0, 0)}, {"one just before", between(c.from-0.105, c.from-0.1)}, {"one just after", between(c.from+0.005, c.from+0.01)},
			{"every 60th", seldom(60)}, {"every 7th", seldom(7)}, {"every other", seldom(2)}, {"one in twelve", atRandom(0.08)},
		} {
			for seed := range 5 {
				tr := newTrial(c.d(), heron)
				for range seed {
					tr.rng.Float64()
				}
				s := []stream{h.punch(tr, stream{decode.State, 20, 0, 0, c.st}, 0, 0)}
				if c.out != nil {
					s = append(s, h.punch(tr, stream{decode.Out, 200, 0, 0, c.out}, 0, 0))
				}
				if c.rpm != nil {
					s = append(s, h.punch(tr, stream{decode.ERPM, 200, 0, 0, c.rpm}, 0, 0))
				}
				tr.run(0, 9, s...)
				t.Log(c.name, h.name)
				tr.one(t, M3, High, c.from, c.from+0.3)
				assert.Len(t, tr.said, 1, tr.list())
			}
		}
	}
}

// TestSpinDisarmedJoinHoles: a second motor is named in time with holes too.
func TestSpinDisarmedJoinHoles(t *testing.T) {
	for _, h := range []holing{{"none", between(0, 0)}, {"every 7th", seldom(7)}, {"one in twelve", atRandom(0.08)}} {
		tr := newTrial(NewSpinDisarmed(), heron)
		turn := func(t float64) []float64 {
			if t < 7 {
				return from(5, all4(0), []float64{0, 0, 20000, 0})(t)
			}
			return []float64{20000, 0, 20000, 0}
		}
		tr.run(0, 9, h.punch(tr, stream{decode.State, 20, 0, 0, steady(state(0, 0, 1, 0)...)}, 0, 0),
			h.punch(tr, stream{decode.ERPM, 200, 0, 0, turn}, 0, 0))
		r := tr.raised()
		if assert.Len(t, r, 2, "%s: %s", h.name, tr.list()) {
			assert.Equal(t, M1|M3, r[1].where, h.name)
			assert.InDelta(t, 7.55, r[1].at, 0.16, h.name) // two waits of 0.2 s after 7, and 0.3 s for holes
		}
	}
}
