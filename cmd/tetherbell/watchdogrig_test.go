//go:build linux

package main

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/dashboard/vigil"
)

// namedWithin is how soon a stall must be named: one second, and more where the machine
// has far more to do than it can.
func namedWithin() time.Duration {
	if machineLoad() > float64(4*runtime.NumCPU()) {
		return 2500 * time.Millisecond
	}
	return time.Second
}

// watchedRig is the whole program between its pseudo-terminals, with a recording
// and, where there is a sound server, an ear.
func watchedRig(t *testing.T, args ...string) (r *rig, sink *nullSink, notes func() string) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	dir := t.TempDir()
	if sink = startNullSink(t); sink == nil {
		t.Skip("pulseaudio or parec is not installed")
	}
	sink.listen(t)
	began := time.Now()
	r = startRig(t, 140, 45, sink, append(args, "--record", dir)...)
	startStream(t, r)
	r.sees(t, "PulseAudio")
	r.press(t, "6")
	sink.settled(t, began)
	time.Sleep(2 * time.Second) // every stream has a pace, and the sink is awake
	r.record = dir
	return r, sink, func() string { return linesOf(t, dir, "#note ") }
}

// linesOf are the lines of one kind in the only recording of a folder.
func linesOf(t *testing.T, dir, kind string) string {
	files, err := filepath.Glob(filepath.Join(dir, "*.bell"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	var out []string
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, kind) {
			out = append(out, line)
		}
	}
	return strings.Join(out, "")
}

// within wants something to be seen under the bound, beside what we were held up.
func (r *rig) within(t *testing.T, what string, from time.Time, ok func() bool) {
	t.Helper()
	r.until(t, what, ok)
	r.inTime(t, what, from, time.Now())
}

// inTime wants that something came from one moment to the other under the bound,
// beside what we were held up.
func (r *rig) inTime(t *testing.T, what string, from, came time.Time) {
	t.Helper()
	took, held := came.Sub(from), r.beat.held(from)
	t.Logf("%s: after %v, held up for %v", what, took.Round(time.Millisecond), held.Round(time.Millisecond))
	assert.Less(t, took-held, namedWithin(), what)
}

// hearsInTime wants a sound under the bound.
func (r *rig) hearsInTime(t *testing.T, sink *nullSink, what string, from time.Time) {
	t.Helper()
	r.until(t, what, sink.hears(from))
	heard, _ := sink.after(from)
	r.inTime(t, what, from, heard)
}

func (r *rig) screen(text string) func() bool { return func() bool { return r.glass.shows(text) } }

func (s *nullSink) hears(from time.Time) func() bool {
	return func() bool { _, ok := s.after(from); return ok }
}

func TestDeskStallIsNamed(t *testing.T) {
	pull := setStall(t, vigil.Desk, "3s")
	r, sink, notes := watchedRig(t)
	at := pull.pull(t)
	r.within(t, "screen names the desk", at, r.screen("THE MONITOR STANDS STILL"))
	r.hearsInTime(t, sink, "sound", at)
	r.until(t, "it goes on", func() bool { return !r.glass.shows("THE MONITOR STANDS STILL") })
	r.until(t, "it is recorded", func() bool { return strings.Contains(notes(), "#note the engine goes on: it stood still for") })
	r.press(t, "5")
	r.sees(t, "the engine goes on: it stood still for")
}

func TestDeskPanicIsHeard(t *testing.T) {
	pull := setStall(t, vigil.Desk, "panic")
	r, sink, _ := watchedRig(t)
	at := pull.pull(t)
	r.within(t, "screen names the desk", at, r.screen("THE MONITOR HAS BROKEN DOWN"))
	r.hearsInTime(t, sink, "sound", at)
	err := waitFor(r.cmd)
	t.Logf("ended after %v: %v", time.Since(at).Round(time.Millisecond), err)
	assert.Equal(t, exitTrouble, r.cmd.ProcessState.ExitCode())
	assert.Greater(t, time.Since(at), 3*time.Second, "its pattern was heard whole")
}

