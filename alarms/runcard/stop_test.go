package runcard_test

import (
	"math"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/runcard"
)

// millis reads the measured time out of a step's words.
func millis(t *testing.T, text string) float64 {
	t.Helper()
	m := regexp.MustCompile(` ([0-9]+) ms after`).FindStringSubmatch(text)
	require.NotNil(t, m, text)
	v, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	return v
}

// TestStopTimeOfADecay: a rotor that slows down by exp(-t/tau) is at a tenth of
// its speed after tau ln 10, a thing of paper. It coasts from the moment of the
// stop; speeds come every 20 ms and the line between two of them is straight,
// which costs a millisecond at most.
func TestStopTimeOfADecay(t *testing.T) {
	for _, tau := range []float64{0.05, 0.12, 0.3} {
		b := newBench(t, heron(), oneStep("stop-test", ""))
		stopped := int64(-1)
		slowest := tau
		b.out = func(int) float64 {
			if stopped >= 0 {
				return 0
			}
			return 0.08
		}
		b.rpm = func(m int) float64 {
			if stopped < 0 {
				return 2000
			}
			lag := slowest
			if m > 0 {
				lag /= 2 // the slowest of them counts
			}
			return 2000 * math.Exp(-float64(b.us-stopped)/1e6/lag)
		}
		b.armed = 1
		b.pass(2)
		stopped, b.stop, b.armed = b.us, 1, 0
		b.pass(2)
		s := b.step("it")
		require.Equal(t, runcard.Passed, s.State, s.Text)
		assert.InDelta(t, tau*math.Ln10*1000, millis(t, s.Text), 3, s.Text)
		assert.Contains(t, s.Text, "limit 1000")
	}
}

// A stop that is late, or cannot be seen.
func TestStopOutcomes(t *testing.T) {
	const gone = -1000.0
	for name, c := range map[string]struct {
		more           string
		diameter       float64
		out, rpm, rpm2 func(since float64) float64 // seconds after the stop; -1 before it
		noStop         bool                        // the bridge does not tell of the switch
		state          runcard.State
		words          []string
	}{
		"one rotor runs on": {out: cutAt(0), rpm: coast(0.1), rpm2: func(float64) float64 { return 2000 },
			state: runcard.Failed, words: []string{"m2 still at 1.00 of the speed before"}},
		"slower than the limit of a small propeller": {out: cutAt(0), rpm: coast(0.6), rpm2: coast(0.6),
			state: runcard.Failed, words: []string{"ms after the stop, limit 1000 ms"}},
		"the same with a large one": {out: cutAt(0), rpm: coast(0.6), rpm2: coast(0.6), diameter: 254,
			state: runcard.Passed, words: []string{"1382 ms", "limit 3000"}}, // 0.6 ln 10 = 1.3816 s
		"a limit of the card": {more: "within_ms = 200\n", out: cutAt(0), rpm: coast(0.12), rpm2: coast(0.12),
			state: runcard.Failed, words: []string{"limit 200 ms"}},
		"outputs stay": {out: cutAt(9), rpm: coast(0.1), rpm2: coast(0.1),
			state: runcard.Failed, words: []string{"output"}},
		"no speeds": {out: cutAt(0.1),
			state: runcard.Passed, words: []string{"outputs at zero 100 ms", "rotor speeds are not measured: see that they stand"}},
		"no speeds, outputs late": {out: cutAt(0.6),
			state: runcard.Failed, words: []string{"output"}},
		"a speed that is lost": {out: cutAt(0), rpm: coast(0.1), rpm2: func(s float64) float64 {
			if s > 0.05 {
				return gone
			}
			return 2000
		}, state: runcard.ByEye, words: []string{"the speed of m2 was lost before it stood"}},
		"the switch is not told": {out: cutAt(0), rpm: coast(0.1), rpm2: coast(0.1), noStop: true,
			state: runcard.Passed, words: []string{"after disarming (the stop switch is not told)"}},
		"nothing is measured": {state: runcard.ByEye, words: []string{"neither outputs nor rotor speeds are measured"}},
	} {
		t.Run(name, func(t *testing.T) {
			cr := heron()
			if c.diameter > 0 {
				cr.DiameterMM, cr.MassG = c.diameter, 4000 // heavy enough for idle to lift little of it
			}
			b := newBench(t, cr, oneStep("stop-test", c.more))
			stopped := int64(-1)
			since := func() float64 {
				if stopped < 0 {
					return -1
				}
				return float64(b.us-stopped) / 1e6
			}
			if c.out != nil {
				b.out = func(int) float64 { return c.out(since()) }
			}
			if c.rpm != nil {
				b.rpm = func(m int) float64 {
					if m == 1 {
						return c.rpm2(since())
					}
					return c.rpm(since())
				}
			}
			if c.noStop {
				b.stop = gone
			}
			b.armed = 1
			b.pass(3)
			stopped, b.armed = b.us, 0
			if !c.noStop {
				b.stop = 1
			}
			b.pass(4)
			s := b.step("it")
			assert.Equal(t, c.state, s.State, s.Text)
			for _, w := range c.words {
				assert.Contains(t, s.Text, w)
			}
		})
	}
}

