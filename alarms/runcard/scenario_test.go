package runcard_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/runcard"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// A trial is a scenario that is watched with a card. Person's steps are ticked
// as soon as a tick is asked for.
type trial struct {
	scenario string
	set      []string
	card     *runcard.Card
	mute     func(s *decode.Sample) bool // lines and fields that this bench does not have; false drops the line
	absent   bool                        // nobody ticks
}

// play runs a trial and returns the run and all it had to say.
func (tr *trial) play(t testing.TB) (*runcard.Run, []runcard.News) {
	t.Helper()
	sc, err := simulator.Load(tr.scenario)
	require.NoError(t, err)
	for _, set := range append([]string{"rates.axes_hz=200"}, tr.set...) { // half the work
		require.NoError(t, sc.Set(set))
	}
	if tr.card == nil {
		tr.card, err = runcard.Load("first-run")
		require.NoError(t, err)
	}
	e := alarms.New(craft.Craft{Hold: craft.Hold(sc.Craft.Hold)}, alarms.Options{})
	r := runcard.NewRun(tr.card)
	e.SetWatcher(r)
	sim := simulator.New(sc, 1)
	var news []runcard.News
	var dec decode.Decoder
	var s decode.Sample
	var out []byte
	for done := false; !done; {
		out, _, done = sim.Next(out[:0])
		for line := range bytes.Lines(out) {
			if err := dec.Decode(bytes.TrimSuffix(line, []byte("\n")), &s); err != nil {
				continue
			}
			if tr.mute != nil && !tr.mute(&s) {
				continue
			}
			e.Sample(&s, len(line))
			e.Events()
			news = append(news, r.News()...)
			if id := r.View().TickID; id != "" && !tr.absent && s.Tag == decode.Pack {
				require.True(t, r.Do(runcard.Tick, id))
			}
		}
	}
	e.Finish()
	r.Finish()
	return r, append(news, r.News()...)
}

// told is the card as it ended, a line for each step.
func told(r *runcard.Run) string {
	out := ""
	for _, s := range r.View().Steps {
		out += fmt.Sprintf("%7.2f %-8s %s: %s\n", float64(s.At)/1e6, s.State, s.ID, s.Text)
	}
	return out
}

// TestSoundCraftPassesTheCard: with every stream, and on craft of other kinds,
// the built-in cards pass wholly.
func TestSoundCraftPassesTheCard(t *testing.T) {
	for _, c := range []struct {
		name string
		set  []string
	}{
		{"first-run", nil}, {"after-change", nil},
		{"first-run", []string{"craft.layout=hex-x", "craft.mass_g=900"}},
		{"first-run", []string{"craft.layout=quad-plus", `mode=level`}},
		{"first-run", []string{"craft.hold=stand"}},
		{"first-run", []string{"rates.state_hz=10", "rates.out_hz=25", "rates.erpm_hz=10", "rates.load_hz=10", "rates.temp_hz=1"}},
		{"first-run", []string{"link.lost=0.03", "link.flipped=0.01"}},
	} {
		t.Run(fmt.Sprint(c.name, c.set), func(t *testing.T) {
			t.Parallel()
			name := c.name
			card, err := runcard.Load(name)
			require.NoError(t, err)
			tr := trial{scenario: "by-the-card", card: card, set: c.set}
			r, news := tr.play(t)
			v := r.View()
			assert.True(t, v.Ended, told(r))
			assert.Equal(t, fmt.Sprintf("%d of %d passed", len(card.Steps), len(card.Steps)), v.Summary, told(r))
			assert.Equal(t, "card begin "+name+": "+card.Title, news[0].Mark)
			assert.Equal(t, "card end: CARD PASSED: "+v.Summary, news[len(news)-1].Mark)
		})
	}
}

// TestStopTimeOfTheSimulator: the simulated rotors brake with a lag of 120 ms, so
// that they are at a tenth of their speed after 0.120 ln 10 = 276 ms; the line of
// the switch comes up to 20 ms after it was pressed, which is said.
func TestStopTimeOfTheSimulator(t *testing.T) {
	tr := trial{scenario: "by-the-card"}
	r, _ := tr.play(t)
	for _, s := range r.View().Steps {
		if s.ID == "stop" {
			assert.InDelta(t, 276-10, millis(t, s.Text), 15, s.Text)
			assert.Contains(t, s.Text, "told every 20 ms")
			return
		}
	}
	t.Fatal("no such step")
}

// drops leaves out all lines of these tags.
func drops(tags ...decode.Tag) func(*decode.Sample) bool {
	return func(s *decode.Sample) bool {
		for _, tag := range tags {
			if s.Tag == tag {
				return false
			}
		}
		return true
	}
}