func TestSoundStallIsNamed(t *testing.T) {
	pull := setStall(t, vigil.Sound, "4s")
	r, _, notes := watchedRig(t)
	bells := r.glass.bells()
	at := pull.pull(t)
	r.within(t, "screen names the sound", at, r.screen("the sound stands still"))
	r.within(t, "bell", at, func() bool { return r.glass.bells() > bells })
	r.until(t, "it is recorded", func() bool { return strings.Contains(notes(), "the sound stands still") })
	r.until(t, "it goes on", func() bool { return !r.glass.shows("the sound stands still") })
	r.until(t, "that is recorded", func() bool { return strings.Contains(notes(), "the sound goes on") })
	assert.NotContains(t, notes(), "engine")
}

func TestSoundPanicIsNamed(t *testing.T) {
	pull := setStall(t, vigil.Sound, "panic")
	r, _, _ := watchedRig(t)
	at := pull.pull(t)
	r.within(t, "screen names the sound", at, r.screen("the sound has broken down"))
}

// A sound server that is stopped: what plays can play no more.
func TestFrozenSoundServerIsNamed(t *testing.T) {
	r, sink, _ := watchedRig(t)
	at := time.Now()
	require.NoError(t, sink.server.Process.Signal(syscall.SIGSTOP))
	defer func() { _ = sink.server.Process.Signal(syscall.SIGCONT) }()
	r.within(t, "screen names the sound", at, r.screen("ALARMS MAY NOT BE HEARD"))
	r.press(t, "5")
	r.sees(t, "the audio does not answer")
}

func TestScreenStallIsHeard(t *testing.T) {
	pull := setStall(t, vigil.Screen, "3s")
	r, sink, notes := watchedRig(t)
	r.until(t, "silence", sink.silent)
	at := pull.pull(t)
	r.hearsInTime(t, sink, "sound of a drawing that hangs", at)
	r.until(t, "it is recorded", func() bool { return strings.Contains(notes(), "the screen goes on") })
	r.press(t, "5")
	r.sees(t, "the screen goes on: it stood still for")
}

// A terminal that takes nothing: stopped by its own flow control, and one whose
// reader reads no more, which has a buffer of the system's before it that takes all
// for seconds: it is missed by the answers that it owes.
func TestTerminalStallIsHeard(t *testing.T) {
	r, sink, notes := watchedRig(t)
	r.until(t, "silence", sink.silent)
	flow := func(how uintptr) {
		const tcxonc = 0x540A // of Linux (ioctl_tty(2), from memory)
		_, _, err := syscall.Syscall(syscall.SYS_IOCTL, r.slave.Fd(), tcxonc, how)
		require.Zero(t, err)
	}
	at := time.Now()
	flow(0) // suspend output
	r.hearsInTime(t, sink, "sound of flow control", at)
	flow(1)
	r.until(t, "it is recorded", func() bool { return strings.Contains(notes(), "the screen goes on") })
	r.until(t, "silence", sink.silent)
	goOn := r.hold(t)
	at = time.Now()
	r.hearsInTime(t, sink, "sound of a reader that reads no more, with the system's buffer before it", at)
	goOn()
}

// The whole program is stopped for a while: that is said, and nobody is blamed.
func TestStoppedProgramBlamesNobody(t *testing.T) {
	r, _, notes := watchedRig(t)
	before := time.Now()
	require.NoError(t, r.cmd.Process.Signal(syscall.SIGSTOP))
	stopped := time.Now()
	time.Sleep(3500 * time.Millisecond)
	least := time.Since(stopped)
	require.NoError(t, r.cmd.Process.Signal(syscall.SIGCONT))
	at := time.Now()
	for time.Since(at) < 2*time.Second {
		assert.False(t, r.glass.shows("THE MONITOR STANDS STILL") || r.glass.shows("the sound stands still"))
		time.Sleep(10 * time.Millisecond)
	}
	const itself = "the monitor itself stood still for "
	r.until(t, "it is recorded", func() bool { return strings.Contains(notes(), itself) })
	held := r.beat.held(before)
	for line := range strings.Lines(notes()) { // more than one where the machine stood still too
		assert.Contains(t, line, "#note "+itself, "nobody is blamed")
	}
	_, text, _ := strings.Cut(notes(), itself)
	var seconds float64
	_, err := fmt.Sscanf(text, "%f s", &seconds)
	require.NoError(t, err, text)
	if held < stoodStill {
		assert.Equal(t, 1, strings.Count(notes(), "\n"), notes())
		assert.InDelta(t, least.Seconds(), seconds, 0.4)
	}
	r.press(t, "5")
	r.sees(t, fmt.Sprintf("%s%.1f s", itself, seconds))
}

