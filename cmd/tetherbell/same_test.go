//go:build linux || darwin

package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/simulator"
)

// A monitor is tetherbell watching in a process of its own.
type monitor struct {
	t      *testing.T
	cmd    *exec.Cmd
	in     io.WriteCloser
	mu     sync.Mutex
	out    []string // lines of standard output so far
	err    []string
	closed sync.WaitGroup
}

func startMonitor(t *testing.T, args ...string) *monitor {
	t.Helper()
	return startMonitorIn(t, nil, args...)
}

// startMonitorIn starts one with more in its environment.
func startMonitorIn(t *testing.T, env []string, args ...string) *monitor {
	t.Helper()
	cmd := exec.Command("tetherbell", args...)
	cmd.Env = append(os.Environ(), env...)
	return monitorOf(t, cmd)
}

// monitorOf starts the command of one.
func monitorOf(t *testing.T, cmd *exec.Cmd) *monitor {
	t.Helper()
	m := &monitor{t: t, cmd: cmd}
	var err error
	m.in, err = m.cmd.StdinPipe()
	require.NoError(t, err)
	out, err := m.cmd.StdoutPipe()
	require.NoError(t, err)
	errs, err := m.cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, m.cmd.Start())
	m.closed.Add(2)
	go m.collect(out, &m.out)
	go m.collect(errs, &m.err)
	t.Cleanup(func() { _ = m.cmd.Process.Kill() })
	return m
}

func (m *monitor) collect(r io.Reader, into *[]string) {
	defer m.closed.Done()
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		m.mu.Lock()
		*into = append(*into, lines.Text())
		m.mu.Unlock()
	}
}

// until waits for a line that holds a text; which of both streams says where
// to look.
func (m *monitor) until(which *[]string, text string, from int) int {
	m.t.Helper()
	at := -1
	if !waited(func() bool { at = m.find(which, text, from); return at >= 0 }) {
		m.mu.Lock()
		defer m.mu.Unlock()
		m.t.Fatalf("never came: %q\nout: %s\nerr: %s", text, strings.Join(m.out, "\n"), strings.Join(m.err, "\n"))
	}
	return at
}

// find is the first line from a place on that holds a text, -1 while there is none.
func (m *monitor) find(which *[]string, text string, from int) int {
	m.mu.Lock()
	defer m.mu.Unlock()
	for i := from; i < len(*which); i++ {
		if strings.Contains((*which)[i], text) {
			return i
		}
	}
	return -1
}

// stop interrupts the monitor, which must end well, and returns its output.
func (m *monitor) stop() string {
	m.t.Helper()
	require.NoError(m.t, m.cmd.Process.Signal(os.Interrupt))
	require.NoError(m.t, m.ended(), "an interrupted watch ends with 0")
	return strings.Join(m.out, "\n") + "\n"
}

// ended waits for its end, which must come.
func (m *monitor) ended() error {
	defer bound(m.cmd)()
	m.closed.Wait()
	return m.cmd.Wait()
}

func bench(t *testing.T, text string) *simulator.Bench {
	t.Helper()
	sc, err := simulator.Parse([]byte(text))
	require.NoError(t, err)
	require.NoError(t, sc.Check())
	return simulator.New(sc, 3)
}

// A hard day: an armed idle typed ten times too high, armed, with a cable that
// spoils lines, falls silent for over half a second, and a bridge that begins
// anew while the craft is armed.
const hardDay = `
name = "hard-day"
lesson = "all at once"
seconds = 6
[[event]]
at = 0.5
do = "set"
name = "idle_ready"
value = 0.8
[[event]]
at = 1
do = "arm"
[[event]]
at = 1.5
do = "flip"
to = 0.02
[[event]]
at = 2.5
do = "silence"
seconds = 0.8
[[event]]
at = 4.5
do = "restart"
seconds = 0.1
`

