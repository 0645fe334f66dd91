package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard"
	"tetherbell/decode"
	"tetherbell/link"
	"tetherbell/simulator"
)

// writeLong writes a recording of a craft whose pitch swings, at 100 axes lines
// a second, with or without the host's clock, and returns its path.
func writeLong(t testing.TB, seconds int, ticks bool) string {
	t.Helper()
	var out []byte
	seq, us := 0, int64(4_294_000_000) // the bridge's clock wraps
	line := func(body string, args ...any) {
		tag, rest, _ := strings.Cut(fmt.Sprintf(body, args...), ",")
		from := len(out)
		out = fmt.Appendf(out, "%s,%d,%d,%s", tag, seq%65536, us%(1<<32), rest)
		out = decode.AppendChecksum(out, from)
		seq++
	}
	for k := range seconds * 100 {
		for ms := 5000 + k*10; ticks && ms%20 == 0; ms++ {
			out = fmt.Appendf(out, "#at %d.%03d\n", ms/1000, ms%1000)
		}
		if k%100 == 0 {
			line("hello,1,bench-1,42")
		}
		if k%1000 == 0 {
			line("craft,Marsh Heron,quad-x,4,14,3,178,655,4")
		}
		if k == 0 {
			line("set,idle_ready,0.08")
		}
		if k%5 == 0 {
			line("state,%d,0,1,0.3,0,0,0,1", min(1, k/200))
			line("out,0.3000,0.3100,0.3050,0.2950")
		}
		swing := 0.12 + 0.01*math.Sin(float64(k)/3000)
		line("axes,0,%.2f,0,0,0,0,0,%.5f,0,0.3", 40*swing*math.Cos(0.6*float64(k)), swing*math.Sin(0.6*float64(k)))
		us += 10_000
	}
	path := filepath.Join(t.TempDir(), "long.bell")
	require.NoError(t, os.WriteFile(path, append(out, "#end {}\n"...), 0o600))
	return path
}

// writeHour writes an hour of a simulated bench at 1000 axes lines a second,
// with a tick each 20 ms as the live desk writes them.
func writeHour(t testing.TB) string {
	t.Helper()
	sc, err := simulator.Load("gains-high")
	require.NoError(t, err)
	sc.Seconds = 3600
	sc.Events = slices.DeleteFunc(sc.Events, func(e simulator.Event) bool { return e.At > 9 })
	for _, set := range []string{"link.baud=3000000", "rates.axes_hz=1000", "craft.pack_mah=100000"} {
		require.NoError(t, sc.Set(set))
	}
	path := filepath.Join(t.TempDir(), "hour.bell")
	f, err := os.Create(path)
	require.NoError(t, err)
	b := simulator.New(sc, 1)
	var text []byte
	next := int64(20_000)
	for done := false; !done; {
		var until int64
		text, until, done = b.Next(text[:0])
		for ; next <= until; next += 20_000 {
			text = fmt.Appendf(text, "#at %d.%03d\n", next/1_000_000, next/1000%1000)
		}
		_, err = f.Write(text)
		require.NoError(t, err)
	}
	require.NoError(t, f.Close())
	return path
}

// TestReplayFarJump: what a far jump shows is what all of the recording shows
// there, as far as that is known.
func TestReplayFarJump(t *testing.T) {
	for _, ticks := range []bool{true, false} {
		path := writeLong(t, 110, ticks)
		whole := openReplay(t, path)
		require.NoError(t, whole.advance(100_000_000))
		r := openReplay(t, path)
		if !ticks {
			assert.False(t, r.about.known, "the length is not known yet")
			r.look = lookOver(t, r)
		}
		require.NoError(t, r.jump(100_000_000))
		assert.InDelta(t, 94e6, r.from, 1.1e6)
		var a, b alarms.Snapshot
		whole.desk.eng.Snapshot(&a)
		r.desk.eng.Snapshot(&b)
		assert.Equal(t, a.T, b.T, "the engine's time is the recording's")
		assert.Equal(t, a.CraftName, b.CraftName)
		assert.Equal(t, a.IdleReady.V, b.IdleReady.V)
		assert.Equal(t, a.Armed, b.Armed)
		for i := alarms.TrailLength - 60; i < alarms.TrailLength; i++ { // three seconds; what is learnt over a longer time differs a little
			require.InDelta(t, a.Trails[1][i], b.Trails[1][i], 0.003)
		}
		assert.Zero(t, b.Lost)
		assert.Zero(t, b.Restarts)
		assert.True(t, isUp(a, detect.RisingOscillation), "a")
		assert.True(t, isUp(b, detect.RisingOscillation), "b")
		require.NotEmpty(t, r.aud.journal)
		assert.Regexp(t, `^judged from 9[34]\.\d s on: what came before is not known here$`, r.aud.journal[0].Text)

		require.NoError(t, r.jump(105_000_000))
		assert.InDelta(t, 94e6, r.from, 1.1e6, "a near one judges what lies between")
		assert.Contains(t, r.verdict(), fmt.Sprintf("  judged from %.1f s on: what came before is not known here", float64(r.from)/1e6))
		require.NoError(t, r.jump(15_000_000))
		assert.Zero(t, r.from, "the beginning is near too")
		require.NoError(t, r.jump(9e9))
		assert.Equal(t, r.about.length, r.pos)
		require.True(t, r.ended)
		require.NotZero(t, r.from)
		assert.Regexp(t, `long\.bell: ONLY \d+\.\d s TO 11\d\.\d s OF 11\d\.\d s WERE SEEN: .*; IT ENDS WITH THE CRAFT ARMED, `, r.verdict()[0],
			"the end was seen, the beginning was not")

		r = openReplay(t, path)
		r.aud.form = asPlain
		require.NoError(t, r.jump(100_000_000))
		assert.Zero(t, r.from, "standard output has all of it")
	}
}

