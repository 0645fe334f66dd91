package runcard_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/runcard"
)

const handsOn = `[[step]]
id = "straps"
kind = "person"
say = "Pull at the straps."
if_failed = "Unplug the pack and fasten them."
[[step]]
id = "quiet"
kind = "at-rest"
say = "Wait."
if_failed = "Unplug the pack."
[[step]]
id = "idle"
kind = "armed-idle"
say = "Arm."
if_failed = "Unplug the pack and look."
[[step]]
id = "feel"
kind = "at-rest"
say = "Disarm."
if_failed = "Unplug the pack."
[[step]]
id = "warm"
kind = "person"
say = "Feel the motors."
if_failed = "Unplug the pack."
`

// TestNoHandIsLedToRotors: while the craft is armed or a rotor turns, whatever
// the card shows or tells that may lead a hand to it says first how it gets still.
func TestNoHandIsLedToRotors(t *testing.T) {
	spin := func(b *bench, armed, rpm float64) { b.armed, b.rpm = armed, all(rpm); b.pass(0.3) }
	for name, c := range map[string]struct {
		do                func(b *bench)
		say, ifNot, later string // of the first step, and what the last one says
	}{
		"at rest": {func(b *bench) { spin(b, 0, 0) },
			"Pull at", "Unplug the pack", "Feel"},
		"armed": {func(b *bench) { spin(b, 1, 2000) },
			"Disarm, and once all rotors stand: Pull", "cut throttle, disarm, keep clear until all rotors stand. Then: Unplug", "Once all rotors stand: Feel"},
		"armed, speeds not measured": {func(b *bench) { spin(b, 1, none) },
			"Disarm, and once all rotors stand: Pull", "cut throttle, disarm, keep clear until all rotors stand. Then: Unplug", "Once all rotors stand: Feel"},
		"a rotor turns disarmed": {func(b *bench) { spin(b, 0, 500) },
			"Once all rotors stand: Pull", "keep clear until all rotors stand. Then: Unplug", "Once all rotors stand: Feel"},
		// A coast may take a second with propellers of 178 mm (README).
		"just disarmed, speeds not measured": {func(b *bench) { spin(b, 1, none); spin(b, 0, none) },
			"Once all rotors stand: Pull", "keep clear until all rotors stand. Then: Unplug", "Once all rotors stand: Feel"},
		"disarmed for long, speeds not measured": {func(b *bench) { spin(b, 1, none); spin(b, 0, none); b.pass(2) },
			"Pull at", "Unplug the pack", "Feel"},
		"just disarmed, all stand": {func(b *bench) { spin(b, 1, 2000); spin(b, 0, 0) },
			"Pull at", "Unplug the pack", "Feel"},
		"the line was cut while it turned": {func(b *bench) { spin(b, 1, 2000); b.silence(5) },
			"Disarm, and once all rotors stand: Pull", "cut throttle, disarm, keep clear until all rotors stand. Then: Unplug", "Once all rotors stand: Feel"},
	} {
		b := newBench(t, heron(), handsOn)
		b.out = all(0)
		c.do(b)
		v := b.run.View()
		assert.True(t, strings.HasPrefix(v.Steps[0].Say, c.say), "%s: %s", name, v.Steps[0].Say)
		if v.Steps[0].State == runcard.Now {
			assert.True(t, strings.HasPrefix(v.Steps[0].IfFailed, c.ifNot), "%s: %s", name, v.Steps[0].IfFailed)
		}
		assert.True(t, strings.HasPrefix(v.Steps[4].Say, c.later), "%s: %s", name, v.Steps[4].Say)
	}
}

