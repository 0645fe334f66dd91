package runcard_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/runcard"
	"tetherbell/decode/craft"
)

const none = -1000.0 // a field that is not measured

// A try is one step with a bench that is made for it.
type try struct {
	kind, more string
	craft      func(c *craft.Craft)
	do         func(b *bench)
	state      runcard.State
	words      []string
}

func (c *try) run(t *testing.T) {
	cr := heron()
	if c.craft != nil {
		c.craft(&cr)
	}
	b := newBench(t, cr, oneStep(c.kind, c.more))
	c.do(b)
	s := b.step("it")
	assert.Equal(t, c.state.String(), s.State.String(), s.Text)
	for _, w := range c.words {
		assert.Contains(t, s.Text, w)
	}
}

// arm has the craft at armed idle for so long.
func arm(b *bench, out, lift, seconds float64) {
	b.out, b.rpm = all(out), all(1500)
	b.load = func() float64 { return lift }
	b.armed = 1
	b.pass(seconds)
}

// each has the craft armed for 8 s with these outputs.
func each(b *bench, out ...float64) {
	b.armed, b.out = 1, func(m int) float64 { return out[m] }
	b.pass(8)
}

func idleOf(v float64) func(*craft.Craft) { return func(c *craft.Craft) { c.IdleReady = v } }

func TestArmedIdle(t *testing.T) {
	for name, c := range map[string]try{
		// 0.5 s of spinning up and 3 s of idle are judged.
		"sound":          {do: func(b *bench) { arm(b, 0.08, 0.2, 4) }, state: runcard.Passed, words: []string{"mean output 0.080, set to 0.080", "lift 0.03 of weight"}},
		"not long":       {do: func(b *bench) { arm(b, 0.08, 0.2, 3) }, state: runcard.Now, words: []string{"of 3.0 s"}},
		"as long as set": {more: "seconds = 1\n", do: func(b *bench) { arm(b, 0.08, 0.2, 1.7) }, state: runcard.Passed},
		"far over idle":  {do: func(b *bench) { arm(b, 0.14, 0.2, 4) }, state: runcard.Failed, words: []string{"mean output 0.140, set to 0.080: not armed idle, 0.048 to 0.112"}},
		"far under idle": {do: func(b *bench) { arm(b, 0.02, 0.2, 4) }, state: runcard.Failed, words: []string{"not armed idle"}},
		// Idle of 0.045: 0.045 - 0.02 to 0.045 + 0.02. Of 0.02: half of it to 0.04.
		"small idle":           {craft: idleOf(0.045), do: func(b *bench) { arm(b, 0.045, 0.2, 4) }, state: runcard.Passed},
		"small idle, trimmed":  {craft: idleOf(0.045), do: func(b *bench) { arm(b, 0.063, 0.2, 4) }, state: runcard.Passed},
		"small idle, too much": {craft: idleOf(0.045), do: func(b *bench) { arm(b, 0.07, 0.2, 4) }, state: runcard.Failed, words: []string{"not armed idle, 0.025 to 0.065"}},
		"small idle, nought":   {craft: idleOf(0.045), do: func(b *bench) { arm(b, 0.005, 0.2, 4) }, state: runcard.Failed, words: []string{"not armed idle"}},
		"tiny idle, nought":    {craft: idleOf(0.02), do: func(b *bench) { arm(b, 0.005, 0.2, 4) }, state: runcard.Failed, words: []string{"not armed idle, 0.010 to 0.040"}},
		"standing, no speeds":  {craft: idleOf(0.045), do: func(b *bench) { b.out, b.armed = all(0), 1; b.pass(6) }, state: runcard.Now, words: []string{"not driven: m1, m2, m3, m4"}},
		"one of them standing": {craft: idleOf(0), do: func(b *bench) {
			b.armed, b.out = 1, func(m int) float64 { return 0.05 * float64(min(m, 1)) }
			b.pass(6)
		}, state: runcard.Now, words: []string{"not driven: m1"}},
		// The mean is 0.08 each time; a motor may lie between half of 0.08 and 0.08 + 2*0.032.
		"one runs, three stand": {do: func(b *bench) { each(b, 0.29, 0.01, 0.01, 0.01) }, state: runcard.Failed,
			words: []string{"mean output 0.080", "m1 0.290, m2 0.010, m3 0.010, m4 0.010: not armed idle of each motor, 0.040 to 0.144"}},
		"one hardly driven":       {do: func(b *bench) { each(b, 0.1, 0.1, 0.1, 0.02) }, state: runcard.Failed, words: []string{"m4 0.020"}},
		"one far over":            {do: func(b *bench) { each(b, 0.05, 0.05, 0.05, 0.17) }, state: runcard.Failed, words: []string{"m4 0.170"}},
		"trimmed each for itself": {do: func(b *bench) { each(b, 0.05, 0.11, 0.1, 0.06) }, state: runcard.Passed},
		"one runs, idle not told": {craft: idleOf(0), do: func(b *bench) { each(b, 0.29, 0.01, 0.01, 0.01) }, state: runcard.Failed, words: []string{"m1 0.290"}},
		"low, but seen to turn": {do: func(b *bench) { // as fast as such an output has it turn
			b.rpm = func(m int) float64 { return 18_000 * b.out(m) }
			each(b, 0.09, 0.09, 0.09, 0.035)
		}, state: runcard.Passed},
		"it lifts":       {do: func(b *bench) { arm(b, 0.08, 1.5, 4) }, state: runcard.Failed, words: []string{"lift"}}, // 0.23 of 6.42 N
		"no load cells":  {do: func(b *bench) { arm(b, 0.08, none, 4) }, state: runcard.Passed, words: []string{"lift is not measured"}},
		"stick off zero": {do: func(b *bench) { b.stick = 0.03; arm(b, 0.08, 0.2, 4) }, state: runcard.Now, words: []string{"stick stands at 0.03"}},
		"no outputs":     {do: func(b *bench) { arm(b, none, 0.2, 4) }, state: runcard.ByEye, words: []string{"outputs are not measured: watch"}},
		"no stick":       {do: func(b *bench) { b.stick = none; arm(b, 0.08, 0.2, 4) }, state: runcard.ByEye, words: []string{"the throttle stick is not measured"}},
		"armed not told": {do: func(b *bench) { arm(b, 0.08, 0.2, 0); b.armed = none; b.pass(4) }, state: runcard.ByEye, words: []string{"whether the craft is armed is not told"}},
		"idle not told": {craft: func(c *craft.Craft) { c.IdleReady = 0 }, do: func(b *bench) { arm(b, 0.08, 0.2, 4) },
			state: runcard.Passed, words: []string{"armed idle not told"}},
	} {
		c.kind = "armed-idle"
		t.Run(name, c.run)
	}
}

