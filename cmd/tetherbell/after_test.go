//go:build linux || darwin

package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"tetherbell/decode/craft"
)

// onTerminal starts tetherbell with a screen of 80 by 24.
func onTerminal(t *testing.T, args ...string) (*exec.Cmd, *os.File, *output80) {
	t.Helper()
	tty, slave, err := pty.Open()
	require.NoError(t, err)
	t.Cleanup(func() { tty.Close(); slave.Close() })
	require.NoError(t, pty.Setsize(tty, &pty.Winsize{Rows: 24, Cols: 80}))
	cmd := exec.Command("tetherbell", args...)
	cmd.Env = append(os.Environ(), "TERM=xterm-256color", "LANG=C.UTF-8", "LC_ALL=C.UTF-8")
	cmd.Stdin, cmd.Stdout, cmd.Stderr = slave, slave, slave
	cmd.SysProcAttr = controlling()
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	seen := new(output80)
	go seen.collect(tty)
	return cmd, tty, seen
}

// afterScreen is what stands on the terminal once the screen has closed.
func (o *output80) afterScreen(t *testing.T, text string) string {
	t.Helper()
	var rest string
	soon(t, func() bool {
		o.mu.Lock()
		defer o.mu.Unlock()
		_, rest, _ = strings.Cut(o.all.String(), "\x1b[?1049l")
		return strings.Contains(rest, text)
	}, text, " after the screen")
	return rest
}

// Once the screen has closed, the verdict and the recording's name stay on the
// terminal.
func TestVerdictAfterScreen(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cmd, _, seen := onTerminal(t, "demo", "--sound", "off", "--record", dir, "calm")
	soon(t, func() bool { return seen.has("Marsh") }, "a screen")
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	require.NoError(t, waitFor(cmd), "%s", seen.tail())
	rest := seen.afterScreen(t, "recorded: ")
	files, _ := filepath.Glob(filepath.Join(dir, "*.bell"))
	require.Len(t, files, 1)
	assert.Contains(t, rest, files[0]+": ")
	assert.Contains(t, strings.Join(strings.Fields(rest), " "), "nothing of medium or high priority", "it is folded to the terminal")
	assert.Contains(t, rest, "recorded: "+files[0]+"\r\n")
	assert.Contains(t, strings.Join(strings.Fields(rest), " "), "a page of it: tetherbell report "+files[0])
}

func TestReplayVerdictAfterScreen(t *testing.T) {
	t.Parallel()
	path := slipRecording(t)
	cmd, _, seen := onTerminal(t, "replay", "--sound", "off", path)
	// Its length is known once the look ahead has been through.
	soon(t, func() bool { return seen.has("Marsh") && seen.has("0:13") }, "a screen")
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	require.NoError(t, waitFor(cmd), "%s", seen.tail())
	rest := seen.afterScreen(t, "WERE SEEN")
	assert.Contains(t, rest, path+": ")
	assert.Regexp(t, `: ONLY ITS FIRST [0-9.]+ s OF 14\.0 s WERE SEEN: `, strings.Join(strings.Fields(rest), " "))
}

// TestCheckFoldsToItsTerminal: what check tells is read there too.
func TestCheckFoldsToItsTerminal(t *testing.T) {
	t.Parallel()
	path := slipRecording(t)
	cmd, _, seen := onTerminal(t, "check", path)
	assert.Error(t, waitFor(cmd), "it rang")
	soon(t, func() bool { return seen.has("good lines") }, "good lines")
	seen.mu.Lock()
	defer seen.mu.Unlock()
	text := strings.ReplaceAll(seen.all.String(), "\r\n", "\n")
	for _, line := range strings.Split(text, "\n") {
		assert.True(t, len([]rune(line)) <= 80 || !strings.Contains(strings.TrimSpace(line), " "), "wider than the terminal: %q", line)
	}
	assert.Contains(t, strings.Join(strings.Fields(text), " "), "first action: ")
}

// A line that is silent, on the screen: the next step stands there. The
// terminal gets words one by one: the blanks between them were there before.
func TestScreenSaysWhatToDo(t *testing.T) {
	t.Parallel()
	p, err := openPseudo("")
	require.NoError(t, err)
	defer p.close()
	cmd, _, seen := onTerminal(t, "watch", "--sound", "off", p.path)
	soon(t, func() bool { return seen.has("heard") && seen.has("lists") }, "a hint")
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	require.NoError(t, waitFor(cmd), "%s", seen.tail())
	assert.Contains(t, seen.afterScreen(t, "not one good line"), p.path+": not one good line, so nothing was watched")
}

// The journal of a screen has trouble of the line once, with its next step.
func TestJournalSaysWhatToDo(t *testing.T) {
	l := &live{con: &console{}, name: "/dev/ttyUSB0", baud: 115200, aud: audience{form: asScreen}}
	l.desk = newDesk(craft.Craft{}, 0, nil, nil)
	for ms := int64(0); ms < 10_000; ms += 200 {
		l.looked = time.Time{}
		l.desk.feed([]byte("\x80\x81\n"))
		l.lookAtLine(ms)
	}
	require.Len(t, l.aud.journal, 1)
	assert.Equal(t, "nothing but bad lines from /dev/ttyUSB0 for 2 s: is 115200 the bridge's baud? try another, for example --baud 921600", l.aud.journal[0].Text)
	assert.Equal(t, l.aud.journal[0].Text, l.status().Hint)
}

