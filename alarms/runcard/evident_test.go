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

// clocked plays by-the-card at its full rates, with a tick of the host's clock
// every 100 ms, in which a person's step is ticked.
func clocked(t testing.TB, card string, seed uint64) *runcard.Run {
	t.Helper()
	sc, err := simulator.Load("by-the-card")
	require.NoError(t, err)
	c, err := runcard.Load(card)
	require.NoError(t, err)
	e := alarms.New(craft.Craft{}, alarms.Options{})
	r := runcard.NewRun(c)
	e.SetWatcher(r)
	sim := simulator.New(sc, seed)
	var dec decode.Decoder
	var s decode.Sample
	var out []byte
	next := int64(0)
	for done := false; !done; {
		var us int64
		out, us, done = sim.Next(out[:0])
		for line := range bytes.Lines(out) {
			if dec.Decode(bytes.TrimSuffix(line, []byte("\n")), &s) == nil {
				e.Sample(&s, len(line))
				e.Events()
			}
		}
		for ; next <= us; next += 100_000 {
			e.Tick(next / 1000)
			e.Events()
			if id := r.View().TickID; id != "" {
				r.Do(runcard.Tick, id)
			}
		}
	}
	e.Finish()
	r.Finish()
	return r
}

// TestSoundCraftPassesByEvidence: every step that telemetry can show passes by
// what it shows, at the rates and with the clock that a demo has; no chance of
// the noise leaves one to the eye.
func TestSoundCraftPassesByEvidence(t *testing.T) {
	for _, c := range []struct {
		card string
		seed uint64
	}{{"first-run", 1}, {"first-run", 2}, {"first-run", 3}, {"first-run", 4}, {"first-run", 5}, {"first-run", 6}, {"after-change", 1}, {"after-change", 2}} {
		t.Run(fmt.Sprint(c.card, " ", c.seed), func(t *testing.T) {
			t.Parallel()
			r := clocked(t, c.card, c.seed)
			for _, s := range r.View().Steps {
				require.Equal(t, runcard.Passed, s.State, told(r))
				if s.Kind == runcard.Person {
					assert.Equal(t, "ticked", s.Text, s.ID)
				} else {
					assert.NotContains(t, s.Text, "by eye", s.ID)
				}
			}
		})
	}
}
