//go:build linux || darwin

package main

import (
	"context"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/simulator"
)

// An outlet is a pseudo-terminal under a name, whose cable can be pulled while its
// sender goes on: what is sent meanwhile is lost, and what no reader takes for
// outletPatience, so that a sender never outlives its test.
type outlet struct {
	t    *testing.T
	name string
	mu   sync.Mutex
	p    *pseudo // nil: it is pulled
}

const (
	outletPatience = 5 * time.Second
	// ptyRoom is how much a pseudo-terminal holds for a reader, less a piece:
	// beyond it a write would wait (4095 bytes, seen on Linux).
	ptyRoom = 3800
)

func newOutlet(t *testing.T, name string) *outlet {
	t.Helper()
	o := &outlet{t: t, name: name}
	o.plug()
	t.Cleanup(func() {
		if o.p != nil {
			o.p.close()
		}
	})
	return o
}

func (o *outlet) plug() {
	o.t.Helper()
	p, err := openPseudo(o.name)
	require.NoError(o.t, err)
	o.mu.Lock()
	defer o.mu.Unlock()
	o.p = p
}

func (o *outlet) pull() {
	o.mu.Lock()
	p := o.p
	o.p = nil
	o.mu.Unlock() // closing may take a while, and the other cable goes on
	p.close()
	_ = os.Remove(o.name) // it may have gone with it
}

func (o *outlet) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.p == nil {
		return len(p), nil
	}
	for end := time.Now().Add(outletPatience); o.p.unread() > ptyRoom; time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			return len(p), nil
		}
	}
	return o.p.master.Write(p)
}

// told is the first line of JSON from a place on that has all words, and how long
// after a moment it came, as far as a reader of every few milliseconds can tell.
func (m *monitor) told(since time.Time, from int, words ...string) (e struct {
	T        float64
	Priority string
	Text     string
}, took time.Duration, at int) {
	m.t.Helper()
	for at = from; ; at++ {
		at = m.until(&m.out, words[0], at)
		m.mu.Lock()
		line := m.out[at]
		m.mu.Unlock()
		if slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(line, w) }) {
			continue
		}
		require.NoError(m.t, json.Unmarshal([]byte(line), &e))
		return e, time.Since(since), at
	}
}

// said is how many lines have been told so far.
func (m *monitor) said() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return len(m.out)
}

// One of two cables is pulled, and then the other: each is named within the time of
// a silence, what the other tells goes on being judged, and each that comes back is
// named, and its alarm ends.
func TestOneCableOfTwoIsPulled(t *testing.T) {
	t.Parallel()
	sc, err := simulator.Load("gains-high")
	require.NoError(t, err)
	sc.Seconds = 60
	sc.Events = []simulator.Event{{At: 1, Do: "arm"}, {At: 4.5, Do: "throttle", To: 0.28, Over: 4}}
	dir := t.TempDir()
	a, b := newOutlet(t, filepath.Join(dir, "nose")), newOutlet(t, filepath.Join(dir, "stand"))
	d := &divider{lineSource: simulator.New(sc, 1), first: a, second: b, ahead: standAhead, ppm: 70}
	d.tags, err = dividedTags("load,temp,pack")
	require.NoError(t, err)
	m := startMonitor(t, "watch", a.name, b.name, "--json", "--sound", "off")
	m.until(&m.err, "watching", 0)
	ctx, end := context.WithCancel(context.Background())
	sent := make(chan error, 1)
	go func() { sent <- pump(ctx, d, d, false) }()
	defer func() {
		end()
		wholeSent(t, sent)
	}()
	beat := startMetronome(t)
	time.Sleep(3500 * time.Millisecond) // armed, and every stream has a pace

	const within = 2 * time.Second // the silence of 0.33 s, and a busy machine; the engine's own tests are exact
	since, from := time.Now(), m.said()
	b.pull()
	e, took, _ := m.told(since, from, `"alarm":"stale-link"`, "no good line from "+b.name)
	assert.Equal(t, "medium", e.Priority)
	assert.Less(t, took-beat.held(since), within)
	t.Log("stand named after", took)
	osc, _, _ := m.told(since, from, `"rising-oscillation","change":"raised"`)
	assert.Greater(t, osc.T, e.T, "the other bridge goes on being judged")

	from = m.said()
	b.plug()
	m.until(&m.err, "port "+b.name+" is back", 0)
	m.told(since, from, `"stale-link","change":"cleared"`)
	time.Sleep(time.Second)

	since, from = time.Now(), m.said()
	a.pull()
	e, took, _ = m.told(since, from, `"alarm":"stale-link"`, "no good line from "+a.name)
	assert.Equal(t, "high", e.Priority, "the craft's own")
	assert.Less(t, took-beat.held(since), within)
	t.Log("nose named after", took)
	from = m.said()
	a.plug()
	m.until(&m.err, "port "+a.name+" is back", 0)
	m.told(since, from, `"stale-link","change":"cleared"`)
	assert.False(t, m.has(&m.out, "restarted", 0), "a cable that was pulled is no restart")
	m.stop()
}

