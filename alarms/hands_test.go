package alarms

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

func TestKeepOff(t *testing.T) {
	for in, want := range map[string]string{
		"":                              "",
		"cut throttle":                  "cut throttle",
		"press stop; keep clear":        "press stop; keep clear",
		"check m3":                      "disarm; once rotors stand, check m3",
		"ease off; check propeller":     "ease off; once rotors stand, check propeller",
		"checkered; move weight":        "checkered; once rotors stand, move weight",
		"stop; check it; move that":     "stop; once rotors stand, check it; once rotors stand, move that",
		"lower the gains before you go": "lower the gains before you go",
		"ease off; lower the baud or the stream rates": "ease off; once rotors stand, lower the baud or the stream rates",
		"cut throttle; set the monitor's --baud":       "cut throttle; once rotors stand, set the monitor's --baud",
	} {
		assert.Equal(t, want, keepOff(in, armed), in)
	}
}

// TestHandsWaitForRotors: what the craft says of itself is not enough to lead a hand
// to it: outputs and speeds of every motor must be known to be nought.
func TestHandsWaitForRotors(t *testing.T) {
	const asked, off, clear = "check m3", "disarm; once rotors stand, check m3", "keep clear; once rotors stand, check m3"
	still, driven := flow{decode.Out, 50, []float64{0, 0, 0, 0}}, flow{decode.Out, 50, []float64{0, 0, 0.08, 0}}
	stands, spins := flow{decode.ERPM, 50, []float64{0, 0, 0, 0}}, flow{decode.ERPM, 50, []float64{0, 0, 900, 0}}
	for name, c := range map[string]struct {
		want  string
		flows []flow
	}{
		"disarmed, stands":             {asked, []flow{stateFlow(10, 0), still, stands}},
		"disarmed, outputs alone":      {asked, []flow{stateFlow(10, 0), still}},
		"disarmed, speeds alone":       {asked, []flow{stateFlow(10, 0), stands}},
		"disarmed, an output has come": {clear, []flow{stateFlow(10, 0), driven, stands}},
		"disarmed, a rotor runs on":    {clear, []flow{stateFlow(10, 0), still, spins}},
		"disarmed, one is not known":   {clear, []flow{stateFlow(10, 0), {decode.Out, 50, []float64{0, 0, 0}}}},
		"disarmed, nothing is known":   {clear, []flow{stateFlow(10, 0)}},
		"armed":                        {off, []flow{stateFlow(10, 1), still, stands}},
		"armed is not known":           {off, []flow{still, stands}},
	} {
		r := newRig(t, 20)
		r.run(2, c.flows...)
		assert.Equal(t, c.want, r.e.KeepOff(asked), name)
		r.pass(2_000_000)
		assert.Equal(t, c.want, r.e.KeepOff(asked), "%s, and silent", name)
	}
	r := newRig(t, 20)
	r.run(2, stateFlow(10, 0), still)
	r.run(4, stateFlow(10, 0))
	assert.Equal(t, clear, r.e.KeepOff(asked), "outputs stay away")
}

// TestHandsWaitForMotorsBeyondTheCount: a craft file of fewer motors than there are
// leads no hand to those that it does not count.
func TestHandsWaitForMotorsBeyondTheCount(t *testing.T) {
	const asked, clear = "check m3", "keep clear; once rotors stand, check m3"
	still, stands := flow{decode.Out, 50, []float64{0, 0, 0, 0, 0, 0}}, flow{decode.ERPM, 50, []float64{0, 0, 0, 0, 0, 0}}
	for name, c := range map[string]struct {
		want  string
		flows []flow
	}{
		"all stand":              {asked, []flow{stateFlow(10, 0), still, stands}},
		"outputs alone":          {asked, []flow{stateFlow(10, 0), still}},
		"the fifth is driven":    {clear, []flow{stateFlow(10, 0), {decode.Out, 50, []float64{0, 0, 0, 0, 0.08, 0}}, stands}},
		"the sixth runs on":      {clear, []flow{stateFlow(10, 0), still, {decode.ERPM, 50, []float64{0, 0, 0, 0, 0, 900}}}},
		"one counted is unknown": {clear, []flow{stateFlow(10, 0), {decode.Out, 50, []float64{0, 0, 0}}}},
	} {
		r := newRig(t, 20)
		r.e.bench.Craft.Motors, r.e.bench.Motors = 4, 4
		r.run(2, c.flows...)
		assert.Equal(t, c.want, r.e.KeepOff(asked), name)
	}
}

// TestHandsWaitForTheCoast: outputs are nought at once when a craft is disarmed, and
// rotors are not: where nobody tells of their speed they have time to run out.
func TestHandsWaitForTheCoast(t *testing.T) {
	const asked, clear = "check m3", "keep clear; once rotors stand, check m3"
	still, stands := flow{decode.Out, 50, []float64{0, 0, 0, 0}}, flow{decode.ERPM, 50, []float64{0, 0, 0, 0}}
	for name, flows := range map[string][]flow{"outputs alone": {still}, "speeds too": {still, stands}} {
		r := newRig(t, 20)
		r.run(2, stateFlow(10, 1), outFlow(50))
		r.run(0.5, append(flows, stateFlow(10, 0))...)
		want := clear
		if len(flows) > 1 {
			want = asked
		}
		assert.Equal(t, want, r.e.KeepOff(asked), name)
		r.run(2, append(flows, stateFlow(10, 0))...)
		assert.Equal(t, asked, r.e.KeepOff(asked), "%s, later", name)
	}
}

// TestPackIsNotTakenOffAnArmingCraft: outputs rise before the line that says it is
// armed; neither then nor later does an event or a picture ask for the pack, nor does
// what was said while the rotors stood.
func TestPackIsNotTakenOffAnArmingCraft(t *testing.T) {
	r := newRig(t, 20)
	r.e.bench.Craft.Cells = 6
	low, rest := flow{decode.Pack, 10, []float64{16.3, 1}}, flow{decode.Out, 50, []float64{0, 0, 0, 0}}
	r.run(4, stateFlow(10, 0), rest, low)
	views := r.e.alarmViews()
	require.NotEmpty(t, views)
	require.Equal(t, "do not arm; charge or change the pack", views[0].Story.Action)
	guarded := 0
	for _, armed := range []float64{0, 1} {
		from := len(r.events)
		for range 200 {
			r.run(0.02, stateFlow(50, armed), outFlow(50), low)
			for _, v := range r.e.alarmViews() {
				held := strings.Contains(v.Story.Action, OnceStill)
				assert.Equal(t, v.Kind == detect.PackSag, held, v.Story.Action)
			}
		}
		for _, ev := range r.events[from:] {
			if ev.Kind == detect.PackSag {
				guarded++
				assert.Contains(t, ev.Story.Action, OnceStill, ev.Plain())
			}
		}
	}
	assert.Positive(t, guarded)
}