func TestAtRest(t *testing.T) {
	rest := func(out, rpm float64) func(b *bench) {
		return func(b *bench) { b.out, b.rpm = all(out), all(rpm); b.pass(2) }
	}
	for name, c := range map[string]try{
		"sound":         {do: rest(0, 0), state: runcard.Passed, words: []string{"outputs at zero, rotors standing"}},
		"it turns":      {do: rest(0, 60), state: runcard.Now, words: []string{"still turning: m1, m2, m3, m4"}},
		"hardly turns":  {do: rest(0, 49), state: runcard.Passed},
		"it is driven":  {do: rest(0.002, 0), state: runcard.Failed, words: []string{"spin-disarmed"}},
		"no speeds":     {do: func(b *bench) { b.out = all(0); b.pass(2) }, state: runcard.Passed, words: []string{"rotor speeds are not measured: see that they stand"}},
		"armed":         {do: func(b *bench) { b.out = all(0); b.armed = 1; b.pass(2) }, state: runcard.Now, words: []string{"still armed"}},
		"nothing to go": {do: func(b *bench) { b.pass(4) }, state: runcard.ByEye, words: []string{"watch the propellers yourself"}},
	} {
		c.kind = "at-rest"
		t.Run(name, c.run)
	}
}

// TestAtRestWaitsForTheRelease: who is told to release the stop is not told to arm
// while it is pressed. Where nobody tells, a person says so.
func TestAtRestWaitsForTheRelease(t *testing.T) {
	rest := func(stop float64, more func(b *bench)) func(b *bench) {
		return func(b *bench) {
			b.out, b.rpm, b.stop = all(0), all(0), stop
			b.pass(4)
			more(b)
		}
	}
	no := func(*bench) {}
	const released = "released = true\n"
	for name, c := range map[string]try{
		"pressed":          {more: released, do: rest(1, no), state: runcard.Now, words: []string{"the stop is pressed: release it"}},
		"let go":           {more: released, do: rest(1, func(b *bench) { b.stop = 0; b.pass(1.2) }), state: runcard.Passed, words: []string{"disarmed, stop released, outputs at zero"}},
		"just let go":      {more: released, do: rest(1, func(b *bench) { b.stop = 0; b.pass(0.8) }), state: runcard.Now},
		"never pressed":    {more: released, do: rest(0, no), state: runcard.Passed},
		"not told":         {more: released, do: rest(none, no), state: runcard.ByEye, words: []string{"the stop switch is not told: see that it is released"}},
		"of no matter":     {do: rest(1, no), state: runcard.Passed, words: []string{"disarmed, outputs at zero"}},
		"released = false": {more: "released = false\n", do: rest(1, no), state: runcard.Passed},
	} {
		c.kind = "at-rest"
		t.Run(name, c.run)
	}
	for _, c := range runcard.List() {
		for _, s := range c.Steps {
			assert.Equal(t, s.Kind == runcard.AtRest && strings.Contains(s.Say, "release the stop"), s.Released, s.ID)
		}
	}
}

// touch raises the stick from zero to 0.3 after two seconds of armed idle.
func touch(seconds, out, lift float64) func(b *bench) {
	return func(b *bench) {
		arm(b, 0.08, 0.2, 2)
		steps := int(min(60, seconds/0.005))
		for k := range steps {
			b.stick = 0.3 * float64(k+1) / float64(steps)
			if b.stick >= 0.02 {
				b.out, b.load = all(0.08+out+b.stick), func() float64 { return 0.2 + lift }
			}
			b.pass(seconds / float64(steps))
		}
	}
}

// flick has the stick at 0.03 for so long after two seconds of armed idle.
func flick(b *bench, seconds, jump float64) {
	arm(b, 0.08, none, 2)
	b.stick, b.out = 0.03, all(0.08+jump+0.03)
	b.pass(seconds)
	b.stick, b.out = 0, all(0.08)
	b.pass(1)
}

func TestLeastOutput(t *testing.T) {
	for name, c := range map[string]try{
		// 0.2 N of 6.42 N are 0.03 of the weight.
		"sound":      {do: touch(3, 0.02, 0.2), state: runcard.Passed, words: []string{"from 0.080 by 0.020 (limit 0.10)", "lift by 0.03 of weight"}},
		"a step":     {do: touch(3, 0.15, 0.2), state: runcard.Failed, words: []string{"0.15"}},
		"a lift":     {do: touch(3, 0.02, 2.2), state: runcard.Failed, words: []string{"0.3"}}, // 0.34 of the weight
		"no lift":    {do: touch(3, 0.02, none), state: runcard.Passed, words: []string{"lift is not measured"}},
		"too fast":   {do: touch(0.1, 0.02, 0.2), state: runcard.Now, words: []string{"stick to zero"}},
		"not yet":    {do: func(b *bench) { arm(b, 0.08, 0.2, 3) }, state: runcard.Now},
		"no outputs": {do: func(b *bench) { arm(b, none, none, 4) }, state: runcard.ByEye, words: []string{"outputs are not measured: watch that the first touch"}},
		// The first touch makes a jump of 0.32 or 0.02, but only for as long as it lasts.
		"one stray line":    {do: func(b *bench) { flick(b, 0.02, 0.32) }, state: runcard.Now, words: []string{"let go too soon"}},
		"two stray lines":   {do: func(b *bench) { flick(b, 0.04, 0.02) }, state: runcard.Now, words: []string{"let go too soon"}},
		"flicked for 0.1 s": {do: func(b *bench) { flick(b, 0.1, 0.02) }, state: runcard.Now, words: []string{"let go too soon"}},
		"stray lines all along": {do: func(b *bench) {
			for range 20 {
				flick(b, 0.02, 0.32)
			}
		}, state: runcard.Now},
		"touched for long": {do: func(b *bench) { flick(b, 0.5, 0.32) }, state: runcard.Failed, words: []string{"0.32"}},
		"lift alone":       {do: func(b *bench) { touch(3, none, 0.2)(b) }, state: runcard.Passed, words: []string{"lift by 0.03"}},
		"started aloft":    {do: func(b *bench) { b.stick = 0.2; arm(b, 0.3, 0.2, 3) }, state: runcard.Now, words: []string{"stick to zero"}},
	} {
		c.kind = "least-output"
		t.Run(name, c.run)
	}
}

