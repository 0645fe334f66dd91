package runcard_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/runcard"
	"tetherbell/decode"
)

// waggle moves roll, pitch and yaw three seconds each, to and fro by 0.1, twice
// over. demand and motors say what of an axis' stick they answer.
func waggle(b *bench, demand, motors func(axis int, stick float64) float64) {
	b.armed, b.stick = 1, 0.2
	// quad-x: clockwise from the front right; right and nose up are positive.
	right, ahead := []float64{1, 1, -1, -1}, []float64{1, -1, -1, 1}
	for ; b.us < 24e6; b.us += 5000 {
		var st, d, m [3]float64
		if b.us > 3e6 {
			st[int((b.us-3e6)/3e6)%3] = 0.1 * math.Sin(2*math.Pi*float64(b.us)/1e6)
		}
		for axis := range 3 {
			d[axis], m[axis] = demand(axis, st[axis]), motors(axis, st[axis])
		}
		b.line(decode.Axes, 0, 0, 0, 200*d[0], 200*d[1], 200*d[2], m[0], m[1], m[2], b.stick)
		if b.us%20_000 == 0 {
			b.line(decode.State, 1, 0, 1, b.stick, st[0], st[1], st[2], 1)
			b.motors(decode.Out, func(i int) float64 { return 0.2 - 0.3*m[0]*right[i] + 0.3*m[1]*ahead[i] }, 1)
			b.motors(decode.ERPM, all(5000), 7)
		}
	}
}

// TestSticksAreAnsweredBothWays: an answer to one side alone does not pass, nor
// does a stick that was moved to one side alone.
func TestSticksAreAnsweredBothWays(t *testing.T) {
	full := func(_ int, stick float64) float64 { return stick }
	nought := func(int, float64) float64 { return 0 }
	oneWay := func(which int, sign float64) func(int, float64) float64 {
		return func(axis int, stick float64) float64 {
			if axis == which && stick*sign < 0 {
				return 0
			}
			return stick
		}
	}
	for name, c := range map[string]struct {
		demand, motors func(int, float64) float64
		state          runcard.State
		words          string
	}{
		"both ways":                   {full, full, runcard.Passed, "right both ways: roll, pitch by demand and motors; yaw by demand"},
		"weaker to one side":          {func(_ int, v float64) float64 { return v + 0.5*math.Abs(v) }, full, runcard.Passed, "right both ways"},
		"no roll left":                {oneWay(0, 1), full, runcard.Now, "no answer this way yet: roll left"},
		"no roll right":               {oneWay(0, -1), full, runcard.Now, "no answer this way yet: roll right"},
		"no nose down":                {oneWay(1, 1), full, runcard.Now, "pitch nose down"},
		"no yaw counter-clockwise":    {oneWay(2, 1), full, runcard.Now, "yaw counter-clockwise"},
		"motors to one side of pitch": {full, oneWay(1, 1), runcard.ByEye, "the motors' answer to pitch was not seen both ways"},
		"motors not at all":           {full, nought, runcard.ByEye, "the motors' answer to roll, pitch was not seen"},
		"demand not at all":           {nought, full, runcard.Now, "no clear answer yet"},
		"demand not told": {func(int, float64) float64 { return none }, full, runcard.ByEye,
			"yaw: demanded rate not known"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, heron(), oneStep("sticks", ""))
			waggle(b, c.demand, c.motors)
			s := b.step("it")
			assert.Equal(t, c.state.String(), s.State.String(), s.Text)
			assert.Contains(t, s.Text, c.words)
		})
	}
}
