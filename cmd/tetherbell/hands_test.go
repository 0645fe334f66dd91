package main

import (
	"bytes"
	"context"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/dashboard"
	"tetherbell/decode"
	"tetherbell/simulator"
)

// A trial is a trainee whose time a test moves.
type trial struct {
	*trainee
	t   *testing.T
	buf []byte
}

func newTrial(t *testing.T, name string, set ...string) *trial {
	t.Helper()
	p := play{seed: 1, hands: true, set: set}
	sc, err := p.open(context.Background(), name)
	require.NoError(t, err)
	require.NotNil(t, sc.hand)
	return &trial{trainee: sc.hand, t: t}
}

// run plays so many simulated milliseconds.
func (r *trial) run(ms int64) {
	for end := r.now + ms*1000; r.now < end; {
		r.buf, _, _ = r.Next(r.buf[:0])
	}
}

// hold presses a key as a terminal repeats one that is held: first after
// half a second, then thirty times a second.
func (r *trial) hold(h dashboard.Hand, ms int64) {
	r.move(h)
	r.run(500)
	for ; ms > 500; ms -= 35 {
		r.move(h)
		r.run(35)
	}
}

func (r *trial) press(moves ...dashboard.Hand) {
	for _, h := range moves {
		r.move(h)
		r.run(100)
	}
}

func (r *trial) up(steps int) {
	for range steps {
		r.press(dashboard.ThrottleUp)
	}
}

func TestHandSpinsUpAndStops(t *testing.T) {
	r := newTrial(t, "calm")
	r.run(12_000)
	assert.False(t, r.hands().Armed, "the scenario's own person is out")
	r.press(dashboard.HandArm)
	r.run(1000)
	assert.True(t, r.hands().Armed)
	assert.InDelta(t, 0.08, r.bench.Truth().Out[0], 0.001, "armed idle")
	r.up(13)
	assert.InDelta(t, 0.26, r.hands().Throttle, 1e-9)
	r.run(1000)
	s := r.bench.Truth()
	assert.Greater(t, s.LiftN, 2.5)

	before := r.now
	r.move(dashboard.HandStop)
	for s = r.bench.Truth(); s.Out[0] > 0; s = r.bench.Truth() {
		r.run(5)
	}
	assert.LessOrEqual(t, r.now-before, int64(10_000), "us")
	r.run(200)
	s = r.bench.Truth()
	assert.Less(t, s.LiftN, 0.1*3)
	assert.Less(t, s.RPM[0], 1500.0)
	assert.Equal(t, dashboard.Hands{Armed: true, Stopped: true}, *r.hands(), "and the stick is at zero")
}

// Keys that are held, or hit over and over in fright, never start a motor.
func TestHandInFright(t *testing.T) {
	still := func(r *trial, why string) {
		s := r.bench.Truth()
		assert.Zero(t, s.Out, why)
		assert.True(t, s.Stopped, why)
	}
	r := newTrial(t, "calm")
	r.press(dashboard.HandArm)
	r.up(10)
	for range 9 {
		r.press(dashboard.HandStop)
		still(r, "hammered")
	}
	r.run(2000)
	r.hold(dashboard.HandStop, 3000)
	still(r, "held")
	r.press(dashboard.HandStop)
	assert.Contains(t, r.hands().Say, "disarm first")
	r.run(5000)
	assert.Empty(t, r.hands().Say, "a word does not stay")

	r.press(dashboard.HandArm, dashboard.HandArm)
	still(r, "an arming is refused")
	assert.False(t, r.hands().Armed)
	assert.Contains(t, r.hands().Say, "STOP is pressed")
	r.run(1000)
	r.press(dashboard.HandStop)
	assert.False(t, r.hands().Stopped, "let go at last")
	r.hold(dashboard.HandStop, 2000)
	assert.True(t, r.hands().Stopped, "held: pressed, and it stays")
	r.run(1000)
	r.press(dashboard.HandStop)
	r.hold(dashboard.HandArm, 3000)
	assert.False(t, r.hands().Armed, "held: armed, and disarmed again by the second")

	r.up(2)
	r.run(1000)
	r.press(dashboard.HandArm)
	assert.True(t, r.hands().Armed, "whatever the stick says, as the craft itself")
	r.press(dashboard.HandArm)
	assert.False(t, r.hands().Armed, "disarming does not wait")
}