// What was set a little before the judged part, and not repeated in it, is known.
func TestReplayFarJumpKnowsWhatWasSet(t *testing.T) {
	path := writeLong(t, 110, true)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	var text []byte
	last, now := "", 0.0 // the host's clock began at 5 s
	for line := range strings.Lines(string(whole)) {
		fields := strings.SplitN(line, ",", 4)
		switch {
		case strings.HasPrefix(line, "#at "):
			was := now
			now, err = strconv.ParseFloat(strings.TrimSpace(line[4:]), 64)
			require.NoError(t, err)
			if was < 96 && now >= 96 { // told between the lines, with the number of the last
				text = append(text, strings.TrimSuffix(benchLine("set,"+last+",idle_ready,0.11"), "\n")+"\n"...)
			}
		case len(fields) == 4 && fields[0] == "axes":
			last = fields[1] + "," + fields[2]
		case now > 96 && strings.HasPrefix(line, "set,") && strings.Contains(line, ",idle_ready,"):
			continue // the bridge does not repeat it
		}
		text = append(text, line...)
	}
	require.NoError(t, os.WriteFile(path, text, 0o600))
	r := openReplay(t, path)
	require.NoError(t, r.jump(100_000_000))
	require.Greater(t, r.from, int64(92_000_000))
	var s alarms.Snapshot
	r.desk.eng.Snapshot(&s)
	assert.InDelta(t, 0.11, s.IdleReady.V, 1e-9)
}

func isUp(s alarms.Snapshot, k detect.Kind) bool {
	return slices.ContainsFunc(s.Alarms, func(a alarms.AlarmView) bool { return a.Kind == k && a.Active })
}

// A compressed recording shows the same, with its table and, where the look ahead
// has been, without one.
func TestReplayFarJumpCompressed(t *testing.T) {
	path := writeLong(t, 110, true)
	plain := openReplay(t, path)
	require.NoError(t, plain.jump(100_000_000))
	var a, b alarms.Snapshot
	plain.desk.eng.Snapshot(&a)
	_, err := link.Squeeze(t.Context(), path)
	require.NoError(t, err)
	r := openReplay(t, path+".zst")
	assert.Equal(t, plain.about.length, r.about.length)
	assert.True(t, r.about.known)
	require.NoError(t, r.jump(100_000_000))
	assert.Equal(t, plain.from, r.from)
	r.desk.eng.Snapshot(&b)
	assert.Equal(t, a, b)

	text, err := os.ReadFile(path + ".zst")
	require.NoError(t, err)
	cut := filepath.Join(t.TempDir(), "cut.bell.zst")
	require.NoError(t, os.WriteFile(cut, text[:len(text)-9], 0o600)) // the end of its table
	r = openReplay(t, cut)
	assert.False(t, r.about.known)
	r.look = lookOver(t, r)
	require.NoError(t, r.jump(100_000_000))
	assert.InDelta(t, 94e6, r.from, 1.1e6)
	assert.Equal(t, plain.about.length, r.about.length)
}

// A jump to a place that nothing has found yet judges all on the way, and the
// way back from the middle of a search is the beginning.
func TestReplayJumpWithoutPlaces(t *testing.T) {
	r := openReplay(t, writeLong(t, 60, false))
	require.NoError(t, r.jump(50_000_000))
	assert.Zero(t, r.from)
	assert.InDelta(t, 50e6, r.desk.eng.Now(), 0.1e6)
	require.NoError(t, r.jump(30_000_000))
	assert.InDelta(t, 30e6, r.desk.eng.Now(), 0.1e6)
}

