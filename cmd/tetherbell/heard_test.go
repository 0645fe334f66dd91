//go:build linux

package main

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A listener keeps what was played into a sound server whose output leads
// nowhere.
type listener struct {
	mu  sync.Mutex
	got []int16
}

// listen starts the server and lets the programs of this test play into it.
func listen(t *testing.T) *listener {
	sink := startNullSink(t)
	if sink == nil {
		t.Skip("no sound server is installed: nothing was listened to")
	}
	for _, pair := range sink.env() {
		if name, value, _ := strings.Cut(pair, "="); name != "HOME" {
			t.Setenv(name, value)
		}
	}
	e := &listener{}
	sink.record(t, func(samples []int16, _ time.Time) {
		e.mu.Lock()
		defer e.mu.Unlock()
		e.got = append(e.got, samples...)
	})
	return e
}

// A noise is a stretch that is no silence.
type noise struct {
	at, length time.Duration // of what was recorded
	top        int
}

// noises finds what was heard, parted by 40 ms of silence.
func (e *listener) noises() []noise {
	e.mu.Lock()
	defer e.mu.Unlock()
	moment := func(n int) time.Duration { return time.Duration(n) * time.Second / 48000 }
	var out []noise
	for i, s := range e.got {
		v := max(int(s), -int(s))
		if v < 20 {
			continue
		}
		n := len(out)
		if n == 0 || moment(i)-out[n-1].at-out[n-1].length > 40*time.Millisecond {
			out = append(out, noise{at: moment(i)})
			n++
		}
		out[n-1].length = moment(i) - out[n-1].at
		out[n-1].top = max(out[n-1].top, v)
	}
	return out
}

// Kinds of noise by their level: an alarm's peak is 0.7 of the full scale, a
// chime lies 10 dB under it, a life sign 15 dB; the two may sound together.
func (n noise) life() bool  { return n.top > 3500 && n.top < 4500 && n.length > 50*time.Millisecond }
func (n noise) chime() bool { return n.top > 5500 && n.top < 12000 && n.length > 50*time.Millisecond }
func (n noise) tick() bool  { return n.top > 1000 && n.length < 40*time.Millisecond }
func (n noise) alarm() bool { return n.top > 18000 }

// TestStartIsHeardAndLifeEnds: a watch tries its sound at the start, gives
// signs of life while lines come, and none once they have stopped.
func TestStartIsHeardAndLifeEnds(t *testing.T) {
	if testing.Short() {
		t.Skip("takes 10 s")
	}
	e := listen(t)
	m := startMonitor(t, "watch", "-", "--plain", "--life", "1")
	bench := exec.Command("tetherbell", "simulate", "calm")
	bench.Stdout = m.in
	require.NoError(t, bench.Start())
	m.until(&m.err, "sound: audio: PulseAudio server", 0)
	kinds := func(is func(noise) bool) (n int) {
		for _, one := range e.noises() {
			if is(one) {
				n++
			}
		}
		return n
	}
	soon(t, func() bool { return kinds(noise.chime) > 0 && kinds(noise.life) > 3 }, "a chime, and signs of life")
	require.NoError(t, bench.Process.Kill())
	bench.Wait()
	e.mu.Lock()
	stopped := time.Duration(len(e.got)) * time.Second / 48000
	e.mu.Unlock()
	time.Sleep(3 * time.Second)
	require.NoError(t, m.in.Close())
	_ = m.ended()
	all := e.noises()
	require.NotEmpty(t, all)
	chimes, lives := 0, 0
	for _, n := range all {
		switch {
		case n.life():
			lives++
			assert.Less(t, n.at, stopped+1500*time.Millisecond, "a life sign within a period after the lines stopped, none later")
		case n.chime():
			chimes++
			assert.Less(t, n.at, stopped, "at the start, and not again")
		}
	}
	t.Logf("%v", all)
	assert.Positive(t, chimes, "the chime of the start")
	assert.GreaterOrEqual(t, lives, 3)
}

// TestLevelRepeatsTheHighPattern: two bursts of ten pulses, heard as groups of
// three and two and three and two.
func TestLevelRepeatsTheHighPattern(t *testing.T) {
	if testing.Short() {
		t.Skip("takes 12 s")
	}
	e := listen(t)
	out, err := exec.Command("tetherbell", "sound", "--level", "--times", "2").Output()
	require.NoError(t, err)
	for _, want := range []string{"Nobody in danger", "your own amplifier", "15 dB", "A-weighted", "Hearing protection", "audio: PulseAudio server", "bursts played: 2"} {
		assert.Contains(t, string(out), want)
	}
	var starts []time.Duration
	for _, n := range e.noises() {
		if n.alarm() {
			starts = append(starts, n.at)
		}
	}
	// A busy machine may tear a group in two: there are eight at least, and the
	// second burst comes when it should.
	require.GreaterOrEqual(t, len(starts), 8, "%v", starts)
	assert.True(t, slices.ContainsFunc(starts, func(at time.Duration) bool {
		return math.Abs((at-starts[0]).Seconds()-4.5) < 0.5
	}), "%v", starts)
}

// TestReplayTicksWhileItMoves: a replay of a shaking craft ticks, is silent
// where it stands still or the person turned the tick off, and ticks again.
func TestReplayTicksWhileItMoves(t *testing.T) {
	if testing.Short() {
		t.Skip("takes 16 s")
	}
	e := listen(t)
	path := filepath.Join(t.TempDir(), "shake.bell")
	lines, err := exec.Command("tetherbell", "simulate", "--fast", "gains-high").Output()
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, lines, 0o600))
	cmd, tty, seen := onTerminal(t, "replay", path)
	sees := func(text string) {
		t.Helper()
		soon(t, func() bool { return seen.has(text) }, text)
	}
	press := func(keys string) {
		_, err := tty.WriteString(keys)
		require.NoError(t, err)
		time.Sleep(800 * time.Millisecond) // also for what is on its way
	}
	heard := func() time.Duration {
		e.mu.Lock()
		defer e.mu.Unlock()
		return time.Duration(len(e.got)) * time.Second / 48000
	}
	since := func(from time.Duration) (n int) {
		for _, s := range e.noises() {
			if s.at >= from && s.tick() {
				n++
			}
		}
		return n
	}
	// silent is how many ticks there were in a second: what was on its way a little
	// longer, on a busy machine, is not there in the next one.
	silent := func() (n int) {
		for range 3 {
			from := heard()
			time.Sleep(time.Second)
			if n = since(from); n == 0 {
				break
			}
		}
		return n
	}
	sees("tick") // the screen writes word by word
	soon(t, func() bool { return since(heard()-time.Second) >= 2 }, "it shakes by a tenth of its limit")
	press(" ")
	standing := silent()
	press("t ")
	off := silent()
	from := heard()
	press("t")
	soon(t, func() bool { return since(from) > 0 }, "ticks again")
	require.NoError(t, leave(tty, cmd), seen.tail())
	assert.Zero(t, standing, "ticks while it stands still")
	assert.Zero(t, off, "ticks while they are off")
}