func TestHandOnTheSticks(t *testing.T) {
	r := newTrial(t, "calm")
	r.press(dashboard.HandArm)
	r.hold(dashboard.ThrottleUp, 2500)
	assert.InDelta(t, 0.4, r.hands().Throttle, 0.15, "a held key takes some seconds")
	r.hold(dashboard.ThrottleDown, 2000)
	r.run(100)
	assert.Zero(t, r.hands().Throttle, "down is faster")
	r.press(dashboard.ThrottleDown)
	assert.Zero(t, r.hands().Throttle)
	for range 80 {
		r.press(dashboard.ThrottleUp)
	}
	assert.InDelta(t, 1, r.hands().Throttle, 1e-9)
	r.press(dashboard.ThrottleZero)
	assert.Zero(t, r.hands().Throttle)
	for h, want := range map[dashboard.Hand][3]float64{
		dashboard.RollLeft: {-nudge}, dashboard.RollRight: {nudge}, dashboard.NoseDown: {0, -nudge},
		dashboard.NoseUp: {0, nudge}, dashboard.YawLeft: {0, 0, -nudge}, dashboard.YawRight: {0, 0, nudge},
	} { // signs as decode/PROTOCOL.md gives them: right wing down, nose up, nose clockwise
		r.move(h)
		r.run(200)
		at := r.hands()
		assert.InDeltaSlice(t, want[:], []float64{at.Roll, at.Pitch, at.Yaw}, 1e-9, "%d", h)
		r.run(500)
		assert.Equal(t, dashboard.Hands{Armed: true}, *r.hands(), "%d springs back", h)
	}
	r.hold(dashboard.RollLeft, 1500)
	assert.InDelta(t, -nudge, r.hands().Roll, 1e-9, "a held key holds the stick")
}

// A nudge shows in the craft, and a sound one does not ring for it: the
// controller answers with less than the limit.
func TestNudgeIsFeltAndHarmless(t *testing.T) {
	r := newTrial(t, "calm")
	r.press(dashboard.HandArm)
	r.up(13)
	r.run(3000)
	for k, h := range []dashboard.Hand{dashboard.RollLeft, dashboard.NoseDown, dashboard.YawLeft} {
		r.move(h)
		most := 0.0
		for range 40 {
			r.run(10)
			most = max(most, -r.bench.Truth().Control[k])
		}
		assert.Greater(t, most, 0.005, "axis %d", k)
		assert.Less(t, most, simulator.OscillationLimit, "axis %d", k)
		r.run(1000)
	}
}

// The causes of a scenario stay, its person goes.
func TestHandLeavesTheCauses(t *testing.T) {
	r := newTrial(t, "idle-slip")
	r.run(4000)
	r.press(dashboard.HandArm)
	r.run(1000)
	assert.Greater(t, r.bench.Truth().Out[0], 0.7, "the slip is there")
	assert.NotNil(t, newTrial(t, "gains-high", "seconds=5"), "the person's events are no hindrance")
	r = newTrial(t, "stop-late", "seconds=21")
	r.press(dashboard.HandArm)
	r.up(8)
	r.run(12_000)
	r.press(dashboard.HandStop)
	s := r.bench.Truth()
	assert.Zero(t, s.Out[0])
	assert.Positive(t, s.Out[1], "m2 holds its output")
	for !func() bool { _, _, done := r.Next(nil); return done }() {
	}
	assert.Equal(t, int64(21_000_000), r.now, "a length that was asked for counts")
	for _, sc := range simulator.List() {
		for _, e := range sc.Events {
			assert.False(t, persons[e.Do] && e.Motor != 0, "%s at %g is a cause", sc.Name, e.At)
		}
	}
}

func TestHandQueueKeepsTheStop(t *testing.T) {
	r := newTrial(t, "calm")
	for range 3 * movesHeld {
		r.move(dashboard.NoseUp)
	}
	r.move(dashboard.HandStop)
	assert.Len(t, r.moves, movesHeld)
	r.run(5)
	assert.True(t, r.hands().Stopped)
}

func TestKeyCutter(t *testing.T) {
	for in, want := range map[string][]dashboard.Hand{
		"r0 ":                  {dashboard.HandArm, dashboard.ThrottleZero, dashboard.HandStop},
		"\x1b[A\x1bOB":         {dashboard.ThrottleUp, dashboard.ThrottleDown},
		"\x1b[D\x1b[C":         {dashboard.RollLeft, dashboard.RollRight},
		"iKjL":                 {dashboard.NoseDown, dashboard.NoseUp, dashboard.YawLeft, dashboard.YawRight},
		"\x1b[5~\x1b[1;5Ax":    {dashboard.ThrottleUp},
		"\x1b[20~\x1b[<0;1;1M": nil,
		"\x1b ":                {dashboard.HandStop},
		"\x1b[ ":               {dashboard.HandStop},
		"\x1br":                {dashboard.HandArm},
		"\x1b\x1b[A":           {dashboard.ThrottleUp},
		"apmv?\r\n\x00\xff":    nil,
		"rq ":                  {dashboard.HandArm},
		"\x03 ":                nil,
	} {
		var got []dashboard.Hand
		readKeys(strings.NewReader(in), func(h dashboard.Hand) { got = append(got, h) })
		assert.Equal(t, want, got, "%q", in)
		got = nil
		readKeys(oneByOne{strings.NewReader(in)}, func(h dashboard.Hand) { got = append(got, h) })
		assert.Equal(t, want, got, "%q in bytes", in)
	}
}

