//go:build linux

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"tetherbell/decode"
	"tetherbell/link"
)

// A recordedRun is a watch that is given a line each millisecond.
type recordedRun struct {
	t     *testing.T
	cmd   *exec.Cmd
	errs  safeBuffer
	lines []string
	sent  atomic.Int64 // of them
	stop  chan struct{}
	done  chan struct{}
}

func startRecorded(t *testing.T, dir string) *recordedRun {
	r := &recordedRun{t: t, stop: make(chan struct{}), done: make(chan struct{})}
	r.cmd = exec.Command("tetherbell", "watch", "-", "--record", dir, "--plain", "--sound", "off")
	r.cmd.Stderr = &r.errs
	in, err := r.cmd.StdinPipe()
	require.NoError(t, err)
	require.NoError(t, r.cmd.Start())
	// The bridge: ended by end, which waits for it.
	go func() {
		defer close(r.done)
		defer in.Close()
		var buf []byte
		begun := time.Now()
		for n := 0; ; n++ {
			select {
			case <-r.stop:
				return
			case <-time.After(time.Until(begun.Add(time.Duration(n) * time.Millisecond))):
			}
			s := decode.Sample{Tag: decode.Axes, Seq: uint16(n), Time: uint32(n) * 1000}
			for i := range 10 {
				s.Put(i, 0)
			}
			buf = decode.Append(buf[:0], &s)
			if _, err := in.Write(buf); err != nil {
				return
			}
			r.lines = append(r.lines, string(buf))
			r.sent.Add(1)
		}
	}()
	return r
}

func (r *recordedRun) until(text string) {
	r.t.Helper()
	if !waited(func() bool { return strings.Contains(r.errs.String(), text) }) {
		r.t.Fatalf("never said: %s\n%s", text, r.errs.String())
	}
}

func (r *recordedRun) end() {
	r.t.Helper()
	close(r.stop)
	<-r.done
	require.NoError(r.t, waitFor(r.cmd))
}

// wire gives what a recording holds of the bridge.
func wire(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Regexp(t, `\n#end \{.*\}\n$`, string(text[max(0, len(text)-8000):]))
	var b strings.Builder
	for line := range strings.Lines(string(text)) {
		if line[0] != '#' {
			b.WriteString(line)
		}
	}
	return b.String()
}

// A disk that gets full under the recording, and then has room again: the
// watch goes on, it is said both times, and no line is missing.
func TestRecordOnFullDisk(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := unix.Mount("none", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skipf("no disk can be mounted here: %v", err)
	}
	t.Cleanup(func() { _ = unix.Unmount(dir, unix.MNT_DETACH) })
	filler := filepath.Join(dir, "filler")
	require.NoError(t, os.WriteFile(filler, make([]byte, 900<<10), 0o600))
	r := startRecorded(t, dir)
	r.until("THE RECORDING IS NOT SAFE: write recording: no space left on device; the watch goes on")
	r.until("hint: make room on the disk of " + dir)
	time.Sleep(1500 * time.Millisecond)
	require.NoError(t, os.Remove(filler))
	r.until("the recording is safe again")
	r.until("; 0 lines are missing in it")
	r.end()
	files, err := filepath.Glob(filepath.Join(dir, "*"+link.Ext))
	require.NoError(t, err)
	require.Len(t, files, 1, "a full disk is no lost file")
	assert.Equal(t, strings.Join(r.lines, ""), wire(t, files[0]))
	assert.Equal(t, 1, strings.Count(r.errs.String(), "NOT SAFE"), r.errs.String())
}

// A disk that is full to the end: how much is missing is told while it lasts and at
// the end, by the status too, and whoever judges what was left knows that it breaks
// off.
func TestRecordDiskStaysFull(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := unix.Mount("none", dir, "tmpfs", 0, "size=100k"); err != nil {
		t.Skipf("no disk can be mounted here: %v", err)
	}
	t.Cleanup(func() { _ = unix.Unmount(dir, unix.MNT_DETACH) })
	r := startRecorded(t, dir)
	r.until("THE RECORDING IS NOT SAFE")
	time.Sleep(1500 * time.Millisecond)
	close(r.stop)
	<-r.done
	require.Error(t, waitFor(r.cmd))
	assert.Equal(t, exitTrouble, r.cmd.ProcessState.ExitCode())
	files, err := filepath.Glob(filepath.Join(dir, "*"+link.Ext))
	require.NoError(t, err)
	require.Len(t, files, 1)
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	kept := 0
	for line := range strings.Lines(string(text)) {
		if line[0] != '#' && strings.HasSuffix(line, "\n") {
			kept++
		}
	}
	told := regexp.MustCompile(`no space left on device; (\d+) lines are not in it`).FindStringSubmatch(r.errs.String())
	require.NotNil(t, told, r.errs.String())
	missing, _ := strconv.Atoi(told[1])
	ticks := len(r.lines)/20 + 20 // the host's clock, and the end
	assert.GreaterOrEqual(t, missing, len(r.lines)-kept)
	assert.LessOrEqual(t, missing, len(r.lines)-kept+ticks)
	out, err := exec.Command("tetherbell", "check", files[0]).CombinedOutput()
	require.NoError(t, err)
	assert.Contains(t, string(out), files[0]+": NOT FULLY WATCHED")
	assert.Contains(t, string(out), "THE RECORDING BREAKS OFF: what came then is not in it; nothing of medium or high priority")
}

// The folder is removed under the recording and comes back: a new file in it
// names the lost one and goes on.
func TestRecordWhenFolderIsRemoved(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "stick")
	r := startRecorded(t, dir)
	var lost []string
	soon(t, func() bool { lost, _ = filepath.Glob(filepath.Join(dir, "*"+link.Ext)); return len(lost) == 1 }, "a recording")
	holds(t, dir, "\naxes,", 500)
	time.Sleep(1500 * time.Millisecond)
	require.NoError(t, os.RemoveAll(dir))
	removed := r.sent.Load()
	r.until("THE RECORDING IS NOT SAFE: sync recording: the file was deleted; the watch goes on")
	time.Sleep(time.Second)
	require.NoDirExists(t, dir, "another disk may come back in its place")
	require.NoError(t, os.Mkdir(dir, 0o700))
	r.until("the recording's file was lost: it goes on in " + dir)
	r.until("the recording is safe again")
	r.end()
	files, err := filepath.Glob(filepath.Join(dir, "*"+link.Ext))
	require.NoError(t, err)
	require.Len(t, files, 1)
	rest := wire(t, files[0])
	assert.True(t, strings.HasSuffix(strings.Join(r.lines, ""), rest))
	// All but what was safe in the lost file before it was removed.
	assert.GreaterOrEqual(t, int64(strings.Count(rest, "\n")), int64(len(r.lines))-removed)
	head, err := readHead(files[0])
	require.NoError(t, err)
	assert.Equal(t, filepath.Base(lost[0]), head.Continues)
	assert.Positive(t, head.ContinuesAt)
}
