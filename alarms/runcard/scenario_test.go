package runcard_test

import (
	"bytes"
	"fmt"
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
	for _, set := range tr.set {
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
			if id := r.View().TickID; id != "" && !tr.absent && s.Tag == decode.State {
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

func TestSoundCraftPassesTheCard(t *testing.T) {
	tr := trial{scenario: "by-the-card"}
	r, _ := tr.play(t)
	t.Log("\n" + told(r))
	v := r.View()
	assert.True(t, v.Ended)
	for _, s := range v.Steps {
		assert.Equal(t, runcard.Passed, s.State, s.ID)
	}
}
