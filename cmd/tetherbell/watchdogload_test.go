//go:build linux

package main

import (
	"os"
	"os/exec"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"

	"tetherbell/dashboard/vigil"
)

// burn gives every processor of the machine two things more to do, for so long.
func burn(t *testing.T, d time.Duration) (wait func()) {
	var all sync.WaitGroup
	end := time.Now().Add(d)
	for range 2 * runtime.NumCPU() {
		busy := exec.Command("sh", "-c", "while :; do :; done")
		require.NoError(t, busy.Start())
		all.Go(func() {
			time.Sleep(time.Until(end))
			_ = busy.Process.Kill()
			_ = busy.Wait()
		})
	}
	return all.Wait
}

// pausesIn are the longest pauses that the members noted of themselves.
func pausesIn(t *testing.T, file string) map[string]time.Duration {
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	out := map[string]time.Duration{}
	for line := range strings.Lines(string(text)) {
		who, long, ok := strings.Cut(strings.TrimSpace(line), " ")
		require.True(t, ok)
		d, err := time.ParseDuration(long)
		require.NoError(t, err)
		out[who] = max(out[who], d)
	}
	return out
}

// Twenty seconds of a machine with twice as much to do as it has processors, and
// with whatever else it does. Each member notes the pauses between beats of its own:
// whoever is cried has really stood still, and where nobody did, nothing is cried.
// A screen that stood still must be explained by its terminal, which notes how long
// it read nothing and how late it answered, or by pauses of the others. A
// bridge that this test itself sends too late rings as it should. So the machine
// cannot fail this test, and need not be idle.
func TestLoadIsNoStall(t *testing.T) {
	const (
		stood = 500 * time.Millisecond // less is nobody's stall: under all limits
		held  = 400 * time.Millisecond // a true pause at least, where a limit of 0.6 s was reached
	)
	file := t.TempDir() + "/pauses"
	t.Setenv(pauseEnv, file)
	r, sink, notes := watchedRig(t, "--tick=false")
	r.until(t, "silence", sink.silent)
	before, rung := notes(), linesOf(t, r.record, "#alarm ")
	require.NoError(t, os.Truncate(file, 0))
	r.idle.Store(0)
	r.late.Store(0)
	at := time.Now()
	wait := burn(t, 20*time.Second)
	shown := false
	for time.Since(at) < 20*time.Second {
		shown = shown || r.glass.shows("STANDS STILL") || r.glass.shows("the sound stands still")
		time.Sleep(20 * time.Millisecond)
	}
	wait()
	time.Sleep(time.Second)
	pauses, said := pausesIn(t, file), strings.TrimPrefix(notes(), before)
	idle, late := time.Duration(r.idle.Load()), time.Duration(r.late.Load())
	burst, heard := sink.after(at)
	t.Logf("load %.1f; pauses over %v: %v; the terminal read nothing for %v and answered %v late, at most", machineLoad(), pauseNoted, pauses, idle, late)
	rang := strings.TrimPrefix(linesOf(t, r.record, "#alarm "), rung)
	t.Logf("cried: %q; rang: %q; heard: %v after %v", said, cutAt(rang, 80), heard, max(burst.Sub(at), 0))
	longest, others := time.Duration(0), pauseNoted // shorter ones are not noted
	for m := vigil.Desk; m <= vigil.Sentry; m++ {
		p := pauses[m.String()]
		longest = max(longest, p)
		if m != vigil.Screen {
			others = max(others, p)
		}
		if strings.Contains(said, "the "+m.String()+" ") {
			assert.GreaterOrEqual(t, p, held, "%v was cried", m)
		}
	}
	assert.LessOrEqual(t, pauses["screen"], idle+late+others, "nothing explains the screen's pause")
	if longest < stood {
		assert.Empty(t, said)
		assert.False(t, shown, "shown")
		assert.False(t, heard && rang == "", "heard, and no alarm was told\n%s", r.glass.picture())
	}
}

// cutAt is the begin of a text.
func cutAt(text string, n int) string { return text[:min(n, len(text))] }

// A terminal at the end of a slow line, whose answers take 300 ms, is no stall; and
// when the program ends, no answer is left for the shell.
func TestFarTerminalIsNoStall(t *testing.T) {
	r, _, notes := watchedRig(t, "--tick=false")
	r.idle.Store(0)
	r.far.Store(int64(300 * time.Millisecond))
	time.Sleep(8 * time.Second)
	if idle := time.Duration(r.idle.Load()); idle < 400*time.Millisecond {
		assert.Empty(t, notes())
	} else {
		t.Logf("the terminal read nothing for %v", idle)
	}
	r.quitsClean(t)
}

// The same with a terminal near by that has been stopped for a while before.
func TestAnswersAreNotLeftBehind(t *testing.T) {
	r, _, _ := watchedRig(t, "--tick=false")
	goOn := r.hold(t)
	time.Sleep(4 * time.Second)
	goOn()
	time.Sleep(500 * time.Millisecond)
	r.quitsClean(t)
}

// quitsClean ends the program by its key, and wants nothing to be left in the
// terminal's input. A terminal that was held up itself, and answers when all is over,
// is not waited for.
func (r *rig) quitsClean(t *testing.T) {
	t.Helper()
	began := time.Now()
	r.late.Store(0)
	left := r.quit(t)
	if late := time.Duration(r.late.Load()); late > 100*time.Millisecond || r.beat.held(began) > 0 {
		t.Logf("the terminal answered %v late: what is left is not judged: %q", late, left)
		return
	}
	assert.Empty(t, left)
}

// quit ends the program by its key, and tells what stands in the terminal's input
// afterwards.
func (r *rig) quit(t *testing.T) string {
	r.press(t, "q")
	_ = waitFor(r.cmd)
	require.True(t, r.cmd.ProcessState.Exited(), "it has not ended\n%s", r.glass.picture())
	time.Sleep(500 * time.Millisecond)
	fd := int(r.slave.Fd())
	_, err := term.MakeRaw(fd) // what is no whole line can be read
	require.NoError(t, err)
	require.NoError(t, syscall.SetNonblock(fd, true))
	buf := make([]byte, 256)
	n, err := syscall.Read(fd, buf)
	if err != nil {
		require.ErrorIs(t, err, syscall.EAGAIN)
		return ""
	}
	return string(buf[:n])
}
