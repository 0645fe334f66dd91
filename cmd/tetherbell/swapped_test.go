package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
)

// swapFrom has the two bridges of a recording come in by each other's port from a
// time on, in seconds.
func swapFrom(t *testing.T, path string, at float64) string {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	var out bytes.Buffer
	now := 0.0
	for l := range strings.Lines(string(text)) {
		_, _ = fmt.Sscanf(l, "#at %f", &now)
		if now >= at {
			switch {
			case strings.HasPrefix(l, "#bridge 1"):
				l = "#bridge 2" + l[len("#bridge 1"):]
			case strings.HasPrefix(l, "#bridge 2"):
				l = "#bridge 1" + l[len("#bridge 2"):]
			}
		}
		out.WriteString(l)
	}
	swapped := filepath.Join(t.TempDir(), "swapped.bell")
	require.NoError(t, os.WriteFile(swapped, out.Bytes(), 0o600))
	return swapped
}

// judgedAlone plays a recording at one desk, without relay or scouts.
func judgedAlone(t *testing.T, path string) (events []alarms.Event, d *desk) {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	s := link.NewSession(f)
	var it link.Item
	require.NoError(t, s.Next(&it))
	head := headOf(&it)
	var c craft.Craft
	require.NoError(t, json.Unmarshal(head.Craft, &c))
	d = deskOf(alarms.New(c, head.options()), nil, func(e []alarms.Event) { events = append(events, slices.Clone(e)...) })
	d.useBridges(head.Sources)
	for ; err == nil; err = s.Next(&it) {
		d.item(&it)
	}
	d.finish()
	return events, d
}

// firstAt is when a kind first rang at a level or higher, in seconds; -1 never.
func firstAt(events []alarms.Event, k detect.Kind, level detect.Priority) float64 {
	for i := range events {
		if e := &events[i]; e.Kind == k && e.Priority >= level && e.Change <= alarms.Worsened {
			return float64(e.T) / 1e6
		}
	}
	return -1
}

// Two cables are swapped, before the craft is armed or after: it rings high within
// two seconds whatever the craft said, says what seems to be wrong, and the lines are
// taken from where they come then. What the craft does is heard as before.
func TestSwappedCables(t *testing.T) {
	t.Parallel()
	sc, err := simulator.Load("gains-high")
	require.NoError(t, err)
	path := writeTwin(t, sc, twin{tags: "load,temp,pack", ahead: standAhead, ppm: 70})
	whole, _ := judgedTwin(t, path)
	rang := firstAt(whole, detect.RisingOscillation, detect.High)
	require.Positive(t, rang)
	assert.Negative(t, firstAt(whole, detect.StaleLink, detect.Low))
	for _, at := range []float64{0.5, 3} {
		swapped := swapFrom(t, path, at)
		events, d := judgedTwin(t, swapped)
		i := slices.IndexFunc(events, func(e alarms.Event) bool { return strings.Contains(e.Story.Text, "the cables seem swapped") })
		require.GreaterOrEqual(t, i, 0, "at %.1f s", at)
		assert.Equal(t, detect.High, events[i].Priority)
		assert.InDelta(t, at+1.55, float64(events[i].T)/1e6, 0.15)
		assert.Contains(t, events[i].Story.Text, "axes, out, state come from stand and have not come from nose")
		assert.InDelta(t, rang, firstAt(events, detect.RisingOscillation, detect.High), 0.2)
		last := int64(0)
		for i := range events {
			if e := &events[i]; e.Kind == detect.StaleLink {
				last = e.T
			}
		}
		assert.Less(t, float64(last)/1e6, at+4, "it is over when the lines are taken again")
		said := strings.Join(d.bridgeLines(), "\n")
		for _, tag := range []string{"axes", "out", "state"} {
			assert.Contains(t, said, tag+" come from stand from now on: nose talks without sending them; were the cables swapped?")
		}
		assert.Contains(t, said, "load come from nose from now on")

		alone, one := judgedAlone(t, swapped)
		assert.Equal(t, alone, events, "check's relay and a desk alone decide the same")
		assert.Equal(t, one.bridgeLines(), d.bridgeLines())
		var shown alarms.Snapshot
		one.eng.Snapshot(&shown)
		assert.Empty(t, shown.Left)
		assert.Equal(t, whole[len(whole)-1].Kind, events[len(events)-1].Kind)
	}
}

// A jump to behind the swap, with the look ahead and without, shows what all of the
// recording shows there; with it, whose lines are whose is known at once. A replay
// from the beginning has them swapped when they were.
func TestReplayJumpBehindSwappedCables(t *testing.T) {
	t.Parallel()
	path := swapFrom(t, writeTwin(t, longShake(t), twin{tags: "load,temp,pack", ahead: 9_000_000_000, ppm: 60}), 30)
	var there, early alarms.Snapshot
	whole := openReplay(t, path)
	require.NoError(t, whole.advance(31_900_000))
	whole.desk.eng.Snapshot(&early)
	assert.True(t, isUp(early, detect.StaleLink))
	require.NoError(t, whole.advance(100_000_000))
	whole.desk.eng.Snapshot(&there)
	assert.False(t, isUp(there, detect.StaleLink))
	for _, looks := range []bool{false, true} {
		r := openReplay(t, path)
		if looks {
			r.look = lookOver(t, r)
		}
		require.NoError(t, r.jump(100_000_000))
		assert.Equal(t, !looks, strings.Contains(strings.Join(r.desk.bridgeLines(), "\n"), "axes come from stand from now on"))
		var b alarms.Snapshot
		r.desk.eng.Snapshot(&b)
		assert.InDelta(t, there.T, b.T, 20_000, "the swap took a restart of the clock that counts: by the host's")
		assert.Equal(t, there.Armed, b.Armed)
		assert.Equal(t, there.LiftN.V, b.LiftN.V)
		assert.Equal(t, isUp(there, detect.RisingOscillation), isUp(b, detect.RisingOscillation))
		assert.False(t, isUp(b, detect.StaleLink))
		for i := range b.Bridges {
			assert.InDelta(t, there.Bridges[i].Rate, b.Bridges[i].Rate, 5)
		}
	}
}

// The account that is made of what a recording says takes the lines as the engine.
func TestAccountOfSwappedCables(t *testing.T) {
	t.Parallel()
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	path := swapFrom(t, writeTwin(t, sc, twin{tags: "load,temp,pack", ahead: 5, ppm: 60}), 3)
	con := &console{out: io.Discard, err: io.Discard}
	a, err := accountOf(t.Context(), con, path, nil, true, nil)
	require.NoError(t, err)
	rate := map[string]float64{}
	for _, s := range a.Link.Streams {
		rate[s.Tag] = s.PerS
	}
	one, err := accountOf(t.Context(), con, writeTwin(t, sc, twin{}), nil, true, nil)
	require.NoError(t, err)
	for _, s := range one.Link.Streams {
		if s.Tag != "hello" && s.Tag != "craft" { // which waits longer, and is the same
			assert.InDelta(t, s.PerS, rate[s.Tag], 0.2*s.PerS, s.Tag)
		}
	}
	s, err := surveyOf(t.Context(), path, 0)
	require.NoError(t, err)
	assert.True(t, s.info.Ordered[decode.Load])
}