// TestNewsLeadsNoHandToRotors: the same for what is spoken and recorded as a step
// fails or begins.
func TestNewsLeadsNoHandToRotors(t *testing.T) {
	b := newBench(t, heron(), handsOn)
	b.out, b.rpm, b.armed = all(0), all(2000), 1
	b.pass(0.3)
	require.True(t, b.run.Do(runcard.No, "straps"))
	require.True(t, b.run.Do(runcard.Again, "straps"))
	news := b.run.News()
	require.Len(t, news, 2)
	assert.Equal(t, "cut throttle, disarm, keep clear until all rotors stand. Then: Unplug the pack and fasten them.", news[0].Do)
	assert.True(t, strings.HasSuffix(news[0].Mark, "; "+news[0].Do), news[0].Mark)
	assert.Equal(t, "Disarm, and once all rotors stand: Pull at the straps.", news[1].Text)
}

// outside is how rotors that turn while disarmed get still.
const outside = "cut power only from outside the propellers' reach, keep clear until all rotors stand. Then: "

// TestFailedByAnAlarmIsMadeStillFirst: the alarm's action, then the way to stand
// still, once each; at rest what is left to do.
func TestFailedByAnAlarmIsMadeStillFirst(t *testing.T) {
	b := newBench(t, heron(), oneStep("throttle-to", "throttle = 0.6\n"))
	b.pass(0.5)
	b.stick = 0.3 // as it is armed: stick-high, "cut throttle; disarm"
	arm(b, 0.3, 0.2, 0.5)
	assert.Equal(t, "cut throttle, disarm, keep clear until all rotors stand. Then: find out why stick-high rang", b.step("it").Do)
	b.armed, b.stick, b.out, b.rpm = 0, 0, all(0), all(0)
	b.pass(1)
	assert.Equal(t, "find out why stick-high rang", b.step("it").Do)

	b = newBench(t, heron(), oneStep("at-rest", ""))
	b.out, b.rpm = all(0.1), all(1500) // spin-disarmed
	b.pass(2)
	assert.Equal(t, outside+"Mend it.", b.step("it").Do)
}

// TestBuiltInAdviceIsForAStillCraft: how it gets still is said ahead of it.
func TestBuiltInAdviceIsForAStillCraft(t *testing.T) {
	for _, c := range runcard.List() {
		for i := range c.Steps {
			s := &c.Steps[i]
			switch s.Kind {
			case runcard.ArmedIdle, runcard.StopTest, runcard.LeastOutput, runcard.ThrottleTo, runcard.Sticks:
				assert.Equal(t, "cut throttle, disarm, keep clear until all rotors stand. Then: "+s.IfFailed, s.IfNot())
			default:
				assert.Equal(t, s.IfFailed, s.IfNot())
			}
			for _, twice := range []string{"Cut the throttle", "Press stop"} {
				assert.NotContains(t, s.IfFailed, twice, "%s of %s", s.ID, c.Name)
			}
		}
	}
}

// TestBuiltInCardsKeepHandsFromLivePropellers: a disarmed motor can wake by itself,
// so what wants hands at the craft says that the pack is out or the stop pressed,
// and all of it that can comes before the pack is plugged in.
func TestBuiltInCardsKeepHandsFromLivePropellers(t *testing.T) {
	touches := []string{"propeller", "tether", "strap", "screw", "feel", "Pull", "nut"}
	for _, c := range runcard.List() {
		plugged := false
		for i := range c.Steps {
			s := &c.Steps[i]
			hands := false
			for _, w := range touches {
				hands = hands || s.Kind == runcard.Person && strings.Contains(s.Say, w)
			}
			out, stop := strings.HasPrefix(s.Say, "Stop pressed, pack out: "), strings.Contains(strings.ToLower(s.Say), "stop")
			if s.Say == "With propellers off, motors and stop were tried." {
				hands = false // was done before this run
			}
			plugged = plugged || strings.Contains(s.Say, "pack in")
			assert.True(t, !hands || out || stop, "%s of %s: %s", s.ID, c.Name, s.Say)
			assert.False(t, plugged && out, "%s of %s comes after the pack", s.ID, c.Name)
			if strings.Contains(s.Say, "pack in") || strings.Contains(s.Say, "unplug the pack") {
				assert.Regexp(t, "^(Press stop|Stop pressed), ", s.Say)
			}
		}
		assert.True(t, plugged, "%s says when the pack goes in", c.Name)
	}
}
