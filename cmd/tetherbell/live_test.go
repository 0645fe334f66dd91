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
// clock goes on. A writer that was held up itself had stopped before its time.
func TestWatchGrowingRecording(t *testing.T) {
	t.Parallel()
	for range 3 {
		if growsAndStops(t) {
			return
		}
	}
	t.Log("the machine was too busy, three times: what rang is not judged")
}

// growsAndStops reports whether the writer was let write on.
func growsAndStops(t *testing.T) bool {
	beat, began := startMetronome(t), time.Now()
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
	at, late := 0, false
	tells := func(event string, from int) {
		t.Helper()
		soon(t, func() bool {
			late = late || beat.held(began) > time.Second
			at = max(from, m.find(&m.out, event, from))
			return late || m.has(&m.out, event, from)
		}, event)
	}
	tells(`"alarm":"settings-slip","change":"raised"`, 0)
	write("#ack settings-slip craft\n")
	tells(`"alarm":"settings-slip","change":"acknowledged"`, at)
	// A second without a line, told by the writer's ticks in an instant.
	write("#at 0.500\n#at 1.050\n")
	tells(`"alarm":"stale-link","change":"raised"`, at)
	feed.us += 1_000_000
	stopped := time.Now()
	for ms := 1070; ms < 2570; ms += 20 {
		stopped = time.Now()
		feed.state(1)
		write(fmt.Sprintf("#at %d.%03d\n", ms/1000, ms%1000))
	}
	// Now the writer dies. Nothing rings until our own patience is over.
	tells(`"alarm":"stale-link","change":"cleared"`, at)
	tells(`"alarm":"stale-link","change":"raised"`, at+1)
	if late {
		return false
	}
	assert.GreaterOrEqual(t, time.Since(stopped), 1400*time.Millisecond)
	// It comes back and ends in order: so does the watch.
	write("#end {}\n")
	require.NoError(t, m.ended())
	assert.True(t, m.has(&m.out, `"summary"`, at))
	return true
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
	holds(t, dir, "#session ", 1)
	feed := newFeed(t, p.master)
	feed.state(20)
	feed.set("idle_ready", 0.8)
	feed.state(20)
	holds(t, dir, "\nstate,", 40)
	holds(t, dir, `#alarm {"t":0.4`, 1)
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	require.NoError(t, waitFor(cmd))
}

// inRecording is how many times the only recording of a folder, which is being made, holds a
// text: what it holds has been at the desk.
func inRecording(dir, text string) int {
	files, err := filepath.Glob(filepath.Join(dir, "*.bell"))
	if err != nil || len(files) != 1 {
		return 0
	}
	data, _ := os.ReadFile(files[0])
	return strings.Count(string(data), text)
}

// holds waits until it holds a text so many times.
func holds(t *testing.T, dir, text string, n int) {
	t.Helper()
	soon(t, func() bool { return inRecording(dir, text) >= n }, n, " times ", text, " in the recording")
}

// livesOn waits until a watch that records has lived on for a while by its own clock.
func livesOn(t *testing.T, dir string, d time.Duration) {
	t.Helper()
	const tick = "\n#at "
	holds(t, dir, tick, inRecording(dir, tick)+int(d/tickEvery))
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

// Wrong baud: bytes, but nothing good among them. And a line that is silent.
func TestWatchSaysWhatToDo(t *testing.T) {
	t.Parallel()
	p, err := openPseudo("")
	require.NoError(t, err)
	defer p.close()
	m := startMonitor(t, "watch", p.path, "--plain", "--sound", "off")
	at := m.until(&m.err, "nothing heard from "+p.path+" for 2 s", 0)
	m.until(&m.err, "hint: is the bridge on", at)
	beat, began := startMetronome(t), time.Now()
	bad := "nothing but bad lines from " + p.path + " for 2 s"
	for n := 0; n < 40 || !m.has(&m.err, bad, at); n++ { // as long again as that takes
		require.Less(t, n, 400, "never said: %s", bad)
		_, err := p.master.Write([]byte("\xf3\x8a\x00\xfe\x12\n\x80\x80"))
		require.NoError(t, err)
		time.Sleep(100 * time.Millisecond)
	}
	late := beat.held(began)
	at = m.until(&m.err, bad, at)
	m.until(&m.err, "--baud 921600", at)
	m.stop()
	var said int
	for _, l := range m.err {
		if strings.Contains(l, "nothing but bad lines") {
			said++
		}
	}
	if late < time.Second { // else the line was silent in between
		assert.Equal(t, 1, said, "once, not over and over")
	}
}

// The screen, on a real terminal of 80 by 24: it opens, a key ends it, and the
// terminal is as it was.
func TestDemoOnTerminal(t *testing.T) {
	t.Parallel()
	for name, end := range map[string]func(tty *os.File, cmd *exec.Cmd) error{
		"key": leave,
		"signal": func(_ *os.File, cmd *exec.Cmd) error {
			_ = cmd.Process.Signal(os.Interrupt)
			return waitFor(cmd)
		},
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
			cmd.Env = append(os.Environ(), "TERM=xterm-256color", "LANG=C.UTF-8", "LC_ALL=C.UTF-8")
			cmd.Stdin, cmd.Stdout, cmd.Stderr = slave, slave, slave
			cmd.SysProcAttr = controlling()
			require.NoError(t, cmd.Start())
			var seen output80
			go seen.collect(tty)
			soon(t, func() bool { return seen.has("Marsh") }, "a screen")
			require.NoError(t, end(tty, cmd), "%s", seen.tail())
			soon(t, func() bool { return seen.has("\x1b[?1049l") }, "the screen is given back")
			after, err := term.GetState(int(slave.Fd()))
			require.NoError(t, err)
			assert.Equal(t, before, after)
		})
	}
}

// leave presses the key that leaves until the program has left: it asks once more
// while armed, and forgets after a while that it did.
func leave(tty *os.File, cmd *exec.Cmd) error {
	gone, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		tick := time.NewTicker(200 * time.Millisecond)
		defer tick.Stop()
		for {
			_, _ = tty.WriteString("q")
			select {
			case <-gone:
				return
			case <-tick.C:
			}
		}
	}()
	err := waitFor(cmd)
	close(gone)
	<-done
	return err
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
