//go:build linux

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/link"
	"tetherbell/simulator"
)

// quietFor is how long the craft has been disarmed before a probe: what the
// rotors did is over, and a look at the sticks is due.
const quietFor = 3 * time.Second

// staleAfter is a little less than what rings as a stale link.
const staleAfter = 250 * time.Millisecond

// A probedBench is a bench at its own pace on a pseudo-terminal. While its craft
// is disarmed it can be told to say that it is armed with the stick up: that is
// how long an alarm takes from the line to the screen.
type probedBench struct {
	src  *spinups
	stop chan struct{}
	done chan struct{}

	mu      sync.Mutex
	probing bool
	said    bool      // in the piece that is being made
	at      time.Time // when it was written first
	quiet   time.Time // since when it is disarmed; zero: it is armed
	fresh   bool      // and was not probed in this pause
	wrote   time.Time // the last lines
	held    int       // silences of our own, too long for a link that is watched
	longest time.Duration
	err     error
}

// startProbedBench starts one; it ends with the test at the latest.
func startProbedBench(t *testing.T, w *os.File) *probedBench {
	b := &probedBench{stop: make(chan struct{}), done: make(chan struct{})}
	b.src = &spinups{chapter: func(n int) simulator.Scenario { return spinUps(n, 20) }, alter: b.alter}
	go b.routineSend(w)
	t.Cleanup(b.end)
	return b
}

func (b *probedBench) end() {
	select {
	case <-b.stop:
	default:
		close(b.stop)
	}
	<-b.done
}

// routineSend is started by startProbedBench, and ended and waited for by end.
func (b *probedBench) routineSend(w *os.File) {
	defer close(b.done)
	begun, buf := time.Now(), []byte(nil)
	for {
		b.mu.Lock()
		b.said = false
		out, until, _ := b.src.Next(buf[:0])
		said := b.said
		b.mu.Unlock()
		buf = out
		last := false
		select {
		case <-b.stop:
			last = true // what was made is sent
		case <-time.After(time.Until(begun.Add(time.Duration(until) * time.Microsecond))):
		}
		at := time.Now()
		_, err := w.Write(out)
		b.mu.Lock()
		b.wroteAt(len(out))
		if b.err = err; said && b.at.IsZero() {
			b.at = at
		}
		b.mu.Unlock()
		if err != nil || last {
			return
		}
	}
}

// wroteAt notes a silence that is the sender's own: on a busy machine it is late,
// or the far end is and holds it up. Locked.
func (b *probedBench) wroteAt(n int) {
	if n == 0 {
		return
	}
	now := time.Now()
	if late := now.Sub(b.wrote); !b.wrote.IsZero() {
		b.longest = max(b.longest, late)
		if late > staleAfter {
			b.held++
		}
	}
	b.wrote = now
}

// alter is called for every line, with the lock held.
func (b *probedBench) alter(tag, tail []byte) []byte {
	if string(tag) != "state" {
		return tail
	}
	switch disarmed := bytes.HasPrefix(tail, []byte(",0,0,")); {
	case !disarmed:
		b.quiet, b.fresh, b.probing = time.Time{}, true, false
	case b.quiet.IsZero():
		b.quiet = time.Now()
	}
	if b.probing {
		b.said = true
		return []byte(",1,0,1,0.3,0,0,0,1")
	}
	return tail
}

// ready reports whether a probe may be made.
func (b *probedBench) ready() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.fresh && !b.quiet.IsZero() && time.Since(b.quiet) > quietFor
}

// probe has the stick raised, and let down again.
func (b *probedBench) probe(up bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.probing = up
	if up {
		b.fresh, b.at = false, time.Time{}
	}
}

// sent is when the line of the probe was written.
func (b *probedBench) sent() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.at
}

// An hourRun is the program on its screen, watched.
type hourRun struct {
	r     *rig
	bench *probedBench
	came  chan time.Time
	took  []time.Duration // of all probes
}