// lookOver looks through a recording.
func lookOver(t *testing.T, r *replayer) *lookahead {
	t.Helper()
	k := &lookahead{name: r.name, about: r.about, craft: r.craft}
	k.routineLook(context.Background())
	require.NoError(t, k.err)
	return k
}

func TestOutlineEngineAt(t *testing.T) {
	const round = int64(1) << 32
	o := outline{beganAt: 2_000_000, bridge: 4_294_000_000}
	for _, c := range []struct {
		name   string
		place  int64
		bridge uint32
		want   int64
	}{
		{"at the first line", 2_000_000, 4_294_000_000, 0},
		{"a little before it", 2_000_000, 4_293_999_990, 0},
		{"over the wrap", 12_000_000, 9_032_704, 10_000_000},
		{"a clock that runs fast", 1_002_000_000, uint32((4_294_000_000 + 1_005_000_000) % round), 1_005_000_000},
		{"after one round", 2_000_000 + round + 500, 4_294_000_000, round},
		{"after three", 2_000_000 + 3*round + 5_000_000, 4_299_000_000 % (1 << 32), 3*round + 5_000_000},
		{"begun anew", 102_000_000, 3, 100_000_000},
	} {
		assert.Equal(t, c.want, o.engineAt(c.place, c.bridge), c.name)
	}
}

// The clock of the host may come late, step back, or be missing.
func TestOutlineLength(t *testing.T) {
	line := func(us int) string { return benchLine(fmt.Sprintf("note,1,%d,x", us)) }
	wide := ""
	for i := range 12000 {
		wide += line(1000 + i*1000)
	}
	for _, c := range []struct {
		name, text   string
		known, ticks bool
		length       int64
	}{
		{"small, without ticks", line(1000) + line(2_001_000), true, false, 2_000_000},
		{"small, with ticks", "#at 3.000\n" + line(1000) + "#at 5.500\n", true, true, 2_500_000},
		{"large, without ticks", wide, false, false, 0},
		{"large, with ticks", "#at 3.000\n" + wide + "#at 12.000\n", true, true, 9_000_000},
		{"large, with late ticks", wide + "#at 3.000\n" + line(12_000_000) + "#at 12.000\n", true, true, 9_000_000},
		{"large, last tick far from the end", "#at 3.000\n" + wide, false, true, 0},
	} {
		path := filepath.Join(t.TempDir(), "x.bell")
		require.NoError(t, os.WriteFile(path, []byte(c.text), 0o600))
		f, err := os.Open(path)
		require.NoError(t, err)
		defer f.Close()
		o, err := outlineOf(context.Background(), f, path)
		require.NoError(t, err)
		assert.Equal(t, c.known, o.known, c.name)
		assert.Equal(t, c.ticks, o.ticks, c.name)
		assert.Equal(t, c.length, o.length, c.name)
		at, err := f.Seek(0, io.SeekCurrent)
		require.NoError(t, err)
		assert.Zero(t, at)
	}
}

// openHeard is openReplay with a player, which plays nothing.
func openHeard(b *testing.B, path string) *replayer {
	r := openReplay(b, path)
	require.NoError(b, r.aud.openSound(b.Context(), r.con, &flags{sound: "off"}, make(chan struct{}, 1)))
	b.Cleanup(func() { r.aud.sound.Close() })
	return r
}

func benchLine(body string) string { return string(decode.AppendChecksum([]byte(body), 0)) }

// BenchmarkSeek measures, on an hour of 1000 axes lines a second, the start in
// the middle of it and a jump to another far place, up to the new picture.
func BenchmarkSeek(b *testing.B) {
	if testing.Short() {
		b.Skip("writes a file of 350 MB")
	}
	path := os.Getenv("TETHERBELL_HOUR")
	if path == "" {
		path = writeHour(b)
	}
	b.Run("start", func(b *testing.B) {
		for b.Loop() {
			r := openHeard(b, path)
			require.NoError(b, r.jump(1_800_000_000))
			r.show()
		}
	})
	b.Run("jump", func(b *testing.B) {
		r := openHeard(b, path)
		for i := 0; b.Loop(); i++ {
			require.NoError(b, r.jump(int64(600+i%4*700)*1_000_000))
			r.show()
		}
	})
	b.Run("back", func(b *testing.B) {
		r := openHeard(b, path)
		require.NoError(b, r.jump(3_000_000_000))
		for b.Loop() {
			require.NoError(b, r.act(dashboard.Act{Kind: dashboard.ReplayJump, Seconds: -1}))
			r.show()
		}
	})
}