// The main promise of a recording: what was said on the day is said again, to
// the byte, whether it is checked at once or replayed at a pace. The day here
// is paced over a real pseudo-terminal and has bad lines, a silence, a restart
// of the bridge and an acknowledgement in it.
func TestLiveReplayAndCheckSayTheSame(t *testing.T) {
	t.Parallel()
	p, err := openPseudo("")
	require.NoError(t, err)
	defer p.close()
	dir := t.TempDir()
	m := startMonitor(t, "watch", p.path, "--json", "--sound", "off", "--record", dir)
	m.until(&m.err, "recording to", 0)

	day, sent := bench(t, hardDay), make(chan error)
	go func() { sent <- pump(context.Background(), day, p.master, false) }()
	// The person hears the alarm and acknowledges it.
	i := m.until(&m.out, `"alarm":"settings-slip","change":"worsened","priority":"high"`, 0)
	_, err = io.WriteString(m.in, "mark that was me\nack settings-slip craft\nack nonsense craft\n")
	require.NoError(t, err)
	m.until(&m.out, `"alarm":"settings-slip","change":"acknowledged"`, i)
	wholeSent(t, sent)
	p.drain()
	time.Sleep(100 * time.Millisecond)
	live := m.stop()

	files, err := filepath.Glob(filepath.Join(dir, "*.bell"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	data, err := os.ReadFile(files[0])
	require.NoError(t, err)
	assert.Contains(t, string(data), "#ack settings-slip craft\n")
	assert.Contains(t, string(data), "#mark that was me\n")
	assert.True(t, bytes.HasPrefix(data, []byte(`#session {"tool":"tetherbell"`)))
	assert.Regexp(t, `(?s)\n#end \{.*\}\n$`, string(data))
	assert.Equal(t, 1, strings.Count(string(data), "#ack "), "an acknowledgement of nothing known is no act")

	check := output(t, 1, "check", "--json", files[0])
	replay := output(t, 0, "replay", "--json", "--sound", "off", "--speed", "20", files[0])
	assert.Equal(t, nameless(live), nameless(check), "live and check")
	assert.Equal(t, nameless(check), nameless(replay), "check and replay")
	for _, want := range []string{
		`"alarm":"settings-slip","change":"worsened","priority":"high"`,
		`"alarm":"settings-slip","change":"acknowledged"`,
		`"alarm":"stale-link","change":"raised"`,
		`"cause":"cable, bridge or its supply"`,
		`"cause":"supply of the bridge"`,
	} {
		assert.Contains(t, live, want)
	}
	assert.NotRegexp(t, `"lines":\d+,"bad":0,`, live, "lines with a bit turned over were sent")
	spoken := regexp.MustCompile(`(?m)^#alarm (.*)$`).FindAllStringSubmatch(string(data), -1)
	events := strings.Split(strings.TrimSpace(live), "\n")
	require.Len(t, spoken, len(events)-1, "the recording holds what was said")
	for i := range spoken {
		assert.Equal(t, events[i], spoken[i][1])
	}
}

// nameless takes the name of the file out of a summary.
func nameless(out string) string {
	return regexp.MustCompile(`"summary":\{"file":"[^"]*"`).ReplaceAllString(out, `"summary":{"file":""`)
}

// output runs tetherbell to its end.
func output(t *testing.T, code int, args ...string) string {
	t.Helper()
	cmd := exec.Command("tetherbell", args...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	if got := cmd.ProcessState.ExitCode(); got != code {
		t.Fatalf("tetherbell %v: exit status %d (%v), want %d\n%s", args, got, err, code, errs.String())
	}
	return out.String()
}

// The simulator is killed and started again under the same link: the monitor
// rings, waits, and goes on by itself.
func TestWatchComesBack(t *testing.T) {
	t.Parallel()
	link := filepath.Join(t.TempDir(), "bench")
	start := func() *exec.Cmd {
		cmd := exec.Command("tetherbell", "simulate", "--pty="+link, "calm")
		require.NoError(t, cmd.Start())
		t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
		soon(t, func() bool { _, err := os.Stat(link); return err == nil }, "a port")
		return cmd
	}
	sim := start()
	dir := t.TempDir()
	m := startMonitor(t, "watch", link, "--json", "--sound", "off", "--record", dir)
	m.until(&m.err, "recording to", 0)
	time.Sleep(1500 * time.Millisecond)
	holds(t, dir, "\nstate,", 20)
	require.NoError(t, sim.Process.Kill()) // no chance to tidy up: the link now leads nowhere
	_ = waitFor(sim)
	m.until(&m.err, "port "+link+" lost", 0)
	at := m.until(&m.out, `"alarm":"stale-link","change":"raised"`, 0)
	start()
	m.until(&m.err, "port "+link+" is back", 0)
	m.until(&m.out, `"alarm":"stale-link","change":"cleared"`, at)
	out := m.stop()
	assert.Contains(t, out, `"summary"`)
	assert.Equal(t, 1, strings.Count(out, `"summary"`), "one monitor from start to end")
}

// From the line that completes the evidence to the event on standard output:
// under a tenth of a second. The line here is the setting of a dangerous idle,
// which is evidence by itself.
func TestEventsComeAtOnce(t *testing.T) {
	p, err := openPseudo("")
	require.NoError(t, err)
	defer p.close()
	m := startMonitor(t, "watch", p.path, "--json", "--sound", "off")
	m.until(&m.err, "watching ", 0)
	feed := newFeed(t, p.master)
	feed.state(50)
	best, seen := time.Hour, 0
	// A machine that has other things to do is late now and then, and a program that
	// waits is late in each round.
	for round := 0; round < 3 && best >= 100*time.Millisecond; round++ {
		var took []time.Duration
		for range 5 {
			feed.set("idle_ready", 0.8)
			sent := time.Now()
			seen = m.until(&m.out, `"alarm":"settings-slip","change":"raised"`, seen)
			took = append(took, time.Since(sent))
			feed.set("idle_ready", 0.08)
			feed.state(10)
			feed.stateUntil(func() bool { return m.has(&m.out, `"alarm":"settings-slip","change":"cleared"`, seen) })
			seen++
		}
		t.Log("from line to event:", took)
		best = min(best, slices.Max(took))
	}
	assert.Less(t, best, 100*time.Millisecond)
	m.stop()
}

func (m *monitor) has(which *[]string, text string, from int) bool {
	return m.find(which, text, from) >= 0
}

// A recording is whole after any end that can be caught.
func TestSignalsEndWell(t *testing.T) {
	t.Parallel()
	for _, sig := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
		t.Run(fmt.Sprint(sig), func(t *testing.T) {
			p, err := openPseudo("")
			require.NoError(t, err)
			defer p.close()
			dir := t.TempDir()
			m := startMonitor(t, "watch", p.path, "--plain", "--sound", "off", "--record", dir)
			m.until(&m.err, "recording to", 0)
			newFeed(t, p.master).state(5)
			holds(t, dir, "\nstate,", 5)
			require.NoError(t, m.cmd.Process.Signal(sig))
			require.NoError(t, m.ended())
			files, _ := filepath.Glob(filepath.Join(dir, "*.bell"))
			require.Len(t, files, 1)
			data, err := os.ReadFile(files[0])
			require.NoError(t, err)
			assert.Regexp(t, `\n#end \{.*"lines":5.*\}\n$`, string(data))
		})
	}
}