// probe measures from the line to the banner, and acknowledges the alarm.
func (h *hourRun) probe(t *testing.T) {
	for h.r.glass.shows(notAcknowledged) { // a pack was changed
		h.r.press(t, "a")
		time.Sleep(200 * time.Millisecond)
	}
	select {
	case <-h.came:
	default:
	}
	h.bench.probe(true)
	select {
	case seen := <-h.came:
		h.took = append(h.took, seen.Sub(h.bench.sent()))
	case <-time.After(5 * time.Second):
		t.Fatalf("no banner:\n%s", h.r.glass.picture())
	}
	h.bench.probe(false)
	time.Sleep(300 * time.Millisecond)
	h.r.until(t, "acknowledged", func() bool {
		h.r.press(t, "a")
		time.Sleep(200 * time.Millisecond)
		return !h.r.glass.shows(notAcknowledged)
	})
}

// TestPseudoHour watches the whole program for TETHERBELL_HOURLONG (1h) of real
// time: its bridge on one pseudo-terminal, at 1000 axes lines a second beside
// the rest, its screen on another, recorded, with sound where there is a server
// for it. Every minute it prints what the program holds; in each pause of the
// bench it measures the way from a line to the screen.
//
// Asserted: goroutines and descriptors at the end are those at the start, the
// resident memory of the last quarter is within 8 MB of the second one's, the
// line's way to the screen is as short at the end as at the start (twice, for
// its median; by 50 ms), every line is in the recording, and nothing rang but
// what was made to.
func TestPseudoHour(t *testing.T) {
	text := os.Getenv("TETHERBELL_HOURLONG")
	if text == "" {
		t.Skip("TETHERBELL_HOURLONG=1h runs it in real time")
	}
	all, err := time.ParseDuration(text)
	require.NoError(t, err)
	dir := t.TempDir()
	list := filepath.Join(dir, "census")
	sink := startNullSink(t)
	h := &hourRun{r: startRigIn(t, []string{censusFile + "=" + list}, 200, 60, sink, "--record", dir), came: make(chan time.Time, 1)}
	up := false
	h.r.glass.seen = func(g *glassPane, at time.Time) {
		if is := g.has(notAcknowledged); is != up {
			if up = is; is {
				select {
				case h.came <- at:
				default:
				}
			}
		}
	}
	h.bench = startProbedBench(t, h.r.bridge.master)
	rows := h.watch(t, all, list)
	h.bench.end()
	require.NoError(t, h.bench.err)
	h.r.bridge.drain()
	// The last piece is read, and may be on its way to the desk. What follows must
	// be over before the silence rings.
	time.Sleep(50 * time.Millisecond)
	for range 2 { // armed or not
		_, _ = h.r.tty.WriteString("q")
		time.Sleep(80 * time.Millisecond)
	}
	h.checkRows(t, rows)
	require.NoError(t, waitFor(h.r.cmd))
	h.checkRecording(t, dir, sink != nil)
}

// A hourRow is what was measured at a minute.
type hourRow struct {
	census
	cpu float64 // of a core, since the last one
}

// watch prints a row a minute until the time is over.
func (h *hourRun) watch(t *testing.T, all time.Duration, list string) (rows []hourRow) {
	pid := h.r.cmd.Process.Pid
	every := min(time.Minute, all/3)
	time.Sleep(min(10*time.Second, every/2)) // up, and its windows full
	begun := time.Now()
	cpu, at, probes := h.r.cpu(t), begun, 0
	t.Log(" minute  rss MB  core %  threads descr. gorout.  line to screen, ms         load")
	for n := 0; ; {
		if h.bench.ready() {
			h.probe(t)
		}
		if time.Since(begun) < time.Duration(n)*every {
			time.Sleep(20 * time.Millisecond)
			continue
		}
		row := hourRow{census: takeCensus(t, pid, list)}
		used, now := h.r.cpu(t), time.Now()
		if n > 0 {
			row.cpu = 100 * (used - cpu).Seconds() / now.Sub(at).Seconds()
		}
		cpu, at = used, now
		var took []string
		for _, d := range h.took[probes:] {
			took = append(took, fmt.Sprintf("%.1f", d.Seconds()*1e3))
		}
		probes = len(h.took)
		t.Logf("%7.1f %7.1f %7.1f %8d %6d %7d  %-24v %6.2f", now.Sub(begun).Minutes(), float64(row.rssKB)/1000, row.cpu,
			row.threads, row.files, row.goroutines, took, machineLoad())
		rows = append(rows, row)
		if n++; time.Since(begun) >= all {
			return rows
		}
	}
}