// cutAt is an output that ends so many seconds after the stop.
func cutAt(seconds float64) func(float64) float64 {
	return func(since float64) float64 {
		if since >= seconds {
			return 0
		}
		return 0.08
	}
}

// coast is a speed that decays after the stop.
func coast(tau float64) func(float64) float64 {
	return func(since float64) float64 { return 2000 * math.Exp(-max(since, 0)/tau) }
}

// TestStopMustBeThePressedOne: a disarm without the switch is no test of it, and
// the step waits for the next.
func TestStopMustBeThePressedOne(t *testing.T) {
	b := newBench(t, heron(), oneStep("stop-test", ""))
	b.out, b.rpm = func(int) float64 { return 0.08 * b.armed }, func(int) float64 { return 2000 * b.armed }
	b.armed = 1
	b.pass(2)
	b.armed = 0
	b.pass(1)
	s := b.step("it")
	assert.Equal(t, runcard.Now, s.State)
	assert.Contains(t, s.Text, "arm")
	b.stop = 1 // pressed while nothing runs: no test either
	b.pass(1)
	assert.Equal(t, runcard.Now, b.step("it").State)
	b.stop, b.armed = 0, 1
	b.pass(2)
	b.stop, b.armed = 1, 0
	b.pass(1)
	assert.Equal(t, runcard.Passed, b.step("it").State)
}

// TestStopIsToldInSeveralLines: one odd line of the craft's state is no press of
// the stop, and one that leaves the switch out is no bench without a switch.
func TestStopIsToldInSeveralLines(t *testing.T) {
	const gone = -1000.0
	for name, c := range map[string]struct {
		lines []float64 // what the lines from the disarming on say of the stop; the last goes on
		armed int       // so many of them come while the craft is armed and runs on
		state runcard.State
		words string
	}{
		"pressed":                          {[]float64{1}, 0, runcard.Passed, "ms after the stop"},
		"pressed, a line leaves it out":    {[]float64{1, gone, 1}, 0, runcard.Passed, "ms after the stop"},
		"a line before it leaves it out":   {[]float64{gone, 1}, 0, runcard.Passed, "ms after the stop"},
		"left out as it is disarmed":       {[]float64{gone, 0}, 0, runcard.Now, "arm"},
		"two leave it out":                 {[]float64{gone, gone, 0}, 0, runcard.Now, "arm"},
		"five leave it out":                {[]float64{gone, gone, gone, gone, gone, 0}, 0, runcard.Now, "arm"},
		"left out from then on":            {[]float64{gone}, 0, runcard.Now, "arm"},
		"a stray line, then a disarm":      {[]float64{1, 0}, 6, runcard.Now, "without the stop"},
		"two stray lines, then a disarm":   {[]float64{1, 1, 0}, 6, runcard.Now, "without the stop"},
		"a stray line as it is disarmed":   {[]float64{1, 0}, 0, runcard.Now, "without the stop"},
		"a stray line, then it is pressed": {[]float64{1, 0, 0, 0, 0, 0, 1}, 6, runcard.Passed, "ms after the stop"},
		"told once, then never":            {[]float64{1, gone}, 0, runcard.ByEye, "told in a line or two alone"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, heron(), oneStep("stop-test", ""))
			rpm := 1500.0
			b.out, b.rpm, b.armed = func(int) float64 { return 0.08 * b.armed }, func(int) float64 { return rpm }, 1
			b.pass(5)
			for n := range 150 {
				b.stop = c.lines[min(n, len(c.lines)-1)]
				if n >= c.armed {
					b.armed, rpm = 0, 0.8*rpm
				}
				b.pass(0.02)
			}
			s := b.step("it")
			assert.Equal(t, c.state.String(), s.State.String(), s.Text)
			assert.Contains(t, s.Text, c.words)
		})
	}
}
