package runcard_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/runcard"
	"tetherbell/decode"
)

func TestParseMark(t *testing.T) {
	for text, want := range map[string]struct {
		act runcard.Act
		id  string
		is  bool
		own bool
	}{
		"card tick area-clear":         {runcard.Tick, "area-clear", true, true},
		"card no straps":               {runcard.No, "straps", true, true},
		"card skip a":                  {runcard.Skip, "a", true, true},
		"card again a":                 {runcard.Again, "a", true, true},
		"card begin first-run: First":  {own: true},
		"card passed stop: in 250 ms":  {own: true},
		"card failed stop: m2; unplug": {own: true},
		"card by-eye warmth: feel":     {own: true},
		"card skipped a: left out":     {own: true},
		"card note: armed":             {own: true},
		"card end: 3 of 4 passed":      {own: true},
		"card tick":                    {},
		"card tick two words":          {},
		"card trick a":                 {},
		"card":                         {},
		"cardboard tick a":             {},
		"my card tick a":               {},
		"":                             {},
	} {
		a, id, act, own := runcard.ParseMark(text)
		assert.Equal(t, want.own, own, text)
		assert.Equal(t, want.is, act, text)
		if act {
			assert.Equal(t, want.act, a, text)
			assert.Equal(t, want.id, id, text)
			assert.Equal(t, text, a.Mark(id))
		}
		_, _, _, own = runcard.ParseMark(runcard.Free(text))
		assert.False(t, own, "a person's own mark is never the card's: %q", runcard.Free(text))
	}
}

// TestFreeAsItIsRecorded: what a recording makes of a mark, each end of a line a
// blank, is no act either.
func TestFreeAsItIsRecorded(t *testing.T) {
	for _, text := range []string{"card\rtick look", "card\ntick look", "card\r\ntick look", "\rcard tick look", " card tick look", "card tick\rlook"} {
		kept := strings.NewReplacer("\r", " ", "\n", " ").Replace(runcard.Free(text))
		_, _, _, own := runcard.ParseMark(strings.TrimSpace(kept))
		assert.False(t, own, "%q is kept as %q", text, kept)
	}
	assert.Equal(t, "tether hooked", runcard.Free("tether hooked"))
}

const three = head + `
[[step]]
id = "look"
kind = "person"
say = "Look."
if_failed = "Mend."
[[step]]
id = "clear"
kind = "person"
say = "Clear it."
if_failed = "Wait."
[[step]]
id = "idle"
kind = "armed-idle"
say = "Arm."
if_failed = "Stop."
`

// states is the card in short: one word a step.
func states(r *runcard.Run) string {
	var out []string
	for _, s := range r.View().Steps {
		out = append(out, s.State.String())
	}
	return strings.Join(out, " ")
}

// TestActs: what each act does, and what may not be done.
func TestActs(t *testing.T) {
	for name, c := range map[string]struct {
		acts string // "tick look, no clear"
		want string
		done bool // the last of them
	}{
		"none":                       {"", "now waiting waiting", true},
		"a tick":                     {"tick look", "passed now waiting", true},
		"not its turn":               {"tick clear", "now waiting waiting", false},
		"twice":                      {"tick look, tick look", "passed now waiting", false},
		"no such step":               {"tick nose", "now waiting waiting", false},
		"not right":                  {"no look", "failed waiting waiting", true},
		"a failed one takes no tick": {"no look, tick look", "failed waiting waiting", false},
		"once more":                  {"no look, again look, tick look", "passed now waiting", true},
		"left out after it failed":   {"no look, skip look", "skipped now waiting", true},
		"left out":                   {"skip look", "skipped now waiting", true},
		"an earlier one once more":   {"tick look, again look", "now waiting waiting", true},
		"and on from where it was":   {"tick look, tick clear, again look, tick look", "passed passed now", true},
		"evidence takes no tick":     {"tick look, tick clear, tick idle", "passed passed now", false},
		"but may be called wrong":    {"tick look, tick clear, no idle", "passed passed failed", true},
		"to the end":                 {"tick look, tick clear, skip idle", "passed passed skipped", true},
		"and back":                   {"tick look, tick clear, skip idle, again clear", "passed now skipped", true},
	} {
		t.Run(name, func(t *testing.T) {
			card, err := runcard.Parse([]byte(three))
			require.NoError(t, err)
			r := runcard.NewRun(card)
			done := true
			for act := range strings.SplitSeq(c.acts, ", ") {
				word, id, ok := strings.Cut(act, " ")
				if !ok {
					continue
				}
				a, known := runcard.ActNamed(word)
				require.True(t, known)
				may := r.May(a, id)
				done = r.Do(a, id)
				assert.Equal(t, done, may == nil)
			}
			assert.Equal(t, c.want, states(r))
			assert.Equal(t, c.done, done)
		})
	}
}

