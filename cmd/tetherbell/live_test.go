//go:build linux || darwin

package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"
)

// A recording that another process is still writing: its ticks are the clock,
// its acknowledgements are fed back, and when it stops without an end our own
// clock goes on.
func TestWatchGrowingRecording(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "growing.bell")
	f, err := os.Create(path)
	require.NoError(t, err)
	defer f.Close()
	write := func(text string) {
		t.Helper()
		_, err := f.WriteString(text)
		require.NoError(t, err)
	}
	feed := newFeed(t, f)
	write(`#session {"tool":"tetherbell","baud":115200}` + "\n#at 0.020\n")
	feed.set("idle_ready", 0.8)
	feed.us += 15_000
	feed.state(1)
	write("#at 0.050\n")
	m := startMonitor(t, "watch", path, "--json", "--sound", "off")
	at := m.until(&m.out, `"alarm":"settings-slip","change":"raised"`, 0)
	write("#ack settings-slip craft\n")
	at = m.until(&m.out, `"alarm":"settings-slip","change":"acknowledged"`, at)
	// A second without a line, told by the writer's ticks in an instant.
	write("#at 0.500\n#at 1.050\n")
	at = m.until(&m.out, `"alarm":"stale-link","change":"raised"`, at)
	feed.us += 1_000_000
	for ms := 1070; ms < 2570; ms += 20 {
		feed.state(1)
		write(fmt.Sprintf("#at %d.%03d\n", ms/1000, ms%1000))
	}
	m.until(&m.out, `"alarm":"stale-link","change":"cleared"`, at)
	// Now the writer dies. Nothing rings until our own patience is over.
	stopped := time.Now()
	at = m.until(&m.out, `"alarm":"stale-link","change":"raised"`, at+1)
	assert.GreaterOrEqual(t, time.Since(stopped), 1400*time.Millisecond)
	// It comes back and ends in order: so does the watch.
	write("#end {}\n")
	m.closed.Wait()
	require.NoError(t, m.cmd.Wait())
	assert.True(t, m.has(&m.out, `"summary"`, at))
}

// Nobody reads our output, yet the recording goes on and a signal ends it.
func TestWatchWithStalledReader(t *testing.T) {
	t.Parallel()
	p, err := openPseudo("")
	require.NoError(t, err)
	defer p.close()
	dir := t.TempDir()
	r, w, err := os.Pipe()
	require.NoError(t, err)
	defer r.Close()
	require.NoError(t, fill(w))
	cmd := exec.Command("tetherbell", "watch", p.path, "--json", "--sound", "off", "--record", dir)
	cmd.Stdout = w
	require.NoError(t, cmd.Start())
	w.Close()
	var files []string
	require.Eventually(t, func() bool { files, _ = filepath.Glob(filepath.Join(dir, "*.bell")); return len(files) == 1 }, 10*time.Second, 10*time.Millisecond)
	feed := newFeed(t, p.master)
	feed.state(20)
	feed.set("idle_ready", 0.8)
	feed.state(20)
	time.Sleep(200 * time.Millisecond)
	data, err := os.ReadFile(files[0])
	require.NoError(t, err)
	assert.Equal(t, 40, strings.Count(string(data), "\nstate,"))
	assert.Contains(t, string(data), `#alarm {"t":0.4`)
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	require.NoError(t, waitFor(cmd, 10*time.Second))
}

// fill writes to a pipe until it takes no more.
func fill(w *os.File) error {
	if err := w.SetWriteDeadline(time.Now().Add(200 * time.Millisecond)); err != nil {
		return err
	}
	defer w.SetWriteDeadline(time.Time{})
	for {
		if _, err := w.Write(make([]byte, 1024)); err != nil {
			return nil
		}
	}
}

func waitFor(cmd *exec.Cmd, limit time.Duration) error {
	t := time.AfterFunc(limit, func() { _ = cmd.Process.Kill() })
	defer t.Stop()
	return cmd.Wait()
}

// Wrong baud: bytes, but nothing good among them. And a line that is silent.
func TestWatchSaysWhatToDo(t *testing.T) {
	t.Parallel()
	p, err := openPseudo("")
	require.NoError(t, err)
	defer p.close()
	m := startMonitor(t, "watch", p.path, "--plain", "--sound", "off")
	at := m.until(&m.err, "nothing heard from "+p.path+" for 2 s", 0)
	m.until(&m.err, "hint: is the bridge on", at)
	for range 40 {
		_, err := p.master.Write([]byte("\xf3\x8a\x00\xfe\x12\n\x80\x80"))
		require.NoError(t, err)
		time.Sleep(100 * time.Millisecond)
	}
	at = m.until(&m.err, "nothing but bad lines from "+p.path+" for 2 s", at)
	m.until(&m.err, "--baud 921600", at)
	m.stop()
	var said int
	for _, l := range m.err {
		if strings.Contains(l, "nothing but bad lines") {
			said++
		}
	}
	assert.Equal(t, 1, said, "once, not over and over")
}

// The screen, on a real terminal of 80 by 24: it opens, a key ends it, and the
// terminal is as it was.
func TestDemoOnTerminal(t *testing.T) {
	t.Parallel()
	for name, end := range map[string]func(tty *os.File, cmd *exec.Cmd){
		"key": func(tty *os.File, _ *exec.Cmd) {
			for range 2 { // armed or not
				_, _ = tty.WriteString("q")
				time.Sleep(200 * time.Millisecond)
			}
		},
		"signal": func(_ *os.File, cmd *exec.Cmd) { _ = cmd.Process.Signal(os.Interrupt) },
	} {
		t.Run(name, func(t *testing.T) {
			tty, slave, err := pty.Open()
			require.NoError(t, err)
			defer tty.Close()
			defer slave.Close()
			require.NoError(t, pty.Setsize(tty, &pty.Winsize{Rows: 24, Cols: 80}))
			before, err := term.GetState(int(slave.Fd()))
			require.NoError(t, err)
			cmd := exec.Command("tetherbell", "demo", "--sound", "off", "calm")
			cmd.Env = append(os.Environ(), "TERM=xterm-256color")
			cmd.Stdin, cmd.Stdout, cmd.Stderr = slave, slave, slave
			cmd.SysProcAttr = controlling()
			require.NoError(t, cmd.Start())
			var seen output80
			go seen.collect(tty)
			require.Eventually(t, func() bool { return seen.has("Marsh") }, 10*time.Second, 20*time.Millisecond, "no screen")
			end(tty, cmd)
			require.NoError(t, waitFor(cmd, 5*time.Second), "%s", seen.tail())
			require.Eventually(t, func() bool { return seen.has("\x1b[?1049l") }, time.Second, 10*time.Millisecond, "the screen was not given back")
			after, err := term.GetState(int(slave.Fd()))
			require.NoError(t, err)
			assert.Equal(t, before, after)
		})
	}
}

type output80 struct {
	mu  sync.Mutex
	all strings.Builder
}

func (o *output80) collect(r io.Reader) {
	buf := make([]byte, 4096)
	for {
		n, err := r.Read(buf)
		o.mu.Lock()
		o.all.Write(buf[:n])
		o.mu.Unlock()
		if err != nil {
			return
		}
	}
}

func (o *output80) has(text string) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	return strings.Contains(o.all.String(), text)
}

func (o *output80) tail() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	s := o.all.String()
	return s[max(0, len(s)-500):]
}
