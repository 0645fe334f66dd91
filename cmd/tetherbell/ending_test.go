//go:build linux

package main

import (
	"context"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// stateLine is a state line of a bridge, with this armed.
func stateLine(ms uint32, armed float64) []byte {
	s := decode.Sample{Tag: decode.State, Seq: uint16(ms / 20), Time: ms * 1000}
	for i, v := range []float64{armed, 0, 1, 0, 0, 0, 0, 1} {
		s.Put(i, v)
	}
	return decode.Append(nil, &s)
}

func TestSignalCauses(t *testing.T) {
	for _, c := range []struct {
		cause   error
		unasked bool
	}{
		{signalled{os.Interrupt}, false},
		{signalled{syscall.SIGTERM}, true},
		{signalled{syscall.SIGHUP}, true},
		{nil, false},
	} {
		ctx, cancel := context.WithCancelCause(t.Context())
		cancel(c.cause)
		assert.Equal(t, c.unasked, unasked(ctx) != nil, "%v", c.cause)
	}
	assert.NoError(t, unasked(t.Context()))
}

// The window is closed while the craft is armed: the high pattern is heard to its
// end, and the recording is whole.
func TestSignalHangupWhileArmedIsHeard(t *testing.T) {
	for _, c := range []struct {
		name  string
		armed bool
	}{{"armed", true}, {"disarmed", false}} {
		t.Run(c.name, func(t *testing.T) {
			if testing.Short() {
				t.Skip("takes some seconds")
			}
			dir := t.TempDir()
			sink := startNullSink(t)
			if sink == nil {
				t.Skip("pulseaudio or parec is not installed")
			}
			sink.listen(t)
			began := time.Now()
			r := startRig(t, 140, 45, sink, "--record", dir)
			s := startStream(t, r)
			r.sees(t, "PulseAudio")
			s.set(c.armed, 0)
			r.sees(t, map[bool]string{true: "ARMED 0:0", false: "│ disarmed │"}[c.armed])
			sink.settled(t, began)
			at := time.Now()
			r.slave.Close()
			r.tty.Close()
			err := waitFor(r.cmd)
			took := time.Since(at)
			t.Logf("ended after %v: %v", took.Round(time.Millisecond), err)
			if c.armed {
				r.hearsInTime(t, sink, "sound", at)
				assert.Greater(t, took, 3600*time.Millisecond, "its pattern was heard whole")
				assert.Less(t, took-r.beat.held(at), 7*time.Second)
			} else {
				time.Sleep(time.Second)
				require.False(t, sink.hears(at)(), "heard")
				assert.Less(t, took-r.beat.held(at), 3*time.Second)
			}
			assert.NotEmpty(t, linesOf(t, dir, "#end "), "the recording is whole")
		})
	}
}

// A service that is stopped while the craft is armed says so, and its status too.
func TestSignalWhileArmedIsNoQuietEnd(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		sig   os.Signal
		armed float64
		said  bool
	}{
		{syscall.SIGTERM, 1, true}, {syscall.SIGHUP, 1, true}, {os.Interrupt, 1, false}, {syscall.SIGTERM, 0, false},
	} {
		p, err := openPseudo("")
		require.NoError(t, err)
		defer p.close()
		dir := t.TempDir()
		m := startMonitor(t, "watch", p.path, "--plain", "--sound", "off", "--record", dir)
		m.until(&m.err, "recording to", 0)
		for ms := range uint32(20) {
			_, err := p.master.Write(stateLine(ms*20, c.armed))
			require.NoError(t, err)
			time.Sleep(20 * time.Millisecond)
		}
		holds(t, dir, "\nstate,", 20)
		livesOn(t, dir, 3*frameEvery) // whether it is relied on is looked at with each picture
		require.NoError(t, m.cmd.Process.Signal(c.sig))
		err = m.ended()
		said := strings.Join(m.err, "\n")
		assert.Equal(t, c.said, err != nil, "%v %v: %s", c.sig, c.armed, said)
		assert.Equal(t, c.said, strings.Contains(said, "nobody watches it any more\nhint: cut throttle"), said)
		assert.NotEmpty(t, linesOf(t, dir, "#end "))
		if c.said {
			assert.Contains(t, linesOf(t, dir, "#note "), "while the craft may be ARMED: the watch ends")
		}
	}
}

// Signals that were ignored from the start (nohup, a shell's background) stay so.
func TestSignalsIgnoredStayIgnored(t *testing.T) {
	t.Parallel()
	for _, sig := range []string{"HUP", "INT"} {
		p, err := openPseudo("")
		require.NoError(t, err)
		defer p.close()
		cmd := exec.Command("sh", "-c", `trap "" `+sig+`; exec tetherbell watch "$0" --plain --sound off`, p.path)
		m := monitorOf(t, cmd)
		m.until(&m.err, "watching ", 0)
		require.NoError(t, cmd.Process.Signal(map[string]os.Signal{"HUP": syscall.SIGHUP, "INT": os.Interrupt}[sig]))
		time.Sleep(500 * time.Millisecond)
		require.NoError(t, cmd.Process.Signal(syscall.Signal(0)))
		status, err := os.ReadFile("/proc/" + strconv.Itoa(cmd.Process.Pid) + "/stat")
		require.NoError(t, err)
		assert.NotContains(t, string(status), ") Z ", "%s: it goes on", sig)
		require.NoError(t, cmd.Process.Signal(syscall.SIGTERM))
		require.NoError(t, m.ended())
	}
}

// While the bell rings for a watch that is ended from outside, the screen says so in
// large letters; what is told after it fits the terminal.
func TestSignalHangupWhileArmedIsSeen(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	r := startRig(t, 80, 24, &nullSink{dir: t.TempDir()}, "--sound", "bell")
	s := startStream(t, r)
	r.sees(t, "NOT ALL WATCHED")
	s.set(true, 0)
	r.sees(t, "ARMED 0:01")
	require.NoError(t, r.cmd.Process.Signal(syscall.SIGHUP))
	r.within(t, "its end, large", time.Now(), func() bool {
		return r.glass.shows("NOBODY WATCHES NOW") && r.glass.shows("WATCH ENDS │") && r.glass.shows("first: cut throttle, press stop")
	})
	r.sees(t, "tetherbell: ended by a signal (hangup) while the craft may be ARMED: nobody")
	r.sees(t, "  watches it any more")
	r.sees(t, "hint: cut throttle and press stop")
}
