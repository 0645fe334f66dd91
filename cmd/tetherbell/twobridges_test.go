package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
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

// A twin says how a run is heard from two bridges. The zero value: from one.
type twin struct {
	tags  string   // of the second bridge
	ahead int64    // of its clock, us
	ppm   float64  // that it is fast
	late  [2]int64 // host time from which each is heard, us
	gone  [2]int64 // the first is silent from here to there
	lossy [2]int   // one byte of so many is damaged of each; 0: none
}

// A lossy is a cable that turns a bit over in one byte of so many.
type lossy struct {
	w    io.Writer
	each int
	n    int
}

func (l *lossy) Write(p []byte) (int, error) {
	bad := slices.Clone(p)
	for i := range bad {
		if l.n++; l.n%l.each == 0 && bad[i] != '\n' {
			bad[i] ^= 4
		}
	}
	return l.w.Write(bad)
}

// writeTwin writes the recording of a run with two bridges, or one: pieces of the
// first come as they are sent, those of the second as an adapter that hands over
// every 16 ms gives them (common practice, no source), and a tick every 20 ms.
func writeTwin(t testing.TB, sc simulator.Scenario, w twin) string {
	t.Helper()
	text, err := json.Marshal(craft.Craft{Hold: craft.Hold(sc.Craft.Hold), HoldRatedN: sc.Craft.HoldRatedN})
	require.NoError(t, err)
	h := link.SessionHeader{Tool: "tetherbell", Version: version, Source: "nose", Craft: text}
	var first, second bytes.Buffer
	d := &divider{lineSource: simulator.New(sc, 1), first: &first, second: &second, ahead: w.ahead, ppm: w.ppm}
	if w.tags != "" {
		h.Source, h.Sources, h.Bauds = "nose + stand", []string{"nose", "stand"}, []int{0, 0}
		d.tags, err = dividedTags(w.tags)
		require.NoError(t, err)
	}
	if n := w.lossy[0]; n > 0 {
		d.first = &lossy{w: d.first, each: n}
	}
	if n := w.lossy[1]; n > 0 {
		d.second = &lossy{w: d.second, each: n}
	}
	head, err := json.Marshal(h)
	require.NoError(t, err)
	file := fmt.Appendf(nil, "#session %s\n#at 0.000\n", head)
	piece := func(n int, host int64, from *bytes.Buffer) {
		if host >= w.late[n-1] && from.Len() > 0 && (n > 1 || host < w.gone[0] || host >= w.gone[1]) {
			if w.tags != "" {
				file = fmt.Appendf(file, "#bridge %d %d.%06d\n", n, host/1_000_000, host%1_000_000)
			}
			file = append(file, from.Bytes()...)
		}
		from.Reset()
	}
	rng := rand.New(rand.NewPCG(3, 4))
	tick, frame := int64(20_000), int64(16_000)
	for done := false; !done; {
		var out []byte
		var until int64
		out, until, done = d.Next(out)
		if w.tags == "" {
			first.Write(out)
		} else {
			_, err := d.Write(out)
			require.NoError(t, err)
		}
		for ; tick <= until; tick += 20_000 {
			file = fmt.Appendf(file, "#at %d.%03d\n", tick/1_000_000, tick/1000%1000)
		}
		piece(1, until+600+rng.Int64N(400), &first)
		if until >= frame || done {
			frame = until - until%16_000 + 16_000
			piece(2, until+1000+rng.Int64N(400), &second)
		}
	}
	path := filepath.Join(t.TempDir(), "run.bell")
	require.NoError(t, os.WriteFile(path, append(file, "#end {}\n"...), 0o600))
	return path
}

// judgedTwin plays a recording, and returns what rang.
func judgedTwin(t *testing.T, path string) (events []alarms.Event, d *desk) {
	t.Helper()
	f, err := link.OpenRecording(path)
	require.NoError(t, err)
	defer f.Close()
	k := checker{con: &console{out: io.Discard, err: io.Discard}}
	d, err = k.play(context.Background(), link.NewSession(f), path, func(e []alarms.Event) {
		events = append(events, slices.Clone(e)...)
	})
	require.NoError(t, err)
	return events, d
}

