//go:build linux

package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// stallFor is how long the terminal reads nothing.
const stallFor = 10 * time.Second

// A stalledRun is what came of a terminal that read nothing for a while.
type stalledRun struct {
	lateness []time.Duration // from the line of each alarm to its sound, during the stall
	idle     time.Duration   // the same before it
	after    string          // the screen a second after the terminal read on
	renewed  string          // and when all of it was drawn anew
	behind   time.Duration   // from reading on to a right screen
	record   string
}

// runStalled raises two alarms while the terminal reads nothing, each in the
// silence between two bursts, which is far longer than the sound may be late.
// The sound is listened to where the server plays it.
func runStalled(t testing.TB, sink *nullSink) stalledRun {
	dir := t.TempDir()
	sink.listen(t)
	started := time.Now()
	r := startRig(t, 140, 45, sink, "--record", dir)
	s := startStream(t, r)
	r.sees(t, "PulseAudio")
	sink.settled(t, started)
	time.Sleep(2 * time.Second) // an idle sink renders 2 s ahead at first
	ring := func() time.Duration {
		r.until(t, "silence", sink.silent)
		at := s.set(true, 0.3)
		var began time.Time
		r.until(t, "sound", func() (ok bool) { began, ok = sink.after(at); return ok })
		return began.Sub(at) - r.beat.held(at)
	}
	var out stalledRun
	out.idle = ring()
	r.sees(t, notAcknowledged)
	s.set(false, 0)
	time.Sleep(time.Second)
	r.press(t, "a")
	r.press(t, "6") // the view whose rows keep their places

	goOn := r.hold(t)
	end := time.Now().Add(stallFor)
	time.Sleep(3 * time.Second)
	out.lateness = append(out.lateness, ring())
	s.set(false, 0)
	time.Sleep(time.Second)
	out.lateness = append(out.lateness, ring()) // and this one stays
	time.Sleep(time.Until(end))
	goOn()
	again := time.Now()
	r.sees(t, "stick-high")
	r.sees(t, notAcknowledged)
	out.behind = r.beat.since(again)
	for range 3 { // what stands there may change just then
		time.Sleep(time.Second)
		out.after = r.glass.picture()
		// A change of size and back draws all of it anew.
		for _, w := range []uint16{139, 140} {
			frames, _ := r.glass.drawn()
			require.NoError(t, pty.Setsize(r.tty, &pty.Winsize{Rows: 45, Cols: w}))
			time.Sleep(500 * time.Millisecond)
			r.until(t, "a picture", func() bool { now, _ := r.glass.drawn(); return now > frames+2 })
		}
		if out.renewed = r.glass.picture(); steady(out.renewed) == steady(out.after) {
			break
		}
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.bell"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	out.record = string(text)
	return out
}

// steady blots out what goes on by time alone: figures, the bars they move,
// and the edges.
func steady(picture string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= '0' && r <= '9' || strings.ContainsRune(" +-.·▏▎▍▌▋▊▉█▓", r):
			return -1
		case r == '▞':
			return '▚'
		}
		return r
	}, picture)
}

// A terminal that reads nothing for ten seconds holds up neither the sound
// nor the recording, and the screen is right when it reads on. The bounds are
// wide, for a busy machine; BenchmarkStalledTerminal has the figures.
func TestStalledTerminal(t *testing.T) {
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	t.Parallel()
	sink := startNullSink(t)
	if sink == nil {
		t.Skip("pulseaudio or parec is not installed: the sound during a stall was not tried")
	}
	run := runStalled(t, sink)
	t.Logf("sound after %v before, after %v during the stall; screen right after %v", run.idle, run.lateness, run.behind)
	for _, late := range run.lateness {
		assert.Less(t, late, time.Second)
	}
	assert.Less(t, run.behind, 2*time.Second)
	assert.Equal(t, steady(run.renewed), steady(run.after))
	assert.Equal(t, 3, strings.Count(run.record, `"alarm":"stick-high","change":"raised"`), "all are recorded")
}

// BenchmarkStalledTerminal has the figures of TestStalledTerminal: from the
// line that shows a raised stick to the sound at the server's output, while
// the terminal reads nothing. The server's own way of 10 ms pieces is in it.
func BenchmarkStalledTerminal(b *testing.B) {
	var all []time.Duration
	var behind time.Duration
	for b.Loop() {
		sink := startNullSink(b)
		if sink == nil {
			b.Skip("pulseaudio or parec is not installed")
		}
		run := runStalled(b, sink)
		all, behind = append(all, run.lateness...), max(behind, run.behind)
	}
	slices.Sort(all)
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(all[len(all)/2].Seconds()*1000, "sound-p50-ms")
	b.ReportMetric(all[len(all)-1].Seconds()*1000, "sound-max-ms")
	b.ReportMetric(behind.Seconds()*1000, "screen-behind-ms")
	b.ReportMetric(machineLoad(), "load")
}