// A recording that has no line yet is no silence to puzzle over.
func TestWatchEmptyRecording(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "empty.bell")
	require.NoError(t, os.WriteFile(path, nil, 0o600))
	m := startMonitor(t, "watch", path, "--plain", "--sound", "off")
	m.until(&m.err, "watching "+path, 0)
	m.until(&m.err, "waiting for the file to grow", 0)
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	defer f.Close()
	newFeed(t, f).state(3)
	_, err = f.WriteString("#mark here\n#end {}\n")
	require.NoError(t, err)
	require.NoError(t, m.ended())
	assert.Contains(t, strings.Join(m.out, "\n"), "mark   here")
	assert.Contains(t, strings.Join(m.out, "\n"), " 3 good lines")
	assert.Equal(t, 1, strings.Count(strings.Join(m.err, "\n"), "waiting for the file"), "said once")
}

// A file that grows no more is most often a recording that is over.
func TestWatchOldFile(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "old.bell")
	f, err := os.Create(path)
	require.NoError(t, err)
	newFeed(t, f).state(3)
	require.NoError(t, f.Close())
	m := startMonitor(t, "watch", path, "--plain", "--sound", "off")
	m.until(&m.err, "hint: is its recording over? then: tetherbell replay "+path, 0)
	m.stop()
	assert.Equal(t, 1, strings.Count(strings.Join(m.err, "\n"), "the file grows no more"), "said once")
}

// Marks and pauses of a watch without a screen are lines of its output.
func TestPlainTellsActs(t *testing.T) {
	t.Parallel()
	p, err := openPseudo("")
	require.NoError(t, err)
	defer p.close()
	m := startMonitor(t, "watch", p.path, "--plain", "--sound", "off")
	m.until(&m.err, "watching "+p.path, 0)
	_, err = m.in.Write([]byte("mark tether \x1bhooked\npause 12.5\npause 0\n"))
	require.NoError(t, err)
	m.until(&m.out, "pause  sound is on again", 0)
	out := m.stop()
	assert.Regexp(t, `(?m)^ +[0-9.]+  mark   tether \\x1bhooked$`, out)
	assert.Regexp(t, `(?m)^ +[0-9.]+  pause  sound paused for 12\.5 s$`, out)
}

// A pipe that nobody writes to, or whose writer says nothing, is left on
// request; one that cannot be sought is refused in one line.
func TestPipes(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, unix.Mkfifo(path, 0o600))
	// A program that is still starting, on a busy machine, is ended by the signal
	// itself: it is given longer each time.
	said := func(args ...string) string {
		for wait := 300 * time.Millisecond; ; wait *= 3 {
			cmd := exec.Command("tetherbell", args...)
			var b strings.Builder
			cmd.Stdout, cmd.Stderr = &b, &b
			require.NoError(t, cmd.Start())
			stop := time.AfterFunc(wait, func() { _ = cmd.Process.Signal(os.Interrupt) })
			_ = waitFor(cmd)
			stop.Stop()
			if cmd.ProcessState.Exited() || wait > 10*time.Second {
				assert.Equal(t, exitTrouble, cmd.ProcessState.ExitCode(), "%v: %s", args, b.String())
				return b.String()
			}
		}
	}
	assert.Equal(t, "tetherbell: read recording "+path+": interrupted\n", said("check", path))
	assert.Equal(t, "tetherbell: read craft file "+path+": interrupted\n", said("check", "--craft", path, "x"))
	for _, args := range [][]string{{"replay", path}, {"simulate", path}, {"demo", path}} {
		assert.Regexp(t, "^tetherbell: read recording "+regexp.QuoteMeta(path)+": it is a pipe, which can be read only once\nhint: .*\n$", said(args...))
	}
	w, err := os.OpenFile(path, os.O_RDWR, 0) // a writer that says nothing
	require.NoError(t, err)
	defer w.Close()
	assert.Equal(t, "tetherbell: read recording "+path+": interrupted\n", said("check", path))
}

// What a shell hands over in place of a file.
func TestCheckProcessSubstitution(t *testing.T) {
	t.Parallel()
	bash, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("no bash here")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	out, err := exec.CommandContext(ctx, bash, "-c", "tetherbell check <(sleep 0.2; tetherbell simulate --fast calm) <(true)").CombinedOutput()
	var exit *exec.ExitError
	require.ErrorAs(t, err, &exit)
	assert.Equal(t, exitTrouble, exit.ExitCode())
	assert.Regexp(t, `(?m)^/.*: nothing of medium or high priority$`, string(out))
	assert.Regexp(t, `(?m)^tetherbell: read recording .*: nothing came through this pipe$`, string(out))
}