// An alarm rings at the same time whichever bridge its evidence comes over,
// however far that one's clock is off and however it runs: within what the screen
// states of the clock, one judgement, and what the evidence waits for its adapter.
func TestEvidenceFromTheSecondBridge(t *testing.T) {
	const hour = int64(3_600_000_000)
	for name, kinds := range map[string][]detect.Kind{
		"stand-load": {detect.NearLift}, "stand-lets-go": {detect.HoldLost},
		"filter-open": {detect.MotorHeat}, "old-pack": {detect.PackSag},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			sc, err := simulator.Load(name)
			require.NoError(t, err)
			if name == "filter-open" { // motors that heat within the run
				require.NoError(t, sc.Set("craft.motor_heat_jk=3"))
			}
			want, _ := judgedTwin(t, writeTwin(t, sc, twin{}))
			rung := 0
			for _, w := range []twin{
				{tags: "load,temp,pack", ahead: 3 * hour, ppm: 100},
				{tags: "load,temp,pack", ahead: -5*hour - 1234, ppm: -100},
			} {
				path := writeTwin(t, sc, w)
				got, d := judgedTwin(t, path)
				v := d.eng.Bridges()[1]
				require.True(t, v.Clocked)
				assert.InDelta(t, w.ppm, v.Drift, v.DriftUnsure+1)
				off := int32(w.ahead) - int32(openReplay(t, path).about.bridge) - int32(v.Offset*1e6) // clocks go round
				assert.InDelta(t, w.ppm*float64(d.eng.Now())/1e6, -off, v.OffsetUnsure*1e6)
				may := v.OffsetUnsure + 0.010 + 0.016
				for _, k := range kinds {
					a, b := turnsOf(want, k), turnsOf(got, k)
					require.Equal(t, len(a), len(b), "%v\n%v", a, b)
					for i := range a {
						assert.Equal(t, a[i].Change, b[i].Change)
						assert.Equal(t, a[i].Priority, b[i].Priority)
						assert.InDelta(t, float64(a[i].T)/1e6, float64(b[i].T)/1e6, may, "%s %s", k, a[i].Change)
						rung++
					}
				}
				for k := range detect.KindCount { // and the others are the same ones
					assert.Equal(t, len(turnsOf(want, k)), len(turnsOf(got, k)), "%s", k)
				}
			}
			assert.Positive(t, rung)
		})
	}
}

func turnsOf(events []alarms.Event, k detect.Kind) (out []alarms.Event) {
	for _, e := range events {
		if e.Kind == k {
			out = append(out, e)
		}
	}
	return out
}

// longShake is a run whose axes swing on and on, with the lift of its stand.
func longShake(t *testing.T) simulator.Scenario {
	t.Helper()
	sc, err := simulator.Load("gains-high")
	require.NoError(t, err)
	sc.Seconds = 110
	sc.Events = slices.DeleteFunc(sc.Events, func(e simulator.Event) bool { return e.At > 9 })
	require.NoError(t, sc.Set("craft.pack_mah=100000"))
	require.NoError(t, sc.Set("rates.axes_hz=100"))
	return sc
}

// Wherever a far jump goes to in a recording of two bridges, with the look ahead
// and without, and whichever bridge spoke first: it shows what all of the
// recording shows there.
func TestReplayFarJumpOfTwoBridges(t *testing.T) {
	sc := longShake(t)
	t.Parallel()
	for name, w := range map[string]twin{
		"the craft's first":  {tags: "load,temp,pack", ahead: 9_000_000_000, ppm: 100},
		"the stand's first":  {tags: "load,temp,pack", ahead: 9_000_000_000, ppm: -100, late: [2]int64{3_000_000, 0}},
		"the stand's late":   {tags: "load,temp,pack", ahead: 5, ppm: 60, late: [2]int64{0, 40_000_000}},
		"the first one away": {tags: "load,temp,pack", ahead: 5, ppm: 60, gone: [2]int64{80_000_000, 95_500_000}},
	} {
		t.Run(name, func(t *testing.T) {
			path := writeTwin(t, sc, w)
			var there, back alarms.Snapshot
			whole := openReplay(t, path)
			require.NoError(t, whole.advance(60_000_000))
			whole.desk.eng.Snapshot(&back)
			require.NoError(t, whole.advance(100_000_000))
			whole.desk.eng.Snapshot(&there)
			for _, looks := range []bool{false, true} {
				r := openReplay(t, path)
				if looks {
					r.look = lookOver(t, r)
				}
				require.NoError(t, r.jump(100_000_000))
				if w.gone[0] == 0 {
					assert.InDelta(t, 94e6-float64(whole.about.beganAt), r.from, 1.1e6)
				}
				same(t, there, r)
				require.NoError(t, r.jump(60_000_000))
				same(t, back, r)
			}
		})
	}
}

