package runcard_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/runcard"
	"tetherbell/decode"
)

// volts lets a second go by with a pack line at the end of each tenth.
func (b *bench) volts(v float64) {
	for range 10 {
		b.pass(0.1)
		b.line(decode.Pack, v, 0)
	}
}

// TestHandsWaitForTheStop: no tick says that hands were at a craft that the
// telemetry tells to be ready to start.
func TestHandsWaitForTheStop(t *testing.T) {
	const (
		in     = "press stop first: the pack is in, 16.3 V"
		told   = "press stop first: it is told as not pressed"
		quiet  = "press stop first: it was told as not pressed, and no line comes now"
		gone   = "unplug the pack first: the stop switch is not told any more"
		hands  = "hands = true\n"
		cells4 = 4
	)
	stateless := func(b *bench, v float64) {
		for range 20 {
			b.us += 100_000
			b.line(decode.Axes, 0.1)
			b.line(decode.Pack, v, 0)
		}
	}
	for name, c := range map[string]struct {
		kind, more string
		do         func(b *bench)
		waits      string
	}{
		"nothing told":                   {"person", hands, func(*bench) {}, ""},
		"pack in, not pressed":           {"person", hands, func(b *bench) { b.volts(16.3) }, in},
		"pack in, not pressed, no hands": {"person", "", func(b *bench) { b.volts(16.3) }, ""},
		"hands = false":                  {"person", "hands = false\n", func(b *bench) { b.volts(16.3) }, ""},
		"pack in, pressed":               {"person", hands, func(b *bench) { b.stop = 1; b.volts(16.3) }, ""},
		"let go again":                   {"person", hands, func(b *bench) { b.stop = 1; b.volts(16.3); b.stop = 0; b.volts(16.3) }, in},
		"pack out by measure":            {"person", hands, func(b *bench) { b.volts(3.9) }, ""},
		"a single cell":                  {"person", hands, func(b *bench) { b.volts(4.1) }, "press stop first: the pack is in, 4.1 V"},
		"pack never told":                {"person", hands, func(b *bench) { b.pass(2) }, told},
		"pack out, long ago":             {"person", hands, func(b *bench) { b.volts(0.2); b.pass(4) }, told},
		"pack in, long ago":              {"person", hands, func(b *bench) { b.volts(16.3); b.pass(4) }, told},
		"unplugged without the stop":     {"person", hands, func(b *bench) { b.volts(16.3); b.silence(3) }, quiet},
		"pressed, then unplugged":        {"person", hands, func(b *bench) { b.stop = 1; b.volts(16.3); b.silence(3) }, ""},
		"out, then silence":              {"person", hands, func(b *bench) { b.volts(0.2); b.silence(3) }, ""},
		"the switch never told":          {"person", hands, func(b *bench) { stateless(b, 16.3) }, ""},
		"the switch not told any more":   {"person", hands, func(b *bench) { b.stop = 1; b.volts(16.3); stateless(b, 16.3) }, gone},
		"armed":                          {"person", hands, func(b *bench) { b.armed = 1; b.volts(16.3) }, "disarm first: rotors turn"},
		"motors to be felt":              {"temperatures", "seconds = 1\n", func(b *bench) { b.pass(4); b.volts(16.3) }, in},
		"motors to be felt, pressed":     {"temperatures", "seconds = 1\n", func(b *bench) { b.pass(4); b.stop = 1; b.volts(16.3) }, ""},
	} {
		craft := heron()
		craft.Cells = cells4
		if name == "a single cell" {
			craft.Cells = 1
		}
		b := newBench(t, craft, oneStep(c.kind, c.more))
		c.do(b)
		was := b.step("it").State
		v := b.run.View()
		assert.Equal(t, c.waits, v.TickWaits, name)
		assert.Equal(t, c.waits == "", v.TickID == "it", name)
		assert.Equal(t, c.waits != "" && b.armed == 0, v.StopFirst, name)
		if c.waits != "" && was == runcard.Now {
			assert.Equal(t, c.waits, b.step("it").Text, name)
		}
		assert.Equal(t, c.waits == "", b.run.Do(runcard.Tick, "it"), name)
		if c.waits != "" {
			assert.Equal(t, was, b.step("it").State, name)
			require.ErrorContains(t, b.run.May(runcard.Tick, "it"), c.waits, name)
		}
	}
}

// TestBuiltInHands: the built-in cards let no hand near the craft untold, and
// say the stop with it.
func TestBuiltInHands(t *testing.T) {
	want := map[string]bool{"propellers": true, "straps": true, "leads": true, "area-clear": true, "pack-out": true, "fastened": true}
	for _, c := range runcard.List() {
		n := 0
		for _, s := range c.Steps {
			assert.Equal(t, want[s.ID], s.Hands, s.ID)
			if s.Hands {
				n++
				assert.Regexp(t, "^(Stop pressed|Press stop), ", s.Say, s.ID)
			}
		}
		assert.Positive(t, n, c.Name)
	}
}