// throttle holds the stick for so long.
func throttle(b *bench, at, seconds float64) {
	b.stick, b.out = at, all(0.08+at)
	b.pass(seconds)
}

func TestThrottleTo(t *testing.T) {
	for name, c := range map[string]try{
		"sound": {do: func(b *bench) { arm(b, 0.08, 0.2, 6); throttle(b, 0.2, 4) }, state: runcard.Passed,
			words: []string{"held 3.0 s at 0.20, nothing grew; largest swing", "of 0.100"}},
		"a little under": {do: func(b *bench) { arm(b, 0.08, 0.2, 6); throttle(b, 0.185, 4) }, state: runcard.Passed},
		"too little":     {do: func(b *bench) { arm(b, 0.08, 0.2, 6); throttle(b, 0.17, 4) }, state: runcard.Now, words: []string{"up: the stick stands at 0.17"}},
		"too far":        {do: func(b *bench) { arm(b, 0.08, 0.2, 6); throttle(b, 0.25, 4) }, state: runcard.Now, words: []string{"too far: the stick stands at 0.25"}},
		"let go early":   {do: func(b *bench) { arm(b, 0.08, 0.2, 6); throttle(b, 0.2, 2); throttle(b, 0.1, 1); throttle(b, 0.2, 2) }, state: runcard.Now, words: []string{"of 3.0 s"}},
		"disarmed":       {do: func(b *bench) { b.stick, b.out = 0.2, all(0); b.pass(4) }, state: runcard.Now, words: []string{"not armed"}},
		"no stick":       {do: func(b *bench) { arm(b, 0.08, 0.2, 6); b.stick = none; b.pass(4) }, state: runcard.ByEye, words: []string{"watch and listen for a shake"}},
	} {
		c.kind, c.more = "throttle-to", "throttle = 0.2\n"
		t.Run(name, c.run)
	}
}

// slowly tells temperatures once in so many seconds, for so long.
func slowly(b *bench, every, seconds float64) {
	b.out = all(0)
	for end := b.us + int64(seconds*1e6); b.us < end; {
		b.temp = nil
		b.pass(every - 0.02)
		b.temp = all(30)
		b.pass(0.02)
	}
}