// TestFaultsFailTheirStep: each fault of a craft, and each thing that a bench
// does not measure, shows at its own step, in words that say what to do.
func TestFaultsFailTheirStep(t *testing.T) {
	for name, c := range map[string]struct {
		trial
		step  string
		state runcard.State
		words []string
		then  string // the step that the card stands at in the end; "" none
	}{
		"gains too high": {trial{scenario: "by-the-card", set: []string{"gains.scale=3.1"}}, "higher", runcard.Failed,
			[]string{"rising-oscillation roll", "oscillates at 1"}, "higher"},
		"stop late": {trial{scenario: "stop-late", card: only(t, "person", "stop-test")}, "stop-test", runcard.Failed,
			[]string{"m2 still at", "after the stop, limit 1000 ms"}, "stop-test"},
		"idle typed ten times too high": {trial{scenario: "by-the-card", set: []string{"craft.idle_ready=0.24"}}, "idle", runcard.Failed,
			[]string{"settings-slip"}, "idle"},
		"pitch reversed": {trial{scenario: "by-the-card", set: []string{"loop.pitch_reversed=true"}}, "sticks", runcard.Failed,
			[]string{"reversed-response pitch", "asks the wrong way"}, "sticks"},
		"mixer reversed": {trial{scenario: "mixer-reversed", card: only(t, "person", "sticks")}, "sticks", runcard.Failed,
			[]string{"reversed-response pitch"}, "sticks"},
		"least output far over idle": {trial{scenario: "by-the-card", set: []string{"craft.idle_least=0.3"}}, "slow-stick", runcard.Failed,
			[]string{"idle-gap"}, "slow-stick"},

		"no rotor speeds": {trial{scenario: "by-the-card", mute: drops(decode.ERPM)}, "stop", runcard.Passed,
			[]string{"outputs at zero", "rotor speeds are not measured: see that they stand"}, ""},
		"no outputs": {trial{scenario: "by-the-card", mute: drops(decode.Out)}, "idle", runcard.Passed,
			[]string{"ticked by eye: outputs are not measured"}, ""},
		"no temperatures": {trial{scenario: "by-the-card", mute: drops(decode.Temp)}, "warmth", runcard.Passed,
			[]string{"ticked by eye: motor temperatures are not measured: once all rotors stand unplug the pack"}, ""},
		"no load cells": {trial{scenario: "by-the-card", mute: drops(decode.Load)}, "slow-stick", runcard.Passed,
			[]string{"lift is not measured"}, ""},
		"no axes": {trial{scenario: "by-the-card", mute: drops(decode.Axes)}, "higher", runcard.Passed,
			[]string{"ticked by eye: no axis is watched for oscillations"}, ""},
		"no state": {trial{scenario: "by-the-card", mute: drops(decode.State)}, "idle", runcard.Passed,
			[]string{"ticked by eye: whether the craft is armed is not told"}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r, news := c.play(t)
			v := r.View()
			found := false
			for _, s := range v.Steps {
				if s.ID != c.step {
					continue
				}
				found = true
				assert.Equal(t, c.state.String(), s.State.String(), told(r))
				for _, w := range c.words {
					assert.Contains(t, s.Text, w)
				}
				if c.state == runcard.Failed {
					marked := false
					for _, n := range news {
						marked = marked || n.Mark == "card failed "+s.ID+": "+s.Text+"; "+n.Do && strings.HasSuffix(n.Do, s.Do)
					}
					assert.True(t, marked, "the recording says it, and what to do")
				}
			}
			require.True(t, found)
			at := ""
			if v.Current < len(v.Steps) {
				at = v.Steps[v.Current].ID
			}
			assert.Equal(t, c.then, at, told(r))
		})
	}
}

// only is a card of one step of each kind, named after it.
func only(t *testing.T, of ...string) *runcard.Card {
	t.Helper()
	text := "name = \"some\"\ntitle = \"Some\"\n"
	for _, k := range of {
		text += fmt.Sprintf("[[step]]\nid = %q\nkind = %q\nsay = \"Do it.\"\nif_failed = \"Mend it.\"\n", k, k)
	}
	c, err := runcard.Parse([]byte(text))
	require.NoError(t, err)
	return c
}

// TestArmedUnticked: who arms before the ticks is told so, once for each arming,
// and the card waits; it is no alarm.
func TestArmedUnticked(t *testing.T) {
	tr := trial{scenario: "by-the-card", absent: true}
	r, news := tr.play(t)
	notes := 0
	for _, n := range news {
		if n.Mark == "card note: armed, but 6 steps are not done: props-off, propellers, straps, leads, area-clear, hands-off; disarm" {
			notes++
		}
	}
	assert.Equal(t, 2, notes)
	assert.Equal(t, 0, r.View().Current)
	assert.Empty(t, r.View().Warning, "disarmed again")
}

// TestSameInputSameCard: the same lines, with what else the host does between
// them, pass and fail the same steps at the same moments.
func TestSameInputSameCard(t *testing.T) {
	tr := trial{scenario: "by-the-card", set: []string{"gains.scale=3.1"}}
	r1, n1 := tr.play(t)
	r2, n2 := tr.play(t)
	assert.Equal(t, n1, n2)
	assert.Equal(t, r1.View(), r2.View())
}
