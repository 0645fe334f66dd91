//go:build linux

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/dashboard"
	"tetherbell/decode"
)

// floodedLines is a quarter each of settings of ever other names, hellos of
// ever other names with restarts among them, notes, and states that arm and
// lose the control link, which rings.
func floodedLines(t *testing.T, n int) string {
	t.Helper()
	var b []byte
	for i := range n {
		from := len(b)
		head := fmt.Sprintf("%d,%d", i&0xFFFF, uint32(i)*1000)
		switch i % 4 {
		case 0:
			b = fmt.Appendf(b, "set,%s,n%d,%d", head, i, i)
		case 1:
			b = fmt.Appendf(b, "hello,%s,1,bridge-%d,%d", head, i, i/400)
		case 2:
			b = fmt.Appendf(b, "note,%s,note number %d", head, i)
		default:
			b = fmt.Appendf(b, "state,%s,%d,0,1,0,0,0,0,%d", head, i/4000%2, i/40%2)
		}
		b = decode.AppendChecksum(b, from)
	}
	path := filepath.Join(t.TempDir(), "flood.bell")
	require.NoError(t, os.WriteFile(path, b, 0o600))
	return path
}

// TestFloodIsBounded: what a bridge makes up (names of settings, its own name,
// notes, restarts, alarms) takes no memory that grows with it: ten times as
// much of it, and the commands that read recordings stay as small.
func TestFloodIsBounded(t *testing.T) {
	few, many := floodedLines(t, 60_000), floodedLines(t, 600_000)
	dir := t.TempDir()
	for _, args := range [][]string{
		{"check"}, {"check", "--json"}, {"sessions"},
		{"report", "--force", "-o", filepath.Join(dir, "page.html")},
		{"export", "--force", "-o", filepath.Join(dir, "tables")},
	} {
		last := func(path string) []string {
			if args[0] == "sessions" { // a folder
				path = filepath.Dir(path)
			}
			return append(slices.Clone(args), path)
		}
		small, large := peakOf(t, last(few)), peakOf(t, last(many))
		for range 2 { // how much waits for whom is up to the scheduler, and what grows does so each time
			if large >= small+12<<10 {
				large = min(large, peakOf(t, last(many)))
			}
		}
		assert.Less(t, large, small+12<<10, "KiB of %v, against %d", args, small)
	}
	page, err := os.Stat(filepath.Join(dir, "page.html"))
	require.NoError(t, err)
	assert.Less(t, page.Size(), int64(2<<20))
}

// peakProgram runs the program and prints the most memory that it had, in KiB. The
// system counts for a process what its parent held when it was started (seen on
// Linux): so the parent must be small, and the tests are not.
const peakProgram = "tetherbell-peak"

func init() {
	programs[peakProgram] = func() {
		cmd := exec.Command("tetherbell", os.Args[1:]...)
		cmd.Stderr = os.Stderr
		_ = cmd.Run()
		if use, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
			fmt.Println(use.Maxrss)
		}
		os.Exit(cmd.ProcessState.ExitCode())
	}
}

// peakOf runs a command and returns the most memory it had, in KiB.
func peakOf(t *testing.T, args []string) (kib int64) {
	t.Helper()
	cmd := exec.Command(peakProgram, args...)
	cmd.Env = append(os.Environ(), "HOME="+t.TempDir())
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	_ = cmd.Run()
	// Alarms were raised, which is status 1; 2 would be a wrong use.
	require.Less(t, cmd.ProcessState.ExitCode(), 2, "%v: %.200s", args, errs.String())
	_, err := fmt.Sscan(out.String(), &kib)
	require.NoError(t, err)
	return kib
}

// TestPeakIsTheProgramsOwn: whatever the tests hold meanwhile.
func TestPeakIsTheProgramsOwn(t *testing.T) {
	few := floodedLines(t, 6000)
	before := peakOf(t, []string{"check", few})
	much := bytes.Repeat([]byte{1}, 200<<20)
	assert.Less(t, peakOf(t, []string{"check", few}), before+50<<10)
	assert.Len(t, much, 200<<20)
}

// TestSmallFilesAreBounded: a craft, card, scenario or settings file with one
// line more than it may have is refused with a hint, whatever the line says.
func TestSmallFilesAreBounded(t *testing.T) {
	for _, c := range []struct {
		args  []string
		text  string
		bound int
	}{
		{[]string{"craft"}, "name = \"x\"\n", 64 << 10},
		{[]string{"card"}, "name = \"x\"\ntitle = \"x\"\n[[step]]\nid = \"a\"\nkind = \"person\"\nsay = \"x\"\nif_failed = \"x\"\n", 9 << 10},
		{[]string{"simulate", "--fast"}, "name = \"x\"\n", 256 << 10},
		{[]string{"settings"}, "a = 1\n", 1 << 20},
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, "small.toml")
		text := c.text + strings.Repeat("# so it goes\n", c.bound/13+1)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		args := append(slices.Clone(c.args), path)
		if c.args[0] == "settings" {
			args = append(args, path)
		}
		out, errs := runHostile(t, dir, path, args)
		assert.Empty(t, out, "%v", c.args)
		assert.Contains(t, string(errs), "hint: ", "%v", c.args)
		assert.Regexp(t, "large|long|big|more than|bytes|KiB|MiB|KB|MB", string(errs), "%v", c.args)
	}
}

// TestJournalIsBounded: a hundred thousand entries, and the newest are there.
func TestJournalIsBounded(t *testing.T) {
	var a audience
	for i := range 100_000 {
		a.note(dashboard.Entry{T: int64(i)})
		require.LessOrEqual(t, len(a.journal), 2*keepEntries)
	}
	assert.GreaterOrEqual(t, len(a.journal), keepEntries)
	assert.LessOrEqual(t, cap(a.journal), 8*keepEntries)
	assert.EqualValues(t, 99_999, a.journal[len(a.journal)-1].T)
}

// A scenario may have a thousand events.
func TestEventsAreBounded(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "many.toml")
	text := "name = \"x\"\nseconds = 5\nlesson = \"x\"\n" + strings.Repeat("[[event]]\nat = 1\ndo = \"note\"\ntext = \"x\"\n", 1001)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	_, errs := runHostile(t, dir, path, []string{"simulate", "--fast", path})
	assert.Contains(t, string(errs), "over 1000 of them")
}
