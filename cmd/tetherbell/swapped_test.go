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

// alikeAhead is how far a stand's clock is set for both to be alike: the simulator's
// does not begin at nought.
const alikeAhead = 1_248_800

// swapFrom has the two bridges of a recording come in by each other's port from a
// time on, in seconds. Those whose clocks are alike say no hello from then on, as
// bridges whose boot number tells nothing.
func swapFrom(t *testing.T, path string, at float64, alike bool) string {
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
			case alike && strings.HasPrefix(l, "hello"):
				continue
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

// Two cables are swapped, before the craft is armed or after, and the bridges' clocks
// say which is where: it is told at once, and what each sends is taken from there. Where
// the clocks are alike it rings high within two seconds whatever the craft said, and the
// lines are taken after. What the craft does is heard as before, and neither swap is
// called a fault of bridge or line.
func TestSwappedCables(t *testing.T) {
	t.Parallel()
	sc, err := simulator.Load("gains-high")
	require.NoError(t, err)
	for _, c := range []struct {
		ahead        int64
		after, until float64
		text, row    string
	}{
		{standAhead, 0.02, 3, "cables swapped, what nose carried is on stand now: axes, out, erpm, accel, air, state, used from there",
			"stand carries what nose did: craft, axes, out, erpm, accel, air, state; used from there on"},
		{alikeAhead, 1.55, 5, "cables swapped, it seems: axes, out, erpm, accel, air, state come from stand now, not from nose for 1.5 s, and are not used yet",
			"stand carries axes, out, erpm, accel, air, state, which nose sends no more; used from there on"},
	} {
		path := writeTwin(t, sc, twin{tags: "load,temp,pack", ahead: c.ahead, ppm: 70})
		whole, _ := judgedTwin(t, path)
		rang := firstAt(whole, detect.RisingOscillation, detect.High)
		require.Positive(t, rang)
		assert.Negative(t, firstAt(whole, detect.StaleLink, detect.Low))
		for _, at := range []float64{1.3, 4} {
			swapped := swapFrom(t, path, at, c.ahead == alikeAhead)
			events, d := judgedTwin(t, swapped)
			i := slices.IndexFunc(events, func(e alarms.Event) bool { return strings.HasPrefix(e.Story.Text, "cables swapped") })
			require.GreaterOrEqual(t, i, 0, "at %.1f s", at)
			assert.InDelta(t, at+c.after, float64(events[i].T)/1e6, 0.15)
			assert.Equal(t, c.text, events[i].Story.Text)
			if at < 3 {
				assert.True(t, strings.HasPrefix(events[i].Story.Action, "do not arm; "), events[i].Story.Action)
			} else {
				assert.Equal(t, detect.High, events[i].Priority)
				assert.Equal(t, "cut throttle and disarm; once rotors stand, look at both cables", events[i].Story.Action)
			}
			assert.InDelta(t, rang, firstAt(events, detect.RisingOscillation, detect.High), 0.2)
			last := int64(0)
			for i := range events {
				if e := &events[i]; e.Kind == detect.StaleLink {
					last = e.T
				}
			}
			assert.Less(t, float64(last)/1e6, at+c.until, "it is over when the lines are taken again")
			said := strings.Join(d.bridgeLines(), "\n")
			assert.Contains(t, said, c.row)
			assert.Equal(t, 2, strings.Count(said, "cables swapped"), "a row for each two ports: %s", said)
			assert.NotRegexp(t, "also sends [^:]*(axes|load)", said, "what passed on is said once")
			line := strings.Join(d.cableLines(), "\n")
			for _, port := range []string{"nose", "stand"} {
				assert.Contains(t, line, "line: "+port+": cables swapped (at ")
			}
			for _, wrong := range []string{"restarts", "flood", "clock"} {
				assert.NotContains(t, line, wrong)
			}

			alone, one := judgedAlone(t, swapped)
			assert.Equal(t, alone, events, "check's relay and a desk alone decide the same")
			assert.Equal(t, one.bridgeLines(), d.bridgeLines())
			assert.Equal(t, one.cableLines(), d.cableLines())
			var shown alarms.Snapshot
			one.eng.Snapshot(&shown)
			assert.Empty(t, shown.Left)
			assert.Equal(t, whole[len(whole)-1].Kind, events[len(events)-1].Kind)
		}
	}
}

// What the craft is holds over a swap: from its first lines on, weight and cells are
// known as before, and nothing is watched less.
func TestCraftIsKnownOverSwappedCables(t *testing.T) {
	t.Parallel()
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	for _, ahead := range []int64{standAhead, alikeAhead} {
		r := openReplay(t, swapFrom(t, writeTwin(t, sc, twin{tags: "load,temp,pack", ahead: ahead, ppm: 60}), 12, ahead == alikeAhead))
		var before, then alarms.Snapshot
		require.NoError(t, r.advance(11_900_000))
		r.desk.eng.Snapshot(&before)
		require.Equal(t, detect.Yes, before.Armed)
		require.True(t, before.LiftShare.OK && before.VoltsPerCell.OK)
		if ahead == alikeAhead { // while it is blind, nothing is shown as known
			require.NoError(t, r.advance(13_600_000))
			r.desk.eng.Snapshot(&then)
			assert.Greater(t, then.T-then.Streams[decode.State].Last, int64(1_000_000))
			assert.LessOrEqual(t, then.ArmedForUS, before.ArmedForUS+200_000, "the time since it was armed stands")
		}
		require.NoError(t, r.advance(15_600_000)) // craft lines come each ten seconds
		r.desk.eng.Snapshot(&then)
		assert.True(t, then.LiftShare.OK, "%d", ahead)
		assert.True(t, then.VoltsPerCell.OK, "%d", ahead)
		assert.Equal(t, before.CraftName, then.CraftName)
		assert.Equal(t, before.NotWatched, then.NotWatched)
	}
}

// A jump to behind the swap, with the look ahead and without, shows what all of the
// recording shows there; with it, whose lines are whose is known at once. A replay
// from the beginning has them swapped when they were.
func TestReplayJumpBehindSwappedCables(t *testing.T) {
	t.Parallel()
	path := swapFrom(t, writeTwin(t, longShake(t), twin{tags: "load,temp,pack", ahead: 9_000_000_000, ppm: 60}), 30, false)
	var there, early alarms.Snapshot
	whole := openReplay(t, path)
	require.NoError(t, whole.advance(30_900_000))
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
		assert.Equal(t, !looks, strings.Contains(strings.Join(r.desk.bridgeLines(), "\n"), "stand carries axes"))
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
	path := swapFrom(t, writeTwin(t, sc, twin{tags: "load,temp,pack", ahead: 5, ppm: 60}), 3, false)
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
