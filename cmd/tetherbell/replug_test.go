//go:build linux

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/link"
)

// portRoom is how much the system keeps for the reader of a port that is
// open and is late: 64 kB in Linux's tty layer (from memory). A
// pseudo-terminal keeps less.
const portRoom = 64 << 10

// A pulledPlug is the bridge's end of a cable that may be pulled. The bridge never
// waits: what finds no cable, no open port, or no room is gone.
type pulledPlug struct {
	p       *pseudo // nil: pulled
	open    bool    // the port is: what comes is kept for its reader
	kept    []byte
	dropped int // bytes that found no room in an open port
}

func (g *pulledPlug) Write(b []byte) (int, error) {
	switch {
	case g.p == nil:
		g.kept = g.kept[:0]
		return len(b), nil
	case !g.open:
		if g.p.unread() <= ptyRoom {
			return g.p.master.Write(b)
		}
		return len(b), nil
	case len(g.kept)+len(b) > portRoom:
		g.dropped += len(b)
	default:
		g.kept = append(g.kept, b...)
	}
	n := min(len(g.kept), max(0, ptyRoom-g.p.unread()))
	if _, err := g.p.master.Write(g.kept[:n]); err != nil {
		return 0, err
	}
	g.kept = append(g.kept[:0], g.kept[n:]...)
	return len(b), nil
}

// waits reports whether something was sent and is not taken yet.
func (g *pulledPlug) waits() bool { return g.p != nil && len(g.kept)+g.p.unread() > ptyRoom/4 }

// An outage is one unplugging and replugging, in lines counted from the first
// that the bridge ever made.
type outage struct {
	armed    bool
	pulled   int64         // first line that was made with the cable out
	in       int64         // first line that was made with it in again
	open     int64         // first line made after the program had said that the port is back
	noticed  time.Duration // from pulling to "lost"
	returned time.Duration // from the port's return to "is back"
	dropped  int           // bytes that had found no room in an open port until it was pulled
	taken    time.Duration // from the port's return to the first lines taken out of it
}

// A replugging is the whole of such a test.
type replugging struct {
	m          *monitor
	s          *stream
	plug       *pulledPlug
	link       string
	said, rang int // where to look on in what it says
}

// pull takes the cable out, and waits until that is said.
func (r *replugging) pull(o *outage) {
	r.s.mu.Lock()
	o.pulled, o.dropped = r.s.count, r.plug.dropped
	r.plug.p.close()
	r.plug.p, r.plug.open = nil, false
	at := time.Now()
	r.s.mu.Unlock()
	r.said = r.m.until(&r.m.err, "lost: trying again", r.said) + 1
	o.noticed = time.Since(at)
}

// push puts it in again, and waits until lines are taken.
func (r *replugging) push(t *testing.T, o *outage) {
	p, err := openPseudo(r.link + ".new")
	require.NoError(t, err)
	r.s.mu.Lock()
	require.NoError(t, os.Rename(p.link, r.link)) // in one step, as a cable is
	p.link = r.link
	r.plug.p = p
	o.in = r.s.count
	at := time.Now()
	r.s.mu.Unlock()
	held := 0
	soon(t, func() bool {
		now := p.unread()
		taken := now < held
		held = now
		return taken
	}, "lines are taken")
	o.taken = time.Since(at)
	r.said = r.m.until(&r.m.err, "is back", r.said) + 1
	o.returned = time.Since(at)
	r.s.mu.Lock()
	o.open, r.plug.open = r.s.count, true
	r.s.mu.Unlock()
}

// arm arms or disarms the craft and lets that be heard.
func (r *replugging) arm(yes bool) {
	r.s.mu.Lock()
	r.s.armed = yes
	r.s.mu.Unlock()
	for waits := true; waits; {
		time.Sleep(100 * time.Millisecond)
		r.s.mu.Lock()
		waits = r.plug.waits()
		r.s.mu.Unlock()
	}
}

// once goes through one outage.
func (r *replugging) once(t *testing.T, armed bool) outage {
	o := outage{armed: armed}
	r.arm(armed)
	r.pull(&o)
	time.Sleep(600*time.Millisecond + rand.N(200*time.Millisecond))
	r.push(t, &o)
	r.rang = r.m.until(&r.m.out, `"alarm":"stale-link","change":"cleared"`, r.rang) + 1
	_, err := r.m.in.Write([]byte("ack\n"))
	require.NoError(t, err)
	time.Sleep(500*time.Millisecond + rand.N(200*time.Millisecond))
	return o
}

