package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
)

// A follower knows what an engine knows, over bad and lost lines, silence and a
// restart: time, counts, craft, limits, disagreements.
func TestFollowerKnowsWhatTheEngineKnows(t *testing.T) {
	for _, name := range []string{"noisy-link", "idle-slip"} {
		sc, err := simulator.Load(name)
		require.NoError(t, err)
		own := craft.Craft{MassG: 900, Motors: 4}
		e, f := New(own, Options{Baud: 921600}), NewFollower(own, Options{Baud: 921600})
		var cut link.Splitter
		var dec decode.Decoder
		var s decode.Sample
		lines := 0
		line := func(l []byte) {
			if dec.Decode(l, &s) != nil {
				e.Bad(len(l) + 1)
				f.Bad(len(l) + 1)
				return
			}
			e.Sample(&s, len(l)+1)
			at, _ := f.Sample(&s, len(l)+1)
			require.LessOrEqual(t, at, f.Bench().Now)
			require.Equal(t, e.Now(), f.Bench().Now)
			lines++
		}
		b := simulator.New(sc, 5)
		var out []byte
		for done := false; !done; {
			var us int64
			out, us, done = b.Next(out[:0])
			cut.Feed(out, line)
			e.Tick(us / 1000)
			f.Tick(us / 1000)
			require.Equal(t, e.bench.Silent, f.Bench().Silent)
		}
		require.Greater(t, lines, 1000)
		assert.Equal(t, e.bench, *f.Bench(), name)
		sum := e.Summary()
		assert.Equal(t, sum.Duration, f.LastGood())
		assert.Equal(t, e.restarts, f.Restarts())
		assert.Equal(t, sum.Disagree, f.Disagree())
		assert.NotEmpty(t, f.Disagree(), "the mass")
	}
}

func TestExplains(t *testing.T) {
	why, ok := Explains(detect.OverCurrent, detect.PackSag, "")
	assert.True(t, ok)
	assert.Contains(t, why, "voltage")
	_, ok = Explains(detect.PackSag, detect.OverCurrent, "")
	assert.False(t, ok)
	_, ok = Explains(detect.Windup, detect.OutputImbalance, "weight off centre")
	assert.False(t, ok, "its story gives another cause")
	_, ok = Explains(detect.Windup, detect.OutputImbalance, detect.CauseWindup)
	assert.True(t, ok)
}