// TestFailedStepHoldsTheCard: nothing behind it is judged until it is done again,
// and then from its beginning.
func TestFailedStepHoldsTheCard(t *testing.T) {
	b := newBench(t, heron(), strings.TrimPrefix(three, head))
	b.out, b.rpm = func(int) float64 { return 0.08 * b.armed }, func(int) float64 { return 2000 * b.armed }
	b.run.Do(runcard.Tick, "look")
	b.run.Do(runcard.No, "clear")
	b.armed = 1
	b.pass(5)
	assert.Equal(t, "passed failed waiting", states(b.run))
	assert.Equal(t, "armed, but a step is not done: clear", b.run.View().Warning)
	b.armed = 0
	b.pass(1)
	assert.Empty(t, b.run.View().Warning)
	require.True(t, b.run.Do(runcard.Again, b.run.View().AgainID))
	require.True(t, b.run.Do(runcard.Tick, b.run.View().TickID))
	b.armed = 1
	b.pass(5)
	assert.Equal(t, "passed passed passed", states(b.run))
	assert.True(t, b.run.View().Ended)
}

// TestLookAllocatesNothing: at every judgement, whatever step is due. Missing
// evidence is put into words four times a second at most.
func TestLookAllocatesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("the race detector, which runs the short tests, lets words allocate more")
	}
	for kind, more := range map[string]string{
		"person": "", "at-rest": "", "armed-idle": "seconds = 120\n", "stop-test": "", "least-output": "",
		"throttle-to": "throttle = 0.2\nseconds = 120\n", "sticks": "", "temperatures": "seconds = 120\n",
	} {
		b := newBench(t, heron(), oneStep(kind, more))
		if kind != "temperatures" {
			b.armed = 1
		}
		if kind == "throttle-to" {
			b.stick = 0.2
		}
		b.out, b.rpm, b.temp = all(0.08*b.armed), all(1000*b.armed), all(20)
		b.pass(6)
		require.Equal(t, runcard.Now, b.step("it").State, kind)
		s := decode.Sample{Tag: decode.Axes}
		for i := range 10 {
			s.Put(i, 0.01)
		}
		n := testing.AllocsPerRun(3000, func() {
			b.us += 10_000
			s.Seq, s.Time = b.seq, uint32(b.us)
			b.seq++
			b.e.Sample(&s, 60)
			b.e.Events()
			b.run.News()
		})
		assert.Less(t, n, 1.0, kind)
	}
}

