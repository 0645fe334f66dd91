//go:build linux

package main

import (
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A machine that lets the program stand still for a while is no silent line:
// what came meanwhile waits in the port, and is heard before the clock is
// looked at.
func TestStandstillIsNoSilence(t *testing.T) {
	t.Parallel()
	for range 3 {
		if stoodStillFor(t, 450*time.Millisecond) { // half as long again as rings
			return
		}
	}
	t.Log("the machine was too busy, three times: what rang is not judged")
}

// stoodStillFor stops a watch five times for so long while its bridge sends on. It
// reports whether the bridge did so: one that we ourselves held up was silent.
func stoodStillFor(t *testing.T, d time.Duration) bool {
	p, err := openPseudo("")
	require.NoError(t, err)
	t.Cleanup(p.close) // after its writer has ended
	m := startMonitor(t, "watch", p.path, "--json", "--sound", "off")
	m.until(&m.err, "watching ", 0)
	g := &pulledPlug{p: p, open: true}
	s := streamTo(t, g)
	s.mu.Lock()
	s.armed = true
	s.mu.Unlock()
	time.Sleep(time.Second)
	for range 5 {
		require.NoError(t, m.cmd.Process.Signal(syscall.SIGSTOP))
		time.Sleep(d)
		require.NoError(t, m.cmd.Process.Signal(syscall.SIGCONT))
		time.Sleep(700 * time.Millisecond)
	}
	out := m.stop()
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.silent > 0 {
		return false
	}
	assert.NotContains(t, out, `"alarm":"stale-link","change":"raised"`)
	if g.dropped == 0 { // else it stood longer than a port can keep
		assert.Contains(t, out, `"lost":0`)
	}
	return true
}
