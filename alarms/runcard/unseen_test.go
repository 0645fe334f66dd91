package runcard_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/runcard"
	"tetherbell/decode"
)

const untold = -1000.0

// stopped brings a step to a stop after two seconds of armed idle, with what
// the speeds are before and after it.
func stopped(t *testing.T, before, after func(int) float64) runcard.StepView {
	b := newBench(t, heron(), oneStep("stop-test", ""))
	b.armed, b.out, b.rpm = 1, all(0.08), all(2000)
	b.pass(1)
	b.rpm = before
	b.pass(1)
	b.armed, b.stop, b.out = 0, 1, all(0)
	b.rpm = after
	b.pass(0.3)
	b.rpm = after
	b.pass(2)
	return b.step("it")
}

// TestStopIsSeenOnEveryRotor: a stop passes by the speeds of all rotors or, where
// the bench has none at all, by the outputs; never on what nobody saw.
func TestStopIsSeenOnEveryRotor(t *testing.T) {
	oneTold := func(v float64) func(int) float64 {
		return func(m int) float64 {
			if m == 0 {
				return v
			}
			return untold
		}
	}
	for name, c := range map[string]struct {
		before, after func(int) float64
	}{
		"speeds lost before it, rotors run on": {all(untold), all(2000)},
		"one rotor told, it stops":             {oneTold(2000), oneTold(0)},
		"speeds lost before it, and stay lost": {all(untold), all(untold)},
		"rotors stood all along while driven":  {all(0), all(0)},
		"three rotors come back only, run on":  {oneTold(2000), func(m int) float64 { return map[bool]float64{true: 0, false: 2000}[m == 0] }},
	} {
		s := stopped(t, c.before, c.after)
		assert.NotEqual(t, runcard.Passed, s.State, "%s: %s", name, s.Text)
		assert.NotEmpty(t, s.Text, name)
	}
	s := stopped(t, all(2000), all(0))
	assert.Equal(t, runcard.Passed, s.State, s.Text)
}

// TestSticksAreAnsweredByMotors: a demand that follows the stick is the
// controller's word; with outputs that never move the craft has not answered.
func TestSticksAreAnsweredByMotors(t *testing.T) {
	b := newBench(t, heron(), oneStep("sticks", ""))
	b.stick = 0.2
	for ; b.us < 16e6; b.us += 5000 {
		var st [3]float64
		if b.us > 3e6 {
			st[int((b.us-3e6)/3e6)%3] = 0.1 * math.Sin(2*math.Pi*float64(b.us)/1e6)
		}
		b.line(decode.Axes, 0, 0, 0, 200*st[0], 200*st[1], 200*st[2], 0, 0, 0, b.stick)
		if b.us%20_000 == 0 {
			b.line(decode.State, 1, 0, 1, b.stick, st[0], st[1], st[2], 1)
			b.motors(decode.Out, all(0.2), 1)
			b.motors(decode.ERPM, all(5000), 7)
		}
	}
	s := b.step("it")
	require.NotEqual(t, runcard.Passed, s.State, s.Text)
}

// TestStandingRotorsPassNothing: where speeds are measured and are nought,
// neither armed idle nor a throttle was tried.
func TestStandingRotorsPassNothing(t *testing.T) {
	for _, kind := range []string{"armed-idle", "throttle-to"} {
		more := ""
		if kind == "throttle-to" {
			more = "throttle = 0.2\n"
		}
		b := newBench(t, heron(), oneStep(kind, more))
		b.armed, b.out, b.rpm = 1, all(0.08), all(0)
		if kind == "throttle-to" {
			b.stick = 0.2
		}
		b.pass(8)
		s := b.step("it")
		assert.NotEqual(t, runcard.Passed, s.State, "%s: %s", kind, s.Text)
		assert.Contains(t, s.Text, "not turning", kind)
	}
}

// TestAtRestNamesWhatNobodySees: a motor without output and speed is looked at
// by the person.
func TestAtRestNamesWhatNobodySees(t *testing.T) {
	b := newBench(t, heron(), oneStep("at-rest", ""))
	first := func(m int) float64 {
		if m == 0 {
			return 0
		}
		return untold
	}
	b.out, b.rpm = first, first
	b.pass(6)
	s := b.step("it")
	require.Equal(t, runcard.ByEye, s.State, s.Text)
	assert.Contains(t, s.Text, "m2")
	assert.Error(t, armedTick(b), "no tick while armed")
	b.armed = 0
	b.pass(0.5)
	assert.Error(t, b.run.May(runcard.Tick, "it"), "nor while a coast may last: a second")
	b.pass(1)
	assert.NoError(t, b.run.May(runcard.Tick, "it"))
}

func armedTick(b *bench) error {
	b.armed = 1
	b.pass(0.5)
	return b.run.May(runcard.Tick, "it")
}

// TestStopThatDoesNotLast: a motor that is driven again within the coast was not
// stopped, and rotors that stood before the stop show nothing of it.
func TestStopThatDoesNotLast(t *testing.T) {
	for name, c := range map[string]struct{ stoodFirst, again bool }{"driven again": {again: true}, "stood before": {stoodFirst: true}} {
		b := newBench(t, heron(), oneStep("stop-test", ""))
		b.armed, b.out, b.rpm = 1, all(0.08), all(2000)
		b.pass(2)
		if c.stoodFirst {
			b.out, b.rpm = all(0), nil
			b.pass(3)
		}
		at := b.us
		b.armed, b.stop = 0, 1
		since := func() float64 { return float64(b.us-at) / 1e6 }
		b.out = func(m int) float64 {
			if c.again && m == 0 && since() > 0.1 {
				return 0.3
			}
			return 0
		}
		if !c.stoodFirst {
			b.rpm = func(m int) float64 {
				if m == 0 && since() > 0.1 {
					return 6000
				}
				return 2000 * math.Exp(-since()/0.12)
			}
		}
		b.pass(3)
		s := b.step("it")
		assert.NotEqual(t, runcard.Passed, s.State, "%s: %s", name, s.Text)
	}
}
