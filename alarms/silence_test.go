package alarms_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// TestSilenceIsCalledThat: a hole of five seconds in all streams is no fault of
// one stream's lines, neither while it lasts nor after; and how long the craft
// has been armed is not known to grow meanwhile.
func TestSilenceIsCalledThat(t *testing.T) {
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	const from, long = 17.0, 5.0
	sc.Events = append(sc.Events, simulator.Event{At: from, Do: "silence", Seconds: long})
	e := alarms.New(craft.Craft{Hold: craft.Hold(sc.Craft.Hold)}, alarms.Options{})
	sim := simulator.New(sc, 1)
	var dec decode.Decoder
	var sample decode.Sample
	var s alarms.Snapshot
	var before, during int64 // longest time armed
	for done := false; !done; {
		var out []byte
		var until int64
		out, until, done = sim.Next(nil)
		for line := range bytes.Lines(out) {
			require.NoError(t, dec.Decode(bytes.TrimSuffix(line, []byte("\n")), &sample))
			e.Sample(&sample, len(line))
		}
		e.Tick(until / 1000)
		e.Snapshot(&s)
		now := float64(until) / 1e6
		switch {
		case now < from:
			before = s.ArmedForUS
		case now < from+long:
			during = s.ArmedForUS
		}
		if now < from-1 || now > from+long+4 {
			continue
		}
		for _, l := range s.NotWatched {
			if l.Name == detect.RisingOscillation.String() {
				assert.NotContains(t, l.Why, "holes", "at %.1f s", now)
			}
		}
	}
	require.Positive(t, before)
	assert.InDelta(t, before, during, 0.1e6, "nobody knows whether it is armed still")
	for _, l := range e.Summary().NotWatched {
		assert.NotContains(t, l.Why, "holes", l.Name)
	}
}
