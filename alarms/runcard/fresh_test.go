package runcard_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/runcard"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

const feelFirst = "[[step]]\nid = \"look\"\nkind = \"person\"\nsay = \"Feel it.\"\nif_failed = \"Mend it.\"\n"

// TestOldSpeedsKeepNoHandSafe: what was heard of the rotors long ago says nothing
// of now, and a craft whose motors nobody has told of is not known to stand. A
// coast may take a second with propellers of 178 mm (README).
func TestOldSpeedsKeepNoHandSafe(t *testing.T) {
	for name, c := range map[string]struct {
		motors   int
		told     float64 // seconds for which speeds come, at nought
		out      bool    // outputs come all along
		at       float64 // after disarming
		say      string
		standing bool // speeds come again from the disarming on
	}{
		"speeds for a moment":             {4, 0.1, true, 0.1, "Once all rotors stand: Feel it.", false},
		"speeds for a moment, no outputs": {4, 0.1, false, 0.1, "Once all rotors stand: Feel it.", false},
		"speeds for a while":              {4, 3, true, 0.1, "Once all rotors stand: Feel it.", false},
		"speeds for a while, no outputs":  {4, 3, false, 0.9, "Once all rotors stand: Feel it.", false},
		"motors not told":                 {0, 0, false, 0.1, "Once all rotors stand: Feel it.", false},
		"after a coast":                   {4, 3, true, 1.2, "Feel it.", false},
		"after a coast, motors not told":  {0, 0, false, 1.2, "Feel it.", false},
		"seen to stand":                   {4, 3, true, 0.1, "Feel it.", true},
	} {
		cr := heron()
		cr.Motors = c.motors
		b := newBench(t, cr, feelFirst)
		if c.out {
			b.out = func(int) float64 { return 0.5 * b.armed }
		}
		if c.motors > 0 {
			b.rpm = all(0)
		}
		b.pass(c.told)
		b.rpm, b.armed = nil, 1
		b.pass(5)
		b.armed = 0
		if c.standing {
			b.rpm = all(0)
		}
		b.pass(c.at)
		assert.Equal(t, c.say, b.step("look").Say, name)
	}
}

// TestLastWordOfAMotorThatWoke: it turned in a disarmed craft as it was heard
// last, which no coast ends.
func TestLastWordOfAMotorThatWoke(t *testing.T) {
	for name, c := range map[string]struct {
		wakes float64 // after disarming
		say   string
	}{
		"a coast":  {0.1, "Feel it."},
		"it wakes": {3, "Once all rotors stand: Feel it."},
	} {
		b := newBench(t, heron(), feelFirst)
		b.out, b.rpm, b.armed = all(0.1), all(2000), 1
		b.pass(2)
		b.armed, b.out, b.rpm = 0, all(0), all(0)
		if c.wakes < 1 {
			b.rpm = all(2000)
		}
		b.pass(c.wakes)
		b.rpm = all(2000)
		b.pass(0.1)
		b.rpm = nil
		b.pass(20)
		assert.Equal(t, c.say, b.step("look").Say, name)
	}
}

// TestOldValuesAreNoEvidence: streams that came for a while and stopped pass no
// step that is judged a minute later.
func TestOldValuesAreNoEvidence(t *testing.T) {
	for name, out := range map[string]bool{"outputs and speeds": true, "speeds alone": false} {
		b := newBench(t, heron(), feelFirst+oneStep("at-rest", ""))
		b.rpm = all(0)
		if out {
			b.out = all(0)
		}
		b.pass(3)
		b.out, b.rpm = nil, nil
		b.pass(60)
		b.run.Do(runcard.Skip, "look")
		b.pass(3)
		s := b.step("it")
		assert.Equal(t, runcard.ByEye.String(), s.State.String(), "%s: %s", name, s.Text)
		assert.Contains(t, s.Text, "neither outputs nor rotor speeds are measured", name)
	}
}

// TestOldStateIsNoEvidence: the craft said a few times what it is, and then no
// more, while all else goes on.
func TestOldStateIsNoEvidence(t *testing.T) {
	for _, kind := range []string{"at-rest", "armed-idle", "throttle-to", "temperatures"} {
		for _, lines := range []int{1, 3, 6, 20} {
			s := stateFor(t, kind, "seconds = 3\n", func(n int) bool { return n < lines })
			assert.NotEqual(t, runcard.Passed.String(), s.State.String(), "%s, %d lines: %s", kind, lines, s.Text)
		}
	}
}

// TestAFewLinesAreNoEvidence: a step that needs half a second is not passed by a
// line or two, though they are of now; where lines come slowly it takes as long as
// three of them do.
func TestAFewLinesAreNoEvidence(t *testing.T) {
	for _, kind := range []string{"at-rest", "armed-idle", "throttle-to", "temperatures"} {
		for name, c := range map[string]struct {
			told   func(n int) bool
			passed bool
		}{
			"one line":       {func(n int) bool { return n == 40 }, false},
			"two lines":      {func(n int) bool { return n == 40 || n == 60 }, false},
			"two lines once": {func(n int) bool { return n == 0 || n == 1 }, false},
			"each 0.4 s":     {func(n int) bool { return n%20 == 0 }, true},
			"each 1 s":       {func(n int) bool { return n%50 == 0 }, true},
		} {
			s := stateFor(t, kind, "seconds = 0.5\n", c.told)
			assert.Equal(t, c.passed, s.State == runcard.Passed, "%s, %s: %s %s", kind, name, s.State, s.Text)
			if c.passed { // from the first line, or from 0.5 s after arming on
				assert.Greater(t, float64(s.At), 0.75e6, "%s, %s", kind, name)
			}
		}
	}
}

// stateFor is a step of a craft that does for 8 s what passes it. The state is
// told in those of 50 lines a second that told picks.
func stateFor(t *testing.T, kind, more string, told func(n int) bool) runcard.StepView {
	armed, stick, out := 1.0, 0.0, 0.08
	switch kind {
	case "at-rest", "temperatures":
		armed, out = 0, 0
	case "throttle-to":
		stick, out = 0.2, 0.2
		more += "throttle = 0.2\n"
	}
	b := newBench(t, craft.Craft{Motors: 4, Poles: 14, DiameterMM: 178, IdleReady: 0.08}, oneStep(kind, more))
	for n := 0; b.us < 8e6; b.us += 5000 {
		b.line(decode.Axes, 0.1*float64(b.us%7), 0, 0, 0, 0, 0, 0.0001*float64(b.us%11), 0, 0, stick)
		if b.us%20_000 != 0 {
			continue
		}
		b.motors(decode.Out, all(out), 1)
		b.motors(decode.ERPM, all(25_000*out), 7)
		b.motors(decode.Temp, all(30), 1)
		if told(n) {
			b.line(decode.State, armed, 0, 1, stick, 0, 0, 0, 1)
		}
		n++
	}
	return b.step("it")
}
