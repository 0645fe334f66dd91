package compare

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// scenario is a built-in one with some keys changed.
func scenario(t testing.TB, name string, sets ...string) simulator.Scenario {
	t.Helper()
	sc, err := simulator.Load(name)
	require.NoError(t, err)
	for _, s := range sets {
		require.NoError(t, sc.Set(s), s)
	}
	return sc
}

// play simulates a session and collects it, without alarms.
func play(sc simulator.Scenario, seed uint64) *Run {
	c := NewCollector(craft.Craft{})
	each(sc, seed, func(at int64, s *decode.Sample) { c.Sample(at, s) })
	return c.Run()
}

// each hands over every good line of a session with its engine time.
func each(sc simulator.Scenario, seed uint64, take func(at int64, s *decode.Sample)) {
	var (
		sim   = simulator.New(sc, seed)
		clock = alarms.NewClock()
		dec   decode.Decoder
		s     decode.Sample
		out   []byte
	)
	for done := false; !done; {
		out, _, done = sim.Next(out[:0])
		for line := range bytes.Lines(out) {
			if dec.Decode(bytes.TrimSuffix(line, []byte("\n")), &s) == nil {
				take(clock.Sample(&s), &s)
			}
		}
	}
}

// split cuts "calm gains.scale=0.5" into a scenario's name and its changes.
func split(text string) (string, []string) {
	f := strings.Fields(text)
	return f[0], f[1:]
}