// The day of two bridges whose cables both spoil lines: check, replay, and a
// compressed copy say the same again to the byte, what ails each line is told with
// its name, and account and comparison keep the two apart.
func TestTwoSpoiltBridgesReplayAsTheDay(t *testing.T) {
	t.Parallel()
	start := make(chan struct{})
	a, b, sent := twoPorts(t, hardDay, func(d *divider) error {
		d.first, d.second = &lossy{w: d.first, each: 1511}, &lossy{w: d.second, each: 397}
		<-start
		return pump(context.Background(), d, d, false)
	})
	dir := t.TempDir()
	m := startMonitor(t, "watch", a.path, b.path, "--json", "--sound", "off", "--record", dir)
	m.until(&m.err, "recording to", 0)
	close(start)
	wholeSent(t, sent)
	a.drain()
	b.drain()
	time.Sleep(100 * time.Millisecond)
	live := m.stop()
	files, err := filepath.Glob(filepath.Join(dir, "*.bell"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	check := output(t, 1, "check", "--json", files[0])
	assert.Equal(t, nameless(live), nameless(check), "live and check")
	replay := output(t, 0, "replay", "--json", "--sound", "off", "--speed", "20", files[0])
	assert.Equal(t, nameless(check), nameless(replay), "check and replay")

	plain := output(t, 1, "check", files[0])
	for _, p := range []string{a.path, b.path} {
		assert.Regexp(t, `(?m)^  line: `+p+`: flipped bits`, plain)
		assert.Regexp(t, `(?m)^  `+p+`: \d+ good lines, [1-9]\d* bad`, plain)
	}
	played := output(t, 0, "replay", "--plain", "--sound", "off", "--speed", "20", files[0])
	sights := regexp.MustCompile(`(?m)^  line: .*$`)
	assert.Equal(t, sights.FindAllString(plain, -1), sights.FindAllString(played, -1))

	copied := filepath.Join(t.TempDir(), "copy.bell")
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(copied, text, 0o600))
	output(t, 0, "sessions", "--compress", filepath.Dir(copied))
	squeezed := output(t, 1, "check", "--json", copied+".zst")
	assert.Equal(t, nameless(check), nameless(squeezed), "compressed")
	con := &console{out: io.Discard, err: io.Discard}
	then, err := accountOf(t.Context(), con, files[0], nil, false, nil)
	require.NoError(t, err)
	again, err := accountOf(t.Context(), con, files[0], nil, true, nil)
	require.NoError(t, err)
	assert.Equal(t, judgedThen, then.Session.Judged)
	then.Session.Judged = again.Session.Judged
	one, err := json.Marshal(then)
	require.NoError(t, err)
	other, err := json.Marshal(again)
	require.NoError(t, err)
	assert.JSONEq(t, string(other), string(one), "the account of the day, and the one judged again")
	output(t, 0, "report", files[0], "-o", filepath.Join(t.TempDir(), "page.html"))
	tables, same := t.TempDir(), t.TempDir()
	output(t, 0, "export", files[0], "-o", tables)
	output(t, 0, "export", copied+".zst", "-o", same)
	for _, name := range []string{"axes.csv", "load.csv"} {
		one, err := os.ReadFile(filepath.Join(tables, name))
		require.NoError(t, err)
		other, err := os.ReadFile(filepath.Join(same, name))
		require.NoError(t, err)
		assert.NotEmpty(t, one)
		assert.Equal(t, string(one), string(other))
	}
}

// A port that is open and silent from the start: it is named as such, rings once
// the craft is armed, and the verdict says that it was not watched.
func TestOneOfTwoBridgesIsNeverHeard(t *testing.T) {
	t.Parallel()
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	dir := t.TempDir()
	a, b := newOutlet(t, filepath.Join(dir, "nose")), newOutlet(t, filepath.Join(dir, "stand"))
	m := startMonitor(t, "watch", a.name, b.name, "--plain", "--sound", "off", "--record", dir)
	m.until(&m.err, "watching", 0)
	ctx, end := context.WithCancel(context.Background())
	sent := make(chan error, 1)
	go func() { sent <- pump(ctx, simulator.New(sc, 1), a, false) }()
	m.until(&m.err, "nothing heard from "+b.name, 0)
	m.until(&m.out, "nothing was ever heard from "+b.name, 0)
	time.Sleep(time.Second)
	end()
	wholeSent(t, sent)
	out := m.stop()
	assert.Regexp(t, `MEDIUM +stale-link`, out)
	assert.Contains(t, out, "NOT FULLY WATCHED: ")
	assert.Contains(t, out, "not watched: "+b.name+" (nothing was ever heard from this bridge")
	assert.Contains(t, out, b.name+": nothing was heard")
	files, err := filepath.Glob(filepath.Join(dir, "*.bell"))
	require.NoError(t, err)
	check, err := exec.Command("tetherbell", "check", files[0]).CombinedOutput()
	require.Error(t, err, "something rang")
	assert.Contains(t, string(check), "not watched: "+b.name)
}
