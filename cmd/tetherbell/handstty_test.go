//go:build linux || darwin

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"

	"tetherbell/decode"
	"tetherbell/link"
)

// atTerminal starts tetherbell on a terminal of 80 by 24 of its own.
func atTerminal(t *testing.T, args ...string) (cmd *exec.Cmd, tty, slave *os.File, seen *output80) {
	t.Helper()
	tty, slave, err := pty.Open()
	require.NoError(t, err)
	t.Cleanup(func() { slave.Close(); tty.Close() })
	require.NoError(t, pty.Setsize(tty, &pty.Winsize{Rows: 24, Cols: 80}))
	cmd = exec.Command("tetherbell", args...)
	cmd.Env = append(os.Environ(), "TERM=xterm-256color", "LANG=C.UTF-8", "LC_ALL=C.UTF-8")
	cmd.Stdin, cmd.Stdout, cmd.Stderr = slave, slave, slave
	cmd.SysProcAttr = controlling()
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	seen = &output80{}
	go seen.collect(tty)
	return cmd, tty, slave, seen
}

// A heardBench is what the newest lines of a port say.
type heardBench struct {
	us      uint32
	state   [8]float64
	highest float64 // motor output of the newest line
	liftN   float64
	stilled uint32 // when the outputs last fell to nought
}

// An ear listens to a port.
type ear struct {
	mu sync.Mutex
	heardBench
}

// hear reads a port until it is gone.
func (h *ear) hear(port *link.Port) {
	var cut link.Splitter
	var dec decode.Decoder
	var s decode.Sample
	line := func(l []byte) {
		if dec.Decode(l, &s) != nil {
			return
		}
		h.mu.Lock()
		defer h.mu.Unlock()
		h.us = s.Time
		switch s.Tag {
		case decode.State:
			copy(h.state[:], s.Num[:])
		case decode.Load:
			h.liftN = s.Num[decode.LoadN]
		case decode.Out:
			most := slices.Max(s.Num[:4])
			if most == 0 && h.highest > 0 {
				h.stilled = s.Time
			}
			h.highest = most
		}
	}
	buf := make([]byte, 4096)
	for {
		n, err := port.Read(buf)
		cut.Feed(buf[:n], line)
		if err != nil {
			return
		}
	}
}

func (h *ear) now() heardBench {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.heardBench
}

// pass lets time of the bench pass, which stands still when the machine does.
func (h *ear) pass(t *testing.T, d time.Duration) {
	t.Helper()
	end := h.now().us + uint32(d.Microseconds())
	h.until(t, "time passes", func(b heardBench) bool { return b.us >= end })
}

func (h *ear) until(t *testing.T, what string, ok func(b heardBench) bool) {
	t.Helper()
	soon(t, func() bool { return ok(h.now()) }, what)
}

// Keys in one terminal, the lines in another: arm, throttle up, a nudge, stop.
// From the last line heard before the key to the first with all outputs at
// nought the craft's clock moves by under 0.2 s, in the median of three.
func TestSimulateByHand(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench")
	cmd, tty, slave, seen := atTerminal(t, "simulate", "--hands", "--pty="+path, "--set", "craft.mass_g=900", "calm")
	press := func(keys string) { _, err := tty.WriteString(keys); require.NoError(t, err) }
	soon(t, func() bool { return seen.has("Space: STOP") }, "a line of the hand")
	assert.True(t, seen.has("arm, disarm"), "the keys are told")
	port, err := link.OpenPort(path, link.DefaultBaud)
	require.NoError(t, err)
	defer port.Close()
	var h ear
	go h.hear(port)

	var took []int
	for range 3 {
		press("r")
		h.until(t, "armed", func(b heardBench) bool { return b.state[decode.Armed] == 1 && b.highest > 0.05 })
		assert.Less(t, h.now().highest, 0.1, "armed idle")
		for range 14 {
			press("\x1b[A")
			h.pass(t, 100*time.Millisecond)
		}
		h.until(t, "throttle", func(b heardBench) bool { return b.state[decode.StickThrottle] > 0.15 && b.highest > 0.25 })
		h.until(t, "lift", func(b heardBench) bool { return b.liftN > 1 })
		press("\x1b[C")
		h.until(t, "roll", func(b heardBench) bool { return b.state[decode.StickRoll] == nudge })
		h.until(t, "roll back", func(b heardBench) bool { return b.state[decode.StickRoll] == 0 })

		before := h.now()
		press(" ")
		h.until(t, "stopped", func(b heardBench) bool {
			return b.state[decode.Stopped] == 1 && b.highest == 0 && b.stilled > before.us
		})
		took = append(took, int(h.now().stilled-before.us))
		h.pass(t, 300*time.Millisecond)
		press("   ")
		h.pass(t, 200*time.Millisecond)
		assert.Zero(t, h.now().highest, "hammered at")
		press("r")
		h.until(t, "disarmed", func(b heardBench) bool { return b.state[decode.Armed] == 0 })
		h.pass(t, 800*time.Millisecond)
		press(" ")
		h.until(t, "let go", func(b heardBench) bool { return b.state[decode.Stopped] == 0 })
		h.pass(t, 800*time.Millisecond)
	}
	slices.Sort(took)
	t.Logf("us from key to outputs at nought: %v", took)
	assert.Less(t, took[1], 200_000)
	press("q")
	require.NoError(t, waitFor(cmd), seen.tail())
	state, err := term.GetState(int(slave.Fd()))
	require.NoError(t, err)
	fresh, other, err := pty.Open()
	require.NoError(t, err)
	defer fresh.Close()
	defer other.Close()
	want, err := term.GetState(int(other.Fd()))
	require.NoError(t, err)
	assert.Equal(t, want, state, "the terminal is given back")
}

// The whole tool with a trainee: the screen has the sticks, the keys reach
// the craft, and the recording holds what the lines show and no act of ours.
func TestDemoByHand(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cmd, tty, _, seen := atTerminal(t, "demo", "--hands", "--sound", "off", "--record", dir, "calm")
	sees := func(text string) {
		t.Helper()
		soon(t, func() bool { return seen.has(text) }, text)
	}
	press := func(keys string) {
		_, err := tty.WriteString(keys)
		require.NoError(t, err)
		time.Sleep(150 * time.Millisecond)
	}
	sees("Space STOP")
	press("r") // closes the page of cautions, and does no more
	sees("throttle 0.00")
	assert.False(t, seen.has("ARMED 0:0"))
	press("r")
	sees("ARMED 0:0")
	for range 5 {
		press("\x1b[A")
	}
	press(" ")
	sees("STOP PRESSED")
	press("r")
	require.NoError(t, leave(tty, cmd), seen.tail())
	files, _ := filepath.Glob(filepath.Join(dir, "*.bell"))
	require.Len(t, files, 1)
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	var dec decode.Decoder
	var s decode.Sample
	var stick float64
	stopped := false
	for line := range bytes.Lines(text) {
		if dec.Decode(bytes.TrimSpace(line), &s) == nil && s.Tag == decode.State {
			stick = max(stick, s.Num[decode.StickThrottle])
			stopped = stopped || s.Num[decode.Stopped] == 1
		}
	}
	assert.Positive(t, stick)
	assert.True(t, stopped)
	assert.False(t, strings.Contains(string(text), "#mark"))
}