// same holds what is shown after a jump against what a run from the start shows.
func same(t *testing.T, a alarms.Snapshot, r *replayer) {
	t.Helper()
	var b alarms.Snapshot
	r.desk.eng.Snapshot(&b)
	unsure := 100.0 // the second's lines lie as surely as its clock is known
	for i := range b.Bridges {
		unsure = max(unsure, 1e6*b.Bridges[i].OffsetUnsure)
	}
	assert.InDelta(t, a.T, b.T, unsure, "the engine's time is the recording's")
	assert.Equal(t, a.CraftName, b.CraftName)
	assert.Equal(t, a.Bridge, b.Bridge, "the name of the bridge whose clock counts")
	assert.Equal(t, a.Armed, b.Armed)
	assert.Equal(t, a.LiftN.V, b.LiftN.V)
	assert.Equal(t, isUp(a, detect.RisingOscillation), isUp(b, detect.RisingOscillation))
	assert.Equal(t, isUp(a, detect.StaleLink), isUp(b, detect.StaleLink))
	require.Len(t, b.Bridges, 2)
	for i := range b.Bridges {
		x, y := &a.Bridges[i], &b.Bridges[i]
		assert.Equal(t, x.Name, y.Name)
		assert.Equal(t, x.Heard, y.Heard)
		assert.Equal(t, x.Reference, y.Reference, x.Name)
		assert.Equal(t, x.Clocked, y.Clocked)
		assert.InDelta(t, x.Offset, y.Offset, x.OffsetUnsure+y.OffsetUnsure+1e-3)
		assert.InDelta(t, x.Rate, y.Rate, 5)
	}
	for i := alarms.TrailLength - 60; i < alarms.TrailLength; i++ {
		require.InDelta(t, a.Trails[1][i], b.Trails[1][i], 0.01)
	}
}

// What ails one of two lines is told with its name, and nothing of the other.
func TestDiagnosisNamesTheLine(t *testing.T) {
	t.Parallel()
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	for which, name := range []string{"nose", "stand"} {
		w := twin{tags: "load,temp,pack", ahead: 77, ppm: 20}
		w.lossy[which] = 701
		_, d := judgedTwin(t, writeTwin(t, sc, w))
		lines := d.cableLines()
		require.NotEmpty(t, lines)
		for _, l := range lines {
			assert.Regexp(t, "^  line: "+name+": flipped bits", l)
		}
		for _, s := range d.cableSights() {
			assert.Equal(t, name+": flipped bits", s.Name)
		}
	}
}

// The account of a run and its comparison take two bridges as one bench: what they
// say of its time, its lines and its streams is what one bridge gives.
func TestAccountOfTwoBridges(t *testing.T) {
	t.Parallel()
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	one, two := writeTwin(t, sc, twin{}), writeTwin(t, sc, twin{tags: "load,temp,pack", ahead: -4_000_000_000, ppm: 100})
	con := &console{out: io.Discard, err: io.Discard}
	a, err := accountOf(t.Context(), con, one, nil, true, nil)
	require.NoError(t, err)
	b, err := accountOf(t.Context(), con, two, nil, true, nil)
	require.NoError(t, err)
	assert.Zero(t, b.Link.Restarts)
	assert.Zero(t, b.Link.Lost)
	assert.InDelta(t, a.Link.LongestS, b.Link.LongestS, 0.02)
	rate := map[string]float64{}
	for _, s := range a.Link.Streams {
		rate[s.Tag] = s.PerS
	}
	for _, s := range b.Link.Streams {
		if s.Tag != "hello" { // each says it
			assert.InDelta(t, rate[s.Tag], s.PerS, 0.002*rate[s.Tag]+0.01, s.Tag)
		}
	}
	assert.NotEmpty(t, rate)
	for _, file := range []string{one, two} {
		s, err := surveyOf(t.Context(), file, 0)
		require.NoError(t, err)
		assert.True(t, s.info.Ordered[decode.Load], file)
	}
}