func (h *hourRun) checkRows(t *testing.T, rows []hourRow) {
	require.Greater(t, len(rows), 2)
	first, last := rows[0], rows[len(rows)-1]
	assert.LessOrEqual(t, last.goroutines, first.goroutines, last.stacks)
	assert.LessOrEqual(t, last.files, first.files)
	quarter := max(1, len(rows)/4)
	early, late := rows[quarter:2*quarter], rows[len(rows)-quarter:]
	assert.Less(t, meanRSS(late), meanRSS(early)+8000, "kB resident")
	if len(h.took) < 2 {
		t.Log("too few probes to compare")
		return
	}
	k := max(1, len(h.took)/4)
	before, after := median(h.took[:k]), median(h.took[len(h.took)-k:])
	t.Logf("line to screen: median of all %d %v, worst %v; of the first quarter %v, of the last %v",
		len(h.took), median(h.took), slices.Max(h.took), before, after)
	assert.Less(t, after, 2*before+50*time.Millisecond)
}

func meanRSS(rows []hourRow) float64 {
	sum := 0.0
	for _, r := range rows {
		sum += float64(r.rssKB)
	}
	return sum / float64(len(rows))
}

// checkRecording wants every line and no alarm but those that were made.
func (h *hourRun) checkRecording(t *testing.T, dir string, sound bool) {
	files, err := filepath.Glob(filepath.Join(dir, "*"+link.Ext))
	require.NoError(t, err)
	require.Len(t, files, 1)
	f, err := os.Open(files[0])
	require.NoError(t, err)
	defer f.Close()
	s := link.NewSession(f)
	var it link.Item
	lines, rang := uint64(0), map[string]int{}
	var dec decode.Decoder
	var stream decode.Stream
	var sample decode.Sample
	gaps, bad, unkept := 0, 0, uint64(0)
	for s.Next(&it) == nil {
		var e struct{ Alarm, Change, Priority string }
		switch {
		case it.Kind == link.Wire:
			lines++
			if dec.Decode(it.Line, &sample) != nil {
				bad++
			} else {
				gaps += stream.Next(&sample, -1).Gap
			}
		case it.Kind == link.Lost:
			unkept += it.Count
		case it.Kind == link.Alarm && json.Unmarshal(it.Line, &e) == nil && e.Change == "raised":
			rang[e.Alarm+" "+e.Priority]++
		}
	}
	t.Logf("%d lines sent, %d recorded; sound: %v; raised: %v", h.bench.src.lines, lines, sound, rang)
	t.Logf("the bench itself was silent for over %v %d times, at most %v", staleAfter, h.bench.held, h.bench.longest.Round(time.Millisecond))
	assert.Equal(t, h.bench.src.lines, lines, "%d bad ones, %d missing between others, %d that the recorder told of", bad, gaps, unkept)
	assert.Equal(t, len(h.took), rang["stick-high high"])
	changes := h.bench.src.n - 1 // of the pack, in silence
	if h.bench.held > changes {
		t.Log("the machine was too busy for the bench to keep its pace: which silences rang is not judged")
		delete(rang, "stale-link high")
	} else {
		assert.Equal(t, changes, rang["stale-link low"])
	}
	for name := range rang {
		assert.Contains(t, []string{"stick-high high", "stale-link low"}, name, "nothing else was made to ring")
	}
}
