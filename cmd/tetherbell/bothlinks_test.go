//go:build linux || darwin

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// However a simulation of two bridges ends, no link is left behind: it would lead
// to whoever is given the pseudo-terminal next.
func TestBothLinksGo(t *testing.T) {
	t.Parallel()
	for name, by := range map[string]os.Signal{"INT": syscall.SIGINT, "TERM": syscall.SIGTERM, "HUP": syscall.SIGHUP, "own end": nil} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
			of := "calm"
			if by == nil { // half a second of lines
				of = filepath.Join(t.TempDir(), "short.bell")
				text := "#session {}\n" + output(t, 0, "simulate", "--fast", "calm")[:20000]
				require.NoError(t, os.WriteFile(of, []byte(text), 0o600))
			}
			sim := exec.Command("tetherbell", "simulate", "--pty="+a, "--pty2="+b, of)
			require.NoError(t, sim.Start())
			t.Cleanup(func() { _ = sim.Process.Kill(); _ = sim.Wait() })
			if by != nil { // one that ends by itself may be gone before we look
				soon(t, func() bool { _, err := os.Lstat(b); return err == nil }, "links")
				require.NoError(t, sim.Process.Signal(by))
			}
			_ = waitFor(sim)
			left, err := os.ReadDir(dir)
			require.NoError(t, err)
			assert.Empty(t, left)
		})
	}
}

// A second monitor on a port is told why it gets nothing.
func TestSecondMonitorIsTold(t *testing.T) {
	t.Parallel()
	p, err := openPseudo("")
	require.NoError(t, err)
	defer p.close()
	m := startMonitor(t, "watch", p.path, "--plain", "--sound", "off")
	m.until(&m.err, "watching "+p.path, 0)
	text, err := exec.Command("tetherbell", "watch", p.path, "--plain", "--sound", "off").CombinedOutput()
	assert.Error(t, err)
	assert.Contains(t, string(text), "tetherbell: open port "+p.path+": port is in use by another program")
	assert.Contains(t, string(text), "hint: ")
	m.stop()
}
