//go:build linux

package main

import (
	"encoding/binary"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A nullSink is a real sound server whose output leads nowhere, and an ear at
// that output.
type nullSink struct {
	dir    string
	server *exec.Cmd
	mu     sync.Mutex
	began  []time.Time // of each burst
	quiet  int         // samples of silence that came last
}

// quietSamples of silence, half a second, end a burst; the pauses inside one
// are shorter.
const quietSamples = 24_000

// startNullSink starts the server; nil where none is installed.
func startNullSink(t testing.TB) *nullSink {
	for _, tool := range []string{"pulseaudio", "parec"} {
		if _, err := exec.LookPath(tool); err != nil {
			return nil
		}
	}
	dir, err := os.MkdirTemp("", "bell") // a socket's name is short
	require.NoError(t, err)
	s := &nullSink{dir: dir, quiet: quietSamples}
	server := s.command("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--disallow-exit", "--use-pid-file=no",
		"-L", "module-native-protocol-unix auth-anonymous=1 socket="+s.socket(), "-L", "module-null-sink sink_name=bench")
	require.NoError(t, server.Start())
	s.server = server
	t.Cleanup(func() {
		_ = server.Process.Kill()
		_ = server.Wait()
		os.RemoveAll(dir)
	})
	soon(t, func() bool {
		c, err := net.Dial("unix", s.socket())
		if err == nil {
			c.Close()
		}
		return err == nil
	}, "the server comes up")
	return s
}

func (s *nullSink) socket() string { return filepath.Join(s.dir, "s") }

func (s *nullSink) env() []string {
	return []string{"PULSE_SERVER=unix:" + s.socket(), "HOME=" + s.dir, "XDG_RUNTIME_DIR=" + s.dir,
		"PULSE_RUNTIME_PATH=" + s.dir, "PULSE_STATE_PATH=" + s.dir}
}

func (s *nullSink) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(name, args...)
	c.Env = append(os.Environ(), s.env()...)
	return c
}

// listen notes when sound begins.
func (s *nullSink) listen(t testing.TB) { s.record(t, s.take) }

// record hands over all that comes out, 48000 samples a second, with the
// moment at which it was read.
func (s *nullSink) record(t testing.TB, take func(samples []int16, at time.Time)) {
	rec := s.command("parec", "-d", "bench.monitor", "--rate=48000", "--channels=1", "--format=s16le", "--latency-msec=10", "--raw")
	out, err := rec.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, rec.Start())
	done, listens := make(chan struct{}), make(chan struct{})
	t.Cleanup(func() {
		_ = rec.Process.Kill()
		<-done
		_ = rec.Wait()
	})
	began := sync.OnceFunc(func() { close(listens) })
	// The ear: ended by the end of the recorder, waited for above.
	go func() {
		defer close(done)
		buf, samples := make([]byte, 4096), make([]int16, 0, 2048)
		for odd := 0; ; {
			n, err := out.Read(buf[odd:])
			n += odd
			samples = samples[:0]
			for i := 0; i+1 < n; i += 2 {
				samples = append(samples, int16(binary.LittleEndian.Uint16(buf[i:])))
			}
			take(samples, time.Now())
			if len(samples) > 0 {
				began() // silence too is heard
			}
			if odd = n & 1; odd == 1 {
				buf[0] = buf[n-1]
			}
			if err != nil {
				return
			}
		}
	}()
	soon(t, func() bool {
		select {
		case <-listens:
			return true
		default:
			return false
		}
	}, "the ear listens")
}

// settled waits until the start has been heard, and has ended.
func (s *nullSink) settled(t testing.TB, from time.Time) {
	t.Helper()
	soon(t, func() bool { _, ok := s.after(from); return ok }, "the chime of the start")
	soon(t, s.silent, "silence after it")
}

func (s *nullSink) take(samples []int16, at time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, v := range samples {
		if v <= 60 && v >= -60 {
			s.quiet++
			continue
		}
		if s.quiet >= quietSamples {
			s.began = append(s.began, at)
		}
		s.quiet = 0
	}
}

// silent reports whether a burst has ended, and the next has not begun.
func (s *nullSink) silent() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.quiet >= quietSamples
}

// after is when the first burst began after a moment.
func (s *nullSink) after(from time.Time) (time.Time, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, at := range s.began {
		if at.After(from) {
			return at, true
		}
	}
	return time.Time{}, false
}