// TestReplug pulls the cable of a bridge that sends on at 1 kHz, and puts it in
// again, under one and the same name. TETHERBELL_REPLUG=100 does it more often
// than the few times of a usual run; -v prints what came of it.
//
// A line counts as lost by the program when it was made after the program had
// said that the port is back, and before the cable was pulled next, and is not
// in the recording though a later one of that time is. What was on its way when
// the cable was pulled is lost with the cable, and counted apart; so is what the
// bridge sent before the port was open again. An open port keeps 64 kB for a
// reader that is late, as the system does; where a machine is so busy that this
// is not enough, most of a second, the lines lost are counted apart.
func TestReplug(t *testing.T) {
	t.Parallel()
	times := 5
	if text := os.Getenv("TETHERBELL_REPLUG"); text != "" {
		var err error
		times, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	dir := t.TempDir()
	list := filepath.Join(dir, "census")
	name := filepath.Join(dir, "bench")
	p, err := openPseudo(name)
	require.NoError(t, err)
	r := replugging{plug: &pulledPlug{p: p, open: true}, link: name}
	r.m = startMonitorIn(t, []string{censusFile + "=" + list}, "watch", name, "--json", "--sound", "off", "--record", filepath.Join(dir, "rec"))
	r.s = streamTo(t, r.plug)
	r.m.until(&r.m.err, "watching ", 0)
	holds(t, filepath.Join(dir, "rec"), "\naxes,", 500)
	time.Sleep(1500 * time.Millisecond)
	before := takeCensus(t, r.m.cmd.Process.Pid, list)
	var all []outage
	for i := range times {
		all = append(all, r.once(t, i%2 == 0))
	}
	r.arm(false)
	after := takeCensus(t, r.m.cmd.Process.Pid, list)
	out := r.m.stop()
	tellOutages(t, all)
	t.Logf("at the start %v\nat the end   %v", before, after)
	assert.LessOrEqual(t, after.goroutines, before.goroutines, after.stacks)
	assert.Equal(t, before.files, after.files)
	said := strings.Join(r.m.err, "\n")
	assert.Equal(t, times, strings.Count(said, "port "+name+" lost"))
	assert.Equal(t, times, strings.Count(said, "port "+name+" is back"))
	r.s.mu.Lock()
	dropped, silent := r.plug.dropped, r.s.silent
	r.s.mu.Unlock()
	if dropped > 0 || silent > 0 {
		t.Logf("the machine was too busy: %d bytes found 64 kB of the open port unread, and the bridge was late %d times; what rang is not judged", dropped, silent)
	} else {
		checkRings(t, out, all)
	}
	checkOutages(t, filepath.Join(dir, "rec"), append(all, outage{pulled: math.MaxInt64, in: math.MaxInt64, dropped: dropped}))
}

// tellOutages prints how long each step took.
func tellOutages(t *testing.T, all []outage) {
	for _, w := range []struct {
		what string
		of   func(o *outage) time.Duration
	}{
		{"pulled to lost", func(o *outage) time.Duration { return o.noticed }},
		{"return to first lines taken", func(o *outage) time.Duration { return o.taken }},
		{"return to word of it", func(o *outage) time.Duration { return o.returned }},
	} {
		var took []time.Duration
		for i := range all {
			took = append(took, w.of(&all[i]))
		}
		slices.Sort(took)
		t.Logf("%-28s median %7.1f ms, worst %7.1f ms", w.what, took[len(took)/2].Seconds()*1e3, took[len(took)-1].Seconds()*1e3)
	}
}

// checkRings wants a stale link for each outage, of high priority where the
// craft was armed and of low where not, and nothing else; but for the share of
// lost lines, which five seconds with two outages in them are full of.
func checkRings(t *testing.T, out string, all []outage) {
	want := map[string]int{}
	for i := range all {
		if all[i].armed {
			want["stale-link high"]++
		} else {
			want["stale-link low"]++
		}
	}
	rang := map[string]int{}
	for line := range strings.Lines(out) {
		var e struct{ Alarm, Change, Priority string }
		if json.Unmarshal([]byte(line), &e) == nil && e.Change == "raised" {
			rang[e.Alarm+" "+e.Priority]++
		}
	}
	t.Logf("raised: %v", rang)
	delete(rang, "bad-link medium")
	delete(rang, "bad-link low")
	assert.Equal(t, want, rang)
}

// checkOutages compares the recording with what the bridge made. The last of all
// stands for the end.
func checkOutages(t *testing.T, dir string, all []outage) {
	files, err := filepath.Glob(filepath.Join(dir, "*"+link.Ext))
	require.NoError(t, err)
	require.Len(t, files, 1)
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	var dec decode.Decoder
	var s decode.Sample
	at, good, bad, k := int64(-1), 0, 0, 0
	var tail, early, queued, ours, noRoom int64
	// lose counts lines lost after outage k, while the port was open.
	lose := func(k int, n int64) {
		if k+1 < len(all) && all[k+1].dropped > all[k].dropped {
			noRoom += n
		} else {
			ours += n
		}
	}
	for line := range bytes.Lines(text) {
		if line[0] == '#' {
			continue
		}
		if dec.Decode(bytes.TrimSpace(line), &s) != nil {
			bad++
			continue
		}
		good++
		next := at + int64(s.Seq-uint16(at)) // no gap is longer than a turn of the counter
		switch {
		case next <= at+1:
		case k < len(all) && at < all[k].pulled && next >= all[k].in: // the outage itself
			o := &all[k]
			tail = max(tail, o.pulled-at-1)
			early += min(next, o.open) - o.in
			queued += max(0, o.open-next)
			lose(k, max(0, next-o.open))
			k++
		case k > 0 && next <= all[k-1].open: // sent while the port was there, but not open
			early += next - at - 1
		default:
			lose(max(k-1, 0), next-at-1)
		}
		at = next
	}
	all = all[:len(all)-1]
	assert.Equal(t, len(all), k, "each outage shows in the lines")
	assert.Zero(t, ours, "lines lost while the port was open")
	assert.LessOrEqual(t, bad, len(all), "at most the line that the plug cut through")
	t.Log(fmt.Sprintf("%d outages, %d good lines, %d bad; lost while the port was open: %d, and %d for want of room; ", len(all), good, bad, ours, noRoom) +
		fmt.Sprintf("sent before it was open again and lost: %d, and taken: %d; on the way when pulled: at most %d an outage", early, queued, tail))
}
