//go:build linux

package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// gonePipe is a pipe whose reader has gone away.
func gonePipe(t *testing.T) *os.File {
	out, in, err := os.Pipe()
	require.NoError(t, err)
	require.NoError(t, out.Close())
	t.Cleanup(func() { in.Close() })
	return in
}

// ends waits for the end of a command and returns its status.
func ends(t *testing.T, cmd *exec.Cmd) int {
	t.Helper()
	err := waitFor(cmd)
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		require.NoError(t, err)
	}
	return cmd.ProcessState.ExitCode()
}

// The reader of standard output goes away: that is said and recorded, the watch
// goes on, and its status is not that of a good end.
func TestOutputThatIsGoneIsNoEnd(t *testing.T) {
	dir := t.TempDir()
	p := startPlain(t, gonePipe(t), "--sound", "off", "--record", dir)
	p.until(t, "it is said", p.says("standard output is gone: EVENTS ARE NOT SEEN; the watch goes on")) // with the first event
	p.until(t, "it is recorded", func() bool {
		return linesOf(t, dir, "#note ") != ""
	})
	time.Sleep(time.Second)
	assert.False(t, p.says("ended")())
	require.NoError(t, p.cmd.Process.Signal(os.Interrupt))
	p.until(t, "the end is said", p.says("standard output was gone before the end"))
	assert.Equal(t, exitTrouble, ends(t, p.cmd))
	assert.Contains(t, linesOf(t, dir, "#note "), "standard output is gone")
	assert.NotEmpty(t, linesOf(t, dir, "#end "))
}

// Where standard error is gone too and nothing sounds, nobody would ever be told: it
// ends, and lets go of its port.
func TestNobodyLeftToBeToldIsAnEnd(t *testing.T) {
	p, err := openPseudo("")
	require.NoError(t, err)
	t.Cleanup(p.close) // after its writer has ended
	cmd := exec.Command("tetherbell", "watch", p.path, "--plain", "--sound", "off")
	cmd.Stdout, cmd.Stderr = gonePipe(t), gonePipe(t)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	streamTo(t, bridgeEnd{p.master, p}).set(true, 0.5)
	assert.Equal(t, exitTrouble, ends(t, cmd))
}

// A demonstration is over with its output, quietly.
func TestDemoEndsWithItsOutput(t *testing.T) {
	cmd := exec.Command("tetherbell", "demo", "--plain", "--sound", "off", "idle-slip")
	cmd.Stdout = gonePipe(t)
	began := time.Now()
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	assert.Equal(t, exitOK, ends(t, cmd))
	t.Logf("ended after %v", time.Since(began))
}

// Whoever pipes a verdict into head, or into grep -q, is told by the exit status all
// the same.
func TestCheckJudgesOnWithoutItsReader(t *testing.T) {
	dir := t.TempDir()
	record := func(scenario string) string {
		path := filepath.Join(dir, scenario+".bell")
		text, err := exec.Command("tetherbell", "simulate", "--fast", scenario).Output()
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path, text, 0o600))
		return path
	}
	loud, calm, none := record("idle-slip"), record("calm"), filepath.Join(dir, "none.bell")
	for _, tt := range []struct {
		status int
		files  []string
	}{{exitOK, []string{calm}}, {exitAlarm, []string{loud}}, {exitAlarm, []string{calm, loud}}, {exitTrouble, []string{loud, none}}} {
		for _, format := range [][]string{{"check"}, {"check", "--json"}} {
			cmd := exec.Command("tetherbell", append(format, tt.files...)...)
			cmd.Stdout = gonePipe(t)
			require.NoError(t, cmd.Start())
			assert.Equal(t, tt.status, ends(t, cmd), "%v %v", format, tt.files)
		}
	}
}
