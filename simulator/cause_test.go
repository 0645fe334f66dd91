package simulator

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// A weak pack sags and stays there; it does not chatter, and gives what the
// motors take.
func TestWeakPackIsSteady(t *testing.T) {
	for _, c := range []struct{ ohm, lag float64 }{{0.018, 5}, {0.1, 50}, {0.2, 50}, {0.3, 50}, {0.3, 5}, {1, 2}} {
		sc := quietScenario()
		sc.Craft.PackOhm, sc.Craft.MotorLagMS, sc.Loop.SampleMS = c.ohm, c.lag, 1
		sc.Gains.Scale = 0
		sc.Events[1].To = 0.8
		b := New(sc, 1)
		playUntil(b, 4)
		low, high, given, taken := math.Inf(1), 0.0, 0.0, 0.0
		for range 2000 {
			b.tick()
			b.step()
			low, high = math.Min(low, b.pack.volts), math.Max(high, b.pack.volts)
			given += b.pack.volts * b.pack.amps
			for m := range b.motors {
				taken += b.rotors[m].watts
			}
			taken += b.pack.standingWatts
		}
		assert.Less(t, high-low, 0.1, "%v", c)
		assert.InEpsilon(t, taken, given, 0.01, "%v", c)
		assert.InEpsilon(t, cellRest(b.pack.charge-b.pack.used/b.pack.capacity)*4-b.pack.slow, b.pack.volts+b.pack.amps*c.ohm, 0.01, "Ohm's law, %v", c)
	}
}

// An empty pack is empty: it gives little more than is written on it.
func TestEmptyPackEnds(t *testing.T) {
	sc := quietScenario()
	sc.Craft.PackMAH, sc.Seconds = 50, 300
	sc.Events[1].To = 0.5
	b := New(sc, 1)
	playUntil(b, 299)
	assert.Less(t, b.pack.used/3.6, 53.0)
	assert.Less(t, b.rotors[0].n, 5.0)
}

// Without a control link the craft keeps the sticks that it heard last.
func TestControlLostKeepsTheSticks(t *testing.T) {
	sc := quietScenario()
	sc.Gains.Scale = 0
	sc.Events = append(sc.Events, Event{At: 3, Do: "control-lost"}, Event{At: 3.5, Do: "throttle", To: 0.8}, Event{At: 5, Do: "control-good"})
	b := New(sc, 1)
	playUntil(b, 2.9)
	was := b.out
	playUntil(b, 4.9)
	assert.Equal(t, was, b.out)
	playUntil(b, 5.5)
	assert.Greater(t, b.out[0], was[0]+0.3)
}

// A tri's tail tilts whichever motor stands there.
func TestTailTiltsWithLeadsCrossed(t *testing.T) {
	for _, crossed := range []bool{false, true} {
		sc := quietScenario()
		sc.Craft.Layout, sc.Gains.Scale = "tri", 0
		if crossed {
			sc.Motors = []MotorSpec{{Motor: 1, Thrust: 1, Torque: 1, Speed: 1, Leads: 2}, {Motor: 2, Thrust: 1, Torque: 1, Speed: 1, Leads: 1}}
		}
		b := New(sc, 1)
		playUntil(b, 3)
		b.body.rate[2], b.tilt = 0, 0.05 // 18 degrees to the right
		was := b.body.rate[2]
		for range 20 {
			b.step()
		}
		// Behind the middle, a push to the left turns the nose to the right.
		assert.Greater(t, b.body.rate[2], was+0.001, "crossed %v", crossed)
	}
}

// A rotor that is stopped at once leaves its angular momentum in the craft.
func TestLockKeepsAngularMomentum(t *testing.T) {
	b := New(quietScenario(), 1)
	playUntil(b, 3)
	sum := func() float64 {
		l := b.body.inertia[2] * b.body.rate[2]
		for m := range b.motors {
			r := &b.rotors[m]
			l += r.spin * b.prop.rotorJ * 2 * math.Pi * r.n
		}
		return l
	}
	was := sum()
	b.lock(0)
	b.rotors[0].n = 0
	assert.InDelta(t, was, sum(), 1e-12)
	rate := b.body.rate[2]
	b.lock(0)
	assert.Equal(t, rate, b.body.rate[2], "once")
}

// What is gone stays gone, and there are no more blades than there were.
func TestWhatIsGoneStaysGone(t *testing.T) {
	b := New(quietScenario(), 1)
	for _, e := range []Event{
		{Do: "propeller-off", Motor: 1}, {Do: "thrust", Motor: 1, Value: 1}, {Do: "unbalance", Motor: 1, Value: 20},
		{Do: "bend-blade", Motor: 1, Value: 0.5}, {Do: "break-blade", Motor: 1, Value: 0.5},
	} {
		require.NoError(t, b.Act(e))
	}
	r := &b.rotors[0]
	assert.Zero(t, r.thrustBy+r.torqueBy+r.unbalance+r.bent)
	for range 6 {
		require.NoError(t, b.Act(Event{Do: "break-blade", Motor: 2, Value: 1}))
	}
	assert.Zero(t, b.rotors[1].thrustBy, "three blades, broken off one by one")
}

