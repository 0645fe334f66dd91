package runcard_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/runcard"
)

const checked = `[[step]]
id = "look"
kind = "person"
say = "Look."
if_failed = "Mend."
[[step]]
id = "quiet"
kind = "at-rest"
say = "Wait."
if_failed = "Mend."
[[step]]
id = "idle"
kind = "armed-idle"
seconds = 1
say = "Arm."
if_failed = "Mend."
[[step]]
id = "stop"
kind = "stop-test"
say = "Stop."
if_failed = "Mend."
[[step]]
id = "low"
kind = "throttle-to"
throttle = 0.2
seconds = 1
say = "Up."
if_failed = "Mend."
[[step]]
id = "off"
kind = "at-rest"
say = "Disarm."
if_failed = "Mend."
`

// TestUnready: who arms, or raises the throttle, before its turn is told so for
// as long as it is so, and in the end.
func TestUnready(t *testing.T) {
	ready := func(b *bench) { b.run.Do(runcard.Tick, "look"); b.pass(2) }
	idle := func(b *bench) { ready(b); b.armed = 1; b.pass(2) }
	again := func(b *bench) { // stopped, and armed once more
		idle(b)
		b.stop, b.armed = 1, 0
		b.pass(2)
		b.stop = 0
		b.pass(0.2)
		b.armed = 1
		b.pass(1)
	}
	for name, c := range map[string]struct {
		do             func(b *bench)
		warning, order string
		early          string
	}{
		"disarmed":    {do: func(b *bench) { b.pass(3) }},
		"in its turn": {do: idle},
		"by eye":      {do: func(b *bench) { b.armed = 1; b.pass(1) }, warning: "armed, but 2 steps are not done: look, quiet", order: "disarm", early: "armed before it was done: look, quiet"},
		"at rest":     {do: func(b *bench) { b.run.Do(runcard.Tick, "look"); b.armed = 1; b.pass(1) }, warning: "armed, but a step is not done: quiet", order: "disarm", early: "armed before it was done: quiet"},
		"left out": {do: func(b *bench) {
			b.run.Do(runcard.Skip, "look")
			b.run.Do(runcard.Skip, "quiet")
			b.armed = 1
			b.pass(1)
		}},
		"a tick too late": {do: func(b *bench) { b.armed = 1; b.pass(1); b.run.Do(runcard.Tick, "look"); b.pass(0.1) }, warning: "armed, but 2 steps are not done: look, quiet", order: "disarm", early: "armed before it was done: look, quiet"},
		"disarmed now":    {do: func(b *bench) { b.armed = 1; b.pass(1); b.armed = 0; b.pass(1) }, early: "armed before it was done: look, quiet"},
		"failed before": {do: func(b *bench) { b.run.Do(runcard.No, "look"); b.armed = 1; b.pass(1) },
			warning: "armed, but 2 steps are not done: look, quiet", order: "disarm", early: "armed before it was done: look, quiet"},
		"stop failed": {do: func(b *bench) {
			idle(b)
			b.run.Do(runcard.No, "stop")
			b.armed = 0
			b.pass(1)
			b.armed = 1
			b.pass(1)
		},
			warning: "armed, but a step is not done: stop", order: "disarm", early: "armed before it was done: stop"},
		"stop left to the eye": {do: func(b *bench) {
			idle(b)
			b.rpm, b.stop, b.armed = all(2000), 1, 0
			b.pass(0.1)
			b.silence(3) // nobody saw its end
			b.stop, b.rpm = 0, all(0)
			b.pass(2)
			b.run.Do(runcard.Again, "low") // late-stop rang meanwhile
			b.armed = 1
			b.pass(1)
		}, warning: "armed, but a step is not done: stop", order: "disarm", early: "armed before it was done: stop"},
		"throttle before the stop test": {do: func(b *bench) { idle(b); b.stick = 0.2; b.pass(0.5) },
			warning: "throttle up, but a step is not done: stop", order: "cut throttle", early: "throttle raised before it was done: stop"},
		"throttle down again":    {do: func(b *bench) { idle(b); b.stick = 0.2; b.pass(0.5); b.stick = 0; b.pass(0.5) }, early: "throttle raised before it was done: stop"},
		"a hand that shakes":     {do: func(b *bench) { idle(b); b.stick = 0.03; b.pass(0.5) }},
		"throttle in its turn":   {do: func(b *bench) { again(b); b.stick = 0.2; b.pass(0.5) }},
		"armed still as it ends": {do: func(b *bench) { again(b); b.pass(5); b.stick = 0.2; b.pass(2) }},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, heron(), checked)
			b.out = func(int) float64 { return 0.08 * b.armed }
			b.rpm = func(int) float64 { return 2000 * b.armed }
			c.do(b)
			v := b.run.View()
			assert.Equal(t, c.warning, v.Warning, states(b.run))
			assert.Equal(t, c.order, v.WarningDo)
			assert.Equal(t, c.early, v.Early)
			if c.warning != "" {
				var marks []string
				for _, n := range b.news {
					marks = append(marks, n.Mark)
				}
				assert.Contains(t, marks, "card note: "+c.warning+"; "+c.order)
			}
		})
	}
}

// TestFlutterIsToldOnce: a switch that flutters makes a note now and then, not
// one each time.
func TestFlutterIsToldOnce(t *testing.T) {
	for name, half := range map[string]float64{"each line": 0.02, "ten a second": 0.1, "one a second": 1} {
		b := newBench(t, heron(), checked)
		b.out, b.rpm = all(0), all(0)
		times := int(20 / half)
		for range times {
			b.armed = 1 - b.armed
			b.pass(half)
		}
		assert.LessOrEqual(t, len(b.news), 2+5, name) // the beginning and the step, and one each five seconds
		assert.GreaterOrEqual(t, len(b.news), 3, name)
		assert.Contains(t, b.run.View().Early, "times)", name)
	}
}