func TestTemperatures(t *testing.T) {
	each := func(v ...float64) func(b *bench) {
		return func(b *bench) {
			b.out, b.temp = all(0), func(m int) float64 { return v[m] }
			b.pass(12)
		}
	}
	for name, c := range map[string]try{
		"sound": {do: each(30, 31, 32, 33), state: runcard.Passed, words: []string{"hottest m4 with 33 C (limit 60), 2 over the others (limit 15)"}},
		"hot":   {do: each(61, 58, 59, 60), state: runcard.Failed, words: []string{"m1"}},
		// The median of the others is 30: 16 over it.
		"one apart":      {do: each(30, 46, 30, 29), state: runcard.Failed, words: []string{"m2 with 46 C", "16 over the others"}},
		"the card's own": {more: "most_c = 32\n", do: each(30, 31, 32, 33), state: runcard.Failed, words: []string{"limit 32"}},
		"one unknown":    {do: each(30, 31, none, 33), state: runcard.ByEye, words: []string{"m3 not seen after the run: once all rotors stand unplug the pack"}},
		"none":           {do: func(b *bench) { b.out = all(0); b.pass(4) }, state: runcard.ByEye, words: []string{"not measured: once all rotors stand unplug the pack, then feel each motor"}},
		// Told for a second or ten of the first, then no more: they say nothing of the end.
		"one told at the start alone": {do: func(b *bench) {
			each(30, 31, 32, 33)(b)
			b.run.Do(runcard.Again, "it")
			b.pass(1)
			each(30, 31, none, 33)(b)
		},
			state: runcard.ByEye, words: []string{"hottest m4 with 33 C", "m3 not seen after the run"}},
		"told at the start alone": {do: func(b *bench) {
			b.out, b.temp = all(0), all(30)
			b.pass(8)
			b.temp = nil
			b.pass(5)
		}, state: runcard.ByEye, words: []string{"not seen after the run: once all rotors stand"}},
		"told before the run alone": {do: func(b *bench) {
			b.armed, b.out, b.temp = 1, all(0.1), all(30)
			b.pass(2)
			b.armed, b.out, b.temp = 0, all(0), nil
			b.pass(12)
		}, state: runcard.ByEye, words: []string{"not seen after the run"}},
		// A line in 2 s, the last at 10 s of a wait of 11: well within three of them.
		"told slowly": {more: "seconds = 11\n", do: func(b *bench) { slowly(b, 2, 16) }, state: runcard.Passed, words: []string{"with 30 C"}},
		// The first comes after 2 s: a wait of half a second waits for it.
		"a short wait, told slowly": {more: "seconds = 0.5\n", do: func(b *bench) { slowly(b, 2, 6) }, state: runcard.Passed, words: []string{"with 30 C"}},
		"armed":                     {do: func(b *bench) { b.armed = 1; each(30, 31, 32, 33)(b) }, state: runcard.Now, words: []string{"still armed"}},
	} {
		c.kind = "temperatures"
		t.Run(name, c.run)
	}
}

// TestSilenceIsNoEvidence: what was last heard holds nothing up while no line
// comes, and a stop whose end nobody heard is left to a person.
func TestSilenceIsNoEvidence(t *testing.T) {
	b := newBench(t, heron(), oneStep("at-rest", "seconds = 3\n"))
	b.out, b.rpm = all(0), all(0)
	b.pass(1)
	b.silence(20)
	assert.Equal(t, runcard.Now, b.step("it").State)
	b.pass(2.5)
	assert.Equal(t, runcard.Now, b.step("it").State)
	b.pass(1)
	assert.Equal(t, runcard.Passed, b.step("it").State)

	b = newBench(t, heron(), oneStep("stop-test", ""))
	arm(b, 0.08, 0.2, 2)
	b.stop, b.armed = 1, 0
	b.pass(0.1)
	b.silence(3)
	assert.Equal(t, runcard.ByEye, b.step("it").State)
	assert.Contains(t, b.step("it").Text, "the lines broke off during the stop")
}

// TestRestartJoinsNothing: a bridge that begins anew in the middle of a hold
// begins the hold anew; what lay before is not added to what comes after. While
// the craft is armed a restart rings high, and that fails the step.
func TestRestartJoinsNothing(t *testing.T) {
	b := newBench(t, heron(), oneStep("at-rest", "seconds = 3\n"))
	b.out, b.rpm = all(0), all(0)
	b.pass(2.5)
	b.us, b.seq = 0, 0
	b.pass(2)
	assert.Equal(t, runcard.Now, b.step("it").State, b.step("it").Text)
	b.pass(2)
	assert.Equal(t, runcard.Passed, b.step("it").State)

	b = newBench(t, heron(), oneStep("armed-idle", "seconds = 3\n"))
	arm(b, 0.08, 0.2, 3)
	b.us, b.seq = 0, 0
	b.pass(2)
	assert.Equal(t, runcard.Failed, b.step("it").State)
	assert.Contains(t, b.step("it").Text, "stale-link")
}