// What was on its way to the motors when they were stopped never comes.
func TestStopEmptiesTheWay(t *testing.T) {
	sc := quietScenario()
	sc.Loop.DelayMS = 30
	b := New(sc, 1)
	playUntil(b, 3)
	require.NoError(t, b.Act(Event{Do: "throttle", To: 0}))
	require.NoError(t, b.Act(Event{Do: "stop"}))
	playUntil(b, 3.005)
	require.NoError(t, b.Act(Event{Do: "release"}))
	for range 40 {
		playUntil(b, float64(b.now+5000)/1e6)
		assert.LessOrEqual(t, b.out[0], sc.Craft.IdleReady)
	}
}

// An act is held to the same bounds as an event.
func TestActIsChecked(t *testing.T) {
	b := New(quietScenario(), 1)
	for _, e := range []Event{
		{Do: "throttle", To: 5}, {Do: "throttle", To: math.NaN()}, {Do: "roll", To: -2}, {Do: "flip", To: 2},
		{Do: "thrust", Motor: 1, Value: 3}, {Do: "thrust", Motor: 1, Value: math.NaN()}, {Do: "set", Name: "idle_ready", Value: 5},
		{Do: "set", Name: "notch_poles", Value: 3},
	} {
		assert.Error(t, b.Act(e), "%+v", e)
	}
	require.NoError(t, b.Act(Event{Do: "set", Name: "notch_poles", Value: 0}))
	assert.InDelta(t, 0.001, b.control.notch.scale, 1e-12, "0 poles: the true ones")
}

// A bridge that is down says what it had to say when it is back, after its
// hello.
func TestNoteWaitsForTheBridge(t *testing.T) {
	sc := quietScenario()
	sc.Seconds = 6
	sc.Events = []Event{
		{At: 2, Do: "note", Text: "first"}, {At: 2, Do: "restart", Seconds: 1}, {At: 2.5, Do: "note", Text: "second"},
	}
	var d decode.Decoder
	var s decode.Sample
	var said []string
	times := map[string]uint32{}
	for line := range bytes.Lines(run(sc, 1)) {
		require.NoError(t, d.Decode(bytes.TrimSuffix(line, []byte("\n")), &s))
		switch s.Tag {
		case decode.Hello:
			if s.Time < 1000 {
				said = append(said, "hello")
			}
		case decode.Note:
			said = append(said, string(s.Text))
			times[string(s.Text)] = s.Time
		}
	}
	assert.Equal(t, []string{"hello", "first", "second"}, said)
	assert.Less(t, times["first"], uint32(1000))
}

// A sensor that hangs from the very first has something to hang at.
func TestFreezeAtTheStart(t *testing.T) {
	sc := Default()
	sc.Name, sc.Lesson, sc.Seconds = "quiet", "for tests", 2
	sc.Events = []Event{{At: 0, Do: "freeze", Name: "accel", Seconds: 10}}
	p := play(t, sc, 1)
	for _, l := range p.lines[decode.Accel] {
		assert.InDelta(t, -9.8, l.Num[2], 0.5)
	}
}

// Long arms near the ground meet it as soon as they reach it: an arm's end does
// not come into the ground at once from some tilt on, which would be energy
// from nothing.
func TestArmsMeetTheGroundGently(t *testing.T) {
	sc := Default()
	c := &sc.Craft
	c.Hold, c.DiagonalMM, c.CGHeightMM, c.PadNM, c.PadNSM = "free", 450, 10, 1000, 0
	b := newBody(&sc)
	energy := func() float64 {
		e := 0.5*b.mass*b.climb*b.climb + b.mass*gravity*b.height
		for k, w := range b.rate {
			e += 0.5 * b.inertia[k] * w * w
		}
		x, y, z := b.attitude.up()
		sink := func(rise float64) { e += 0.5 * b.padK * math.Min(rise, 0) * math.Min(rise, 0) }
		for k := range b.feet {
			f := &b.feet[k]
			sink(b.height + b.cgHeight*z + b.cgHeight + f.x*x + f.y*y)
		}
		for k := range b.arms {
			f := &b.tips[k]
			sink(b.height + b.cgHeight + f.x*x + f.y*y)
		}
		return e
	}
	b.rate[0] = 3
	was := energy()
	for range 4000 {
		b.step(0, [3]float64{})
		assert.LessOrEqual(t, energy(), was*1.05+0.002)
	}
}
