//go:build linux || darwin

package main

import (
	"context"
	"encoding/csv"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// twoPorts plays a scenario over two pseudo-terminals. sent is closed when it is
// over.
func twoPorts(t *testing.T, text string, play func(d *divider) error) (a, b *pseudo, sent chan error) {
	t.Helper()
	a, err := openPseudo("")
	require.NoError(t, err)
	t.Cleanup(a.close)
	b, err = openPseudo("")
	require.NoError(t, err)
	t.Cleanup(b.close)
	d := &divider{lineSource: bench(t, text), first: a.master, second: b.master, ppm: 70, ahead: standAhead}
	d.tags, err = dividedTags("load,temp,pack")
	require.NoError(t, err)
	sent = make(chan error, 1)
	go func() { sent <- play(d) }()
	return a, b, sent
}

// wholeSent waits for the end of a sender: not for ever, as one waits whose reader
// has gone.
func wholeSent(t testing.TB, sent <-chan error) {
	t.Helper()
	select {
	case err := <-sent:
		require.NoError(t, err)
	case <-time.After(2 * time.Minute):
		require.Fail(t, "the sender has not ended: does nobody read?")
	}
}

// The day of two bridges, with bad lines, a silence of both, a restart of the
// first, and an acknowledgement in it: what was said then is said again, to the byte,
// by all that read a recording.
func TestTwoBridgesReplayAsTheDay(t *testing.T) {
	t.Parallel()
	start := make(chan struct{})
	a, b, sent := twoPorts(t, hardDay, func(d *divider) error {
		<-start
		return pump(context.Background(), d, d, false)
	})
	dir := t.TempDir()
	m := startMonitor(t, "watch", a.path, b.path, "--json", "--sound", "off", "--record", dir)
	m.until(&m.err, "recording to", 0)
	close(start)
	m.until(&m.out, `"alarm":"settings-slip","change":"worsened","priority":"high"`, 0)
	_, err := m.in.Write([]byte("ack settings-slip craft\n"))
	require.NoError(t, err)
	wholeSent(t, sent)
	a.drain()
	b.drain()
	time.Sleep(100 * time.Millisecond)
	live := m.stop()
	for _, want := range []string{
		`"alarm":"settings-slip","change":"acknowledged"`,
		"no good line for 0.3 s: the bench is not being watched",
		`"bridge":"` + a.path + `"`,
		"bridge restarted while the craft was armed, on " + a.path,
	} {
		assert.Contains(t, live, want)
	}

	files, err := filepath.Glob(filepath.Join(dir, "*.bell"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	data, err := os.ReadFile(files[0])
	require.NoError(t, err)
	assert.Contains(t, string(data), `"sources":["`+a.path+`","`+b.path+`"]`)
	assert.Contains(t, string(data), "\n#bridge 2 ")

	check := output(t, 1, "check", "--json", files[0])
	assert.Equal(t, nameless(live), nameless(check), "live and check")
	replay := output(t, 0, "replay", "--json", "--sound", "off", "--speed", "20", files[0])
	assert.Equal(t, nameless(check), nameless(replay), "check and replay")
	// A recording that still grows is watched like the day.
	var whole strings.Builder
	cmd := exec.Command("tetherbell", "watch", "--json", "--sound", "off", files[0])
	cmd.Stdout = &whole
	require.NoError(t, cmd.Run())
	assert.Equal(t, nameless(check), nameless(whole.String()), "check and follow")

	plain := output(t, 1, "check", files[0])
	assert.Contains(t, plain, "  "+a.path+": ")
	assert.Regexp(t, `  `+b.path+`: \d+ good lines, 0 bad, 0 lost`, plain)

	out := t.TempDir()
	output(t, 0, "export", files[0], "-o", out)
	for table, of := range map[string]string{"load.csv": "load,", "axes.csv": "axes,"} {
		f, err := os.Open(filepath.Join(out, table))
		require.NoError(t, err)
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		require.NoError(t, err)
		lines := strings.Count(string(data), "\n"+of)
		assert.InDelta(t, lines, len(rows)-1, float64(lines)/10+3, "spoiled lines are not in it")
	}
	output(t, 0, "report", files[0], "-o", filepath.Join(out, "page.html"))
	assert.Contains(t, output(t, 0, "sessions", dir), "HIGH")
}

// The craft's bridge alone tells of the oscillation and the stand's alone of the
// lift: both ring. Then the stand's cable is pulled: that is said by name, the
// craft's bridge goes on, and the cable that comes back is told.
func TestTwoBridgesOnTheBench(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	la, lb := filepath.Join(dir, "nose"), filepath.Join(dir, "stand")
	sim := exec.Command("tetherbell", "simulate", "--pty="+la, "--pty2="+lb, "gains-high")
	require.NoError(t, sim.Start())
	t.Cleanup(func() { _ = sim.Process.Kill(); _ = sim.Wait() })
	soon(t, func() bool { _, err := os.Stat(lb); return err == nil }, "two ports")
	m := startMonitor(t, "watch", la, lb, "--json", "--sound", "off")
	m.until(&m.out, `"alarm":"rising-oscillation","change":"raised"`, 0)

	m.mu.Lock()
	n := len(m.err)
	m.mu.Unlock()
	require.NoError(t, os.Remove(lb)) // the name leads nowhere: the port cannot be opened again
	require.NoError(t, sim.Process.Kill())
	_ = waitFor(sim)
	m.until(&m.err, "port "+la+" lost", n)
	m.until(&m.err, "port "+lb+" lost", n)
	again := exec.Command("tetherbell", "simulate", "--pty="+la, "calm")
	require.NoError(t, again.Start())
	t.Cleanup(func() { _ = again.Process.Kill(); _ = again.Wait() })
	m.until(&m.err, "port "+la+" is back", n)
	m.until(&m.out, "no good line from "+lb, 0)
	out := m.stop()
	assert.Contains(t, out, `"summary"`)
}

// What two bridges send is taken from the first, and said.
func TestTwoBridgesSendTheSame(t *testing.T) {
	t.Parallel()
	a, err := openPseudo("")
	require.NoError(t, err)
	defer a.close()
	b, err := openPseudo("")
	require.NoError(t, err)
	defer b.close()
	dir := t.TempDir()
	m := startMonitor(t, "watch", a.path, b.path, "--plain", "--sound", "off", "--record", dir)
	m.until(&m.err, "watching "+a.path+" + "+b.path, 0)
	newFeed(t, a.master).state(5)
	newFeed(t, b.master).state(5)
	text := b.path + " also sends state: what " + a.path + " sends of it is used"
	m.until(&m.err, text, 0)
	holds(t, dir, "\nstate,", 10)
	out := m.stop()
	assert.Contains(t, out, text)
	assert.Contains(t, out, "10 good lines, 0 bad, 0 lost")
}

func TestPortsThatDoNotGoTogether(t *testing.T) {
	t.Parallel()
	p, err := openPseudo("")
	require.NoError(t, err)
	defer p.close()
	dir := t.TempDir()
	twin, file := filepath.Join(dir, "twin"), filepath.Join(dir, "file.bell")
	require.NoError(t, os.Symlink(p.path, twin))
	require.NoError(t, os.WriteFile(file, []byte("#session {}\n"), 0o644))
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{p.path, p.path}, "are the same port"},
		{[]string{p.path, twin}, p.path + " and " + twin + " are the same port"},
		{[]string{p.path, "-"}, "standard input cannot be watched together"},
		{[]string{file, p.path}, file + " is no port"},
		{[]string{p.path, "/dev/tetherbell-none"}, "open port /dev/tetherbell-none"},
		{[]string{p.path, twin + "@0"}, "are the same port"},
		{[]string{"1", "2", "3", "4", "5"}, "up to 4 ports, not 5"},
	} {
		cmd := exec.Command("tetherbell", append([]string{"watch", "--plain"}, c.args...)...)
		text, err := cmd.CombinedOutput()
		assert.Error(t, err, c.args)
		assert.Equal(t, exitTrouble, cmd.ProcessState.ExitCode())
		assert.Contains(t, string(text), c.want)
		assert.Contains(t, string(text), "hint: ")
		assert.NotContains(t, string(text), "watching", "nothing is half watched")
	}
}

func TestPortAndBaud(t *testing.T) {
	for arg, want := range map[string]struct {
		name string
		baud int
		ok   bool
	}{
		"/dev/ttyUSB0@921600": {"/dev/ttyUSB0", 921600, true},
		"COM3@9600":           {"COM3", 9600, true},
		"/dev/ttyUSB0":        {"", 0, false},
		"/dev/odd@name":       {"/dev/odd", 0, false},
		"@9600":               {"", 0, false},
	} {
		name, baud, ok := portAndBaud(arg)
		assert.Equal(t, want.ok, ok, arg)
		if ok {
			assert.Equal(t, want.name, name)
			assert.Equal(t, want.baud, baud)
		}
	}
}