type oneByOne struct{ r *strings.Reader }

func (o oneByOne) Read(p []byte) (int, error) { return o.r.Read(p[:1]) }

func TestHandsLine(t *testing.T) {
	h := &dashboard.Hands{Throttle: 0.26, Roll: -0.06, Armed: true}
	assert.Equal(t, "ARMED     Space: STOP  throttle 0.26  roll -0.06  pitch +0.00  yaw +0.00", handsLine(h, 80))
	assert.Equal(t, "ARMED     Space: STO", handsLine(h, 21))
	h.Stopped, h.Say = true, "no"
	assert.Equal(t, "ARMED     STOPPED      no", handsLine(h, 80))
	assert.Empty(t, handsLine(h, 0))
}

// What is set reaches the lines: the craft line tells of another mass, and
// everything else stays as it was.
func TestSetReachesTheLines(t *testing.T) {
	mass := func(args ...string) (out float64) {
		var text, errs bytes.Buffer
		code := run(context.Background(), append([]string{"simulate", "--fast"}, args...), nil, &text, &errs)
		require.Zero(t, code, errs.String())
		var s decode.Sample
		var dec decode.Decoder
		for line := range bytes.Lines(text.Bytes()) {
			if dec.Decode(bytes.TrimSpace(line), &s) == nil && s.Tag == decode.Craft {
				out, _ = s.Get(decode.CraftMass)
			}
		}
		return out
	}
	assert.Equal(t, 655.0, mass("calm"))
	assert.Equal(t, 900.0, mass("--set", "craft.mass_g=900", "--set", "gains.scale=1.3", "calm"))
}

func TestSetAndHandsAreRefused(t *testing.T) {
	for _, c := range []struct{ args, says, hint string }{
		{"simulate --set gains.scale calm", `--set takes NAME=VALUE, not "gains.scale"`, "gains.scale=1.3"},
		{"simulate --set =1 calm", `--set takes NAME=VALUE, not "=1"`, "gains.scale=1.3"},
		{"demo --set gains.scael=2 --plain", "--set gains.scael=2: no such key", "README.md"},
		{"simulate --set craft.mass_g=7", "--set craft.mass_g=7: 7 is not within 20..20000", "README.md"},
		{"simulate --set motor.2.motor=4", "--set motor.2.motor=4: a motor keeps its number", "README.md"},
		{"simulate --set craft.layout=custom", "--set craft.layout=custom: arm: layout custom has 4 to 8", "README.md"},
		{"simulate --set", "--set needs a value: NAME=VALUE", "--help"},
		{"simulate --set a=1 ../../testdata/sessions/calm.bell", "is a recording", "--list"},
		{"demo --plain --set a=1 ../../testdata/sessions/calm.bell", "is a recording", "--list"},
		{"simulate --hands calm", "--hands needs a place for the lines", "tetherbell watch /tmp/bench"},
		{"simulate --hands --pty calm", "takes its keys from a terminal", "in a terminal of its own"},
		{"simulate --hands --fast --pty calm", "--hands and --fast exclude each other", "one of them"},
		{"demo --hands", "takes its keys from the screen", "without --plain"},
		{"demo --hands --json", "takes its keys from the screen", "without --plain"},
	} {
		var out, errs bytes.Buffer
		code := run(context.Background(), strings.Fields(c.args), strings.NewReader(""), &out, &errs)
		assert.Equal(t, exitTrouble, code, c.args)
		assert.Regexp(t, `^tetherbell: .+\nhint: .+\n$`, errs.String(), c.args)
		lines := strings.Split(errs.String(), "\n")
		assert.Contains(t, lines[0], c.says, c.args)
		assert.Contains(t, lines[1], c.hint, c.args)
		assert.Empty(t, out.String(), c.args)
	}
	p := play{hands: true}
	assert.ErrorContains(t, p.plain("x.bell"), "--hands is for scenarios")
	assert.True(t, slices.Contains(strings.Split(handsHelp, "\n"), "  r            arm, disarm"))
}

// Where the lesson is a stick that stands up at arming, a trainee finds it so.
func TestTraineeFindsTheStick(t *testing.T) {
	r := newTrial(t, "stick-up")
	r.run(100)
	assert.InDelta(t, 0.34, r.hands().Throttle, 1e-9)
	r.press(dashboard.HandArm)
	assert.True(t, r.hands().Armed)
	r.run(1500)
	assert.Greater(t, r.bench.Truth().LiftN, 3.0)
	r = newTrial(t, "gains-high")
	r.run(100)
	assert.Zero(t, r.hands().Throttle)
}