// TestNoTickWhileRotorsTurn: nobody has looked at a propeller that turns. The tick
// is refused, the view says why, and nothing of it is kept; what a recording holds
// of such a tick comes to the same.
func TestNoTickWhileRotorsTurn(t *testing.T) {
	const blind = "[[step]]\nid = \"blind\"\nkind = \"at-rest\"\nsay = \"Wait.\"\nif_failed = \"Mend.\"\n" + feelFirst
	for name, c := range map[string]struct {
		steps, id string
		do        func(b *bench)
		waits     string
	}{
		"at rest":        {feelFirst, "look", func(b *bench) { b.rpm = all(0); b.pass(1) }, ""},
		"nothing heard":  {feelFirst, "look", func(*bench) {}, ""},
		"armed at idle":  {feelFirst, "look", func(b *bench) { arm(b, 0.08, none, 2) }, "disarm first: rotors turn"},
		"armed, no more": {feelFirst, "look", func(b *bench) { b.armed = 1; b.pass(1) }, "disarm first: rotors turn"},
		"it coasts": {feelFirst, "look", func(b *bench) {
			arm(b, 0.08, none, 2)
			b.armed, b.out, b.rpm = 0, all(0), all(300)
			b.pass(0.3)
		}, "keep clear: rotors turn, or may still turn"},
		"it may coast":              {feelFirst, "look", func(b *bench) { b.armed = 1; b.pass(2); b.armed = 0; b.pass(0.5) }, "keep clear: rotors turn, or may still turn"},
		"it has coasted":            {feelFirst, "look", func(b *bench) { b.armed = 1; b.pass(2); b.armed = 0; b.pass(1.2) }, ""},
		"it turns, no alarm yet":    {feelFirst, "look", func(b *bench) { b.rpm = all(0); b.pass(2); b.rpm = all(150); b.pass(3) }, "keep clear: rotors turn, or may still turn"},
		"left to the eye, armed":    {blind, "blind", func(b *bench) { b.pass(4); b.armed = 1; b.pass(1) }, "disarm first: rotors turn"},
		"left to the eye, it turns": {blind, "blind", func(b *bench) { b.pass(4); b.rpm = all(300); b.pass(1) }, "keep clear: rotors turn, or may still turn"},
		"left to the eye":           {blind, "blind", func(b *bench) { b.pass(4) }, ""},
	} {
		b := newBench(t, heron(), c.steps)
		c.do(b)
		v, was := b.run.View(), b.step(c.id).State
		assert.Equal(t, c.waits, v.TickWaits, name)
		assert.Equal(t, c.waits == "", v.TickID != "", name)
		b.run.News()
		assert.Equal(t, c.waits == "", b.run.Do(runcard.Tick, c.id), name)
		if c.waits == "" {
			assert.Equal(t, runcard.Passed, b.step(c.id).State, name)
			continue
		}
		assert.Equal(t, was, b.step(c.id).State, name)
		assert.Empty(t, b.run.News(), name)
		require.ErrorContains(t, b.run.May(runcard.Tick, c.id), c.waits, name)
	}
}

// TestNothingLeftOutWhileRotorsTurn: one press must not take the stop test off the
// card of an armed craft; disarmed, and with all rotors standing, it may.
func TestNothingLeftOutWhileRotorsTurn(t *testing.T) {
	for name, c := range map[string]struct {
		kind  string
		do    func(b *bench)
		waits string
	}{
		"nothing heard":  {"stop-test", func(*bench) {}, ""},
		"at rest":        {"stop-test", func(b *bench) { b.rpm = all(0); b.pass(2) }, ""},
		"armed":          {"stop-test", func(b *bench) { arm(b, 0.08, none, 2) }, "disarm first: rotors turn"},
		"armed, person":  {"person", func(b *bench) { arm(b, 0.08, none, 2) }, "disarm first: rotors turn"},
		"armed, failed":  {"stop-test", func(b *bench) { arm(b, 0.08, none, 2); b.run.Do(runcard.No, "it") }, "disarm first: rotors turn"},
		"armed, silence": {"stop-test", func(b *bench) { arm(b, 0.08, none, 2); b.silence(3) }, "disarm first: rotors turn"},
		"it coasts": {"stop-test", func(b *bench) {
			arm(b, 0.08, none, 2)
			b.armed, b.out, b.rpm = 0, all(0), all(300)
			b.pass(0.3)
		}, "keep clear: rotors turn, or may still turn"},
		"it stands again": {"stop-test", func(b *bench) {
			arm(b, 0.08, none, 2)
			b.armed, b.out, b.rpm = 0, all(0), all(0)
			b.pass(2)
		}, ""},
	} {
		b := newBench(t, heron(), oneStep(c.kind, ""))
		c.do(b)
		was := b.step("it").State
		assert.Equal(t, c.waits == "", b.run.View().SkipID == "it", name)
		if c.waits != "" {
			require.ErrorContains(t, b.run.May(runcard.Skip, "it"), "it is not left out yet: "+c.waits, name)
		}
		assert.Equal(t, c.waits == "", b.run.Do(runcard.Skip, "it"), name)
		if c.waits != "" {
			assert.Equal(t, was, b.step("it").State, name)
		}
	}
}