// A plainRun is a watch without a screen whose standard error is read at once.
type plainRun struct {
	*rig
	mu   sync.Mutex
	said []string
	at   []time.Time
}

func startPlain(t *testing.T, stdout *os.File, args ...string) *plainRun {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	bridge, err := openPseudo("")
	require.NoError(t, err)
	p := &plainRun{rig: &rig{bridge: bridge, glass: newGlassPane(80, 24), beat: startMetronome(t)}}
	p.cmd = exec.Command("tetherbell", append([]string{"watch", bridge.path, "--plain"}, args...)...)
	if stdout != nil {
		p.cmd.Stdout = stdout
	}
	errs, err := p.cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, p.cmd.Start())
	done := make(chan struct{})
	go func() {
		defer close(done)
		for s := bufio.NewScanner(errs); s.Scan(); {
			p.mu.Lock()
			p.said, p.at = append(p.said, s.Text()), append(p.at, time.Now())
			p.mu.Unlock()
		}
	}()
	t.Cleanup(func() {
		_ = p.cmd.Process.Kill()
		<-done
		_ = p.cmd.Wait()
		bridge.close()
	})
	startStream(t, p.rig)
	return p
}

// until waits as a rig does. Where it waits for nothing, what the program said is
// told, and where its goroutines stand.
func (p *plainRun) until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); !ok(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			_ = p.cmd.Process.Signal(syscall.SIGQUIT)
			time.Sleep(time.Second)
			p.mu.Lock()
			defer p.mu.Unlock()
			t.Fatalf("not within 20 s: %s\n%s", what, strings.Join(p.said, "\n"))
		}
	}
}

// says is when a line with a text came on standard error.
func (p *plainRun) says(text string) func() bool {
	return func() bool {
		p.mu.Lock()
		defer p.mu.Unlock()
		for _, line := range p.said {
			if strings.Contains(line, text) {
				return true
			}
		}
		return false
	}
}

func TestPlainNamesStalls(t *testing.T) {
	for _, c := range []struct {
		who         vigil.Member
		sound       string
		text, after string
	}{
		{vigil.Desk, "off", "NOTHING IS WATCHED", "the engine goes on"},
		{vigil.Sound, "auto", "NO ALARM IS HEARD", "the sound goes on"},
	} {
		t.Run(c.who.String(), func(t *testing.T) {
			pull := setStall(t, c.who, "2s")
			p := startPlain(t, nil, "--sound", c.sound)
			p.until(t, "start", p.says("interrupt ends it"))
			time.Sleep(time.Second)
			at := pull.pull(t)
			p.within(t, "standard error names the "+c.who.String(), at, p.says(c.text))
			p.until(t, "it goes on", p.says(c.after))
		})
	}
}

// Standard output that nobody reads: its pipe is full already.
func TestPlainNamesOutputThatTakesNothing(t *testing.T) {
	out, in, err := os.Pipe()
	require.NoError(t, err)
	defer out.Close()
	defer in.Close()
	fd := int(in.Fd()) // each call of Fd would let it wait again
	require.NoError(t, syscall.SetNonblock(fd, true))
	for block := make([]byte, 1024); err == nil; {
		_, err = syscall.Write(fd, block)
	}
	require.NoError(t, syscall.SetNonblock(fd, false))
	p := startPlain(t, in, "--sound", "off")
	p.until(t, "it is said", p.says("standard output stands still")) // with the first event
	assert.True(t, p.says("EVENTS ARE NOT SEEN")())
	go func() { _, _ = bufio.NewReader(out).WriteTo(discard{}) }()
	p.until(t, "it goes on", p.says("standard output goes on"))
}

type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }
