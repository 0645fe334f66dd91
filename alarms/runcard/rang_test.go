package runcard_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
)

// TestHighAlarmFailsTheCurrentStep: whatever the step waits for, and what is to
// be done is what the alarm asks for.
func TestHighAlarmFailsTheCurrentStep(t *testing.T) {
	// Throttle over 0.05 as it is armed: stick-high rings high (README).
	stickHigh := func(b *bench) { b.pass(0.5); b.stick = 0.3; arm(b, 0.3, 0.2, 1) }
	// A motor is driven while disarmed: spin-disarmed rings high (README).
	spins := func(b *bench) { b.out, b.rpm = all(0.1), all(1500); b.pass(2) }
	// Disarmed with a motor at 120 C: motor-heat rings (README).
	hot := func(b *bench) {
		b.rpm, b.temp = all(0), all(120)
		b.pass(3)
		var kinds []detect.Kind
		for _, a := range b.e.Unacknowledged() {
			kinds = append(kinds, a.Kind)
		}
		assert.Contains(t, kinds, detect.MotorHeat)
	}
	// The bridge begins anew while armed: stale-link rings high (README).
	restart := func(b *bench) { arm(b, 0.08, 0.2, 0.3); b.us, b.seq = 0, 0; b.pass(0.5) }
	// One motor works twice as hard as the rest: output-imbalance rings high (README).
	uneven := func(b *bench) {
		arm(b, 0.08, 0.2, 0.5)
		b.stick = 0.4
		b.out = func(m int) float64 {
			if m == 2 {
				return 0.7
			}
			return 0.3
		}
		b.rpm = all(2000)
		b.pass(5)
	}
	for name, c := range map[string]struct {
		kind, more string
		do         func(b *bench)
		failed     bool
		alarm, act string
		advice     string // the card's own, or not
	}{
		"armed idle waits for the stick": {"armed-idle", "", stickHigh, true, "stick-high", "cut throttle, disarm, keep clear until all rotors stand. Then: ", "find out why stick-high rang"},
		"armed idle waits for arming":    {"armed-idle", "", spins, true, "spin-disarmed", outside, "find out why spin-disarmed rang"},
		"armed idle spins up":            {"armed-idle", "", restart, true, "stale-link", "cut throttle: the monitor is blind, disarm, keep clear until all rotors stand. Then: ", "find out why stale-link rang"},
		"throttle waits":                 {"throttle-to", "throttle = 0.6\n", stickHigh, true, "stick-high", "cut throttle, disarm, keep clear until all rotors stand. Then: ", "find out why stick-high rang"},
		"one works too hard":             {"throttle-to", "throttle = 0.6\n", uneven, true, "output-imbalance", "cut throttle, disarm, keep clear until all rotors stand. Then: ", "check propeller and motor m3"},
		"at rest waits, armed":           {"at-rest", "", stickHigh, true, "stick-high", "cut throttle, disarm, keep clear until all rotors stand. Then: ", "find out why stick-high rang"},
		"at rest, its own alarm":         {"at-rest", "", spins, true, "spin-disarmed", outside, "Mend it."},
		"temperatures wait, armed":       {"temperatures", "", stickHigh, true, "stick-high", "cut throttle, disarm, keep clear until all rotors stand. Then: ", "find out why stick-high rang"},
		"a person's, armed":              {kind: "person", do: stickHigh},
		"a person's, disarmed":           {"person", "", spins, true, "spin-disarmed", outside, "find out why spin-disarmed rang"},
		"a person's, a motor is hot":     {kind: "person", do: hot},
		"nothing rings":                  {kind: "armed-idle", do: func(b *bench) { arm(b, 0.08, 0.2, 1) }},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, heron(), oneStep(c.kind, c.more))
			c.do(b)
			s := b.step("it")
			if !c.failed {
				assert.Equal(t, runcard.Now, s.State, s.Text)
				assert.Empty(t, s.Do)
				return
			}
			assert.Equal(t, runcard.Failed, s.State, s.Text)
			assert.Contains(t, s.Text, c.alarm)
			assert.True(t, strings.HasPrefix(s.Do, c.act), s.Do)
			assert.True(t, strings.HasSuffix(s.Do, c.advice), s.Do)
			news := b.news[len(b.news)-1]
			assert.Equal(t, "card failed it: "+news.Text+"; "+news.Do, news.Mark)
			assert.True(t, strings.HasPrefix(news.Do, c.act), news.Do)
		})
	}
}

// TestArmedTooEarlyStandsBesideTheTick: what rings then has nothing to do with what
// only a person sees: it neither fails the step nor is it forgotten.
func TestArmedTooEarlyStandsBesideTheTick(t *testing.T) {
	b := newBench(t, heron(), oneStep("person", ""))
	b.pass(0.5)
	b.stick = 0.3
	arm(b, 0.3, 0.2, 1)
	assert.ErrorContains(t, b.run.May(runcard.Tick, "it"), "disarm first: rotors turn")
	b.stick, b.armed, b.out, b.rpm = 0, 0, all(0), all(0)
	b.pass(6)
	assert.True(t, b.run.Do(runcard.Tick, "it"))
	s := b.step("it")
	assert.Equal(t, runcard.Passed, s.State, s.Text)
	assert.Regexp(t, "^ticked; meanwhile .*stick-high craft", s.Text)
}

// TestMotorThatWakesHoldsTheCard: nobody is sent on to look at propellers after
// a motor has turned by itself, until a person does the step once more.
func TestMotorThatWakesHoldsTheCard(t *testing.T) {
	tr := trial{scenario: "motor-wakes", card: only(t, "person", "at-rest"), absent: true}
	r, news := tr.play(t)
	v := r.View()
	assert.Equal(t, 0, v.Current, told(r))
	assert.Equal(t, runcard.Failed, v.Steps[0].State, told(r))
	assert.Contains(t, v.Steps[0].Text, "spin-disarmed m4")
	assert.Equal(t, "keep clear; cut power only from outside the propellers' reach: it may turn by itself again", v.Steps[0].Do, "it stands by now")
	assert.Empty(t, v.TickID)
	assert.Equal(t, "person", v.AgainID)
	failed := 0
	for _, n := range news {
		if n.State == runcard.Failed && n.Step == 0 {
			failed++
		}
	}
	assert.Equal(t, 1, failed, "it is told once")
	assert.True(t, r.Do(runcard.Again, "person"))
	assert.True(t, r.Do(runcard.Tick, "person"))
}
