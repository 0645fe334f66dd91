package alarms_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// holed runs gains-high with every line of a stretch of bridge time lost, and
// tells when it rang and when the limit was passed.
func holed(t *testing.T, from, to float64) (events []alarms.Event, overUS int64) {
	t.Helper()
	sc, err := simulator.Load("gains-high")
	require.NoError(t, err)
	sim := simulator.New(sc, 1)
	e := alarms.New(craft.Craft{}, alarms.Options{})
	var dec decode.Decoder
	var s decode.Sample
	var out []byte
	var first uint32
	for done, begun := false, false; !done; {
		out, _, done = sim.Next(out[:0])
		for line := range bytes.Lines(out) {
			require.NoError(t, dec.Decode(bytes.TrimSuffix(line, []byte("\n")), &s))
			if !begun {
				first, begun = s.Time, true
			}
			if at := float64(s.Time-first) / 1e6; at >= from && at < to {
				continue
			}
			e.Sample(&s, len(line))
			events = append(events, e.Events()...)
		}
	}
	e.Finish()
	return append(events, e.Events()...), sim.Truth().OverLimitUS[0]
}

// TestOscillationAfterHole: a hole drops the windows and nothing else. They
// fill again within their own length, however long the watch had run before:
// once they stayed blind for as long as that, and said that all was watched.
func TestOscillationAfterHole(t *testing.T) {
	for _, h := range []struct{ from, to float64 }{
		{12, 12.23}, {12, 12.26}, {9, 9.5}, {10, 10.5}, {11, 11.5}, {12, 13}, {14, 15},
	} {
		t.Run(fmt.Sprint(h), func(t *testing.T) {
			t.Parallel()
			events, over := holed(t, h.from, h.to)
			ev, ok := firstOscillation(events)
			require.True(t, ok, "never rang")
			assert.Equal(t, detect.Roll, ev.Where)
			assert.Less(t, ev.T, over, "the limit was passed in silence")
		})
	}
}

// TestOscillationWatchesAgain: after each thing that drops the windows the
// gauges come back within the longest window.
func TestOscillationWatchesAgain(t *testing.T) {
	for _, c := range []string{"hole", "restart", "arming again"} {
		t.Run(c, func(t *testing.T) {
			e := alarms.New(craft.Craft{}, alarms.Options{})
			var seq uint16
			clock := uint32(0)
			send := func(tag decode.Tag, v ...float64) {
				s := decode.Sample{Tag: tag, Seq: seq, Time: clock}
				seq++
				for i, x := range v {
					s.Put(i, x)
				}
				e.Sample(&s, 60)
			}
			run := func(seconds, armed float64) {
				for i := range int(seconds * 400) {
					if i%20 == 0 {
						send(decode.State, armed, 0, 1, 0.3, 0, 0, 0, 1)
					}
					u := 0.03 * float64(1-2*(i/20%2)) // a plain 10 Hz
					send(decode.Axes, 90*u, 0, 0, 0, 0, 0, u, 0, 0, 0.3)
					clock += 2500
				}
			}
			run(30, 1)
			switch c {
			case "hole":
				clock += 400_000
			case "restart":
				clock = 0
			default:
				run(2, 0)
			}
			run(4, 1)
			var snap alarms.Snapshot
			e.Snapshot(&snap)
			assert.InDelta(t, 0.038, snap.Axes[0].Amplitude, 0.01, "the gauge is blind")
			assert.True(t, strings.HasPrefix(snap.Axes[0].Unit, "1"))
		})
	}
}
