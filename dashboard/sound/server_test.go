//go:build unix && !darwin

package sound

import (
	"context"
	"encoding/binary"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// shortDir is a temporary folder whose name leaves room for a socket's.
func shortDir(t *testing.T) string {
	dir, err := os.MkdirTemp("", "bell")
	require.NoError(t, err)
	t.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}

// A server is a real PulseAudio server with an output that leads nowhere, and
// a recorder of what is played into it.
type server struct {
	t   *testing.T
	dir string
	cmd *exec.Cmd
	rec *exec.Cmd

	over sync.Once
	mu   sync.Mutex
	got  []int16
	came []time.Time // when each piece came, with got's length then
	size []int
	done chan struct{}
}

func startServer(t *testing.T, dir string) *server {
	for _, tool := range []string{"pulseaudio", "parec"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(tool + " is not installed: the sound server was not tried")
		}
	}
	s := &server{t: t, dir: dir, done: make(chan struct{})}
	socket := filepath.Join(dir, "s")
	os.Remove(socket)
	s.cmd = s.command("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--disallow-exit",
		"--use-pid-file=no",
		"-L", "module-native-protocol-unix auth-anonymous=1 socket="+socket,
		"-L", "module-null-sink sink_name=bench")
	require.NoError(t, s.cmd.Start())
	t.Cleanup(s.stop) // also where the test fails first: nothing else ends it
	require.Eventually(t, func() bool {
		c, err := net.Dial("unix", socket)
		if err == nil {
			c.Close()
		}
		return err == nil
	}, time.Minute, 50*time.Millisecond, "the server comes up")
	return s
}

func (s *server) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(name, args...)
	c.Env = append(os.Environ(), "PULSE_SERVER=unix:"+filepath.Join(s.dir, "s"), "HOME="+s.dir,
		"XDG_RUNTIME_DIR="+s.dir, "PULSE_RUNTIME_PATH="+s.dir, "PULSE_STATE_PATH="+s.dir)
	return c
}

// record keeps what is played and when it came.
func (s *server) record() {
	s.rec = s.command("parec", "-d", "bench.monitor", "--rate=48000", "--channels=1",
		"--format=s16le", "--latency-msec=10", "--raw")
	out, err := s.rec.StdoutPipe()
	require.NoError(s.t, err)
	require.NoError(s.t, s.rec.Start())
	go func() {
		defer close(s.done)
		buf := make([]byte, 4096)
		odd := 0
		for {
			n, err := out.Read(buf[odd:])
			n += odd
			s.mu.Lock()
			for i := 0; i+1 < n; i += 2 {
				s.got = append(s.got, int16(binary.LittleEndian.Uint16(buf[i:])))
			}
			s.came, s.size = append(s.came, time.Now()), append(s.size, len(s.got))
			s.mu.Unlock()
			if odd = n % 2; odd == 1 {
				buf[0] = buf[n-1]
			}
			if err != nil {
				return
			}
		}
	}()
}

func (s *server) recorded() []int16 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]int16(nil), s.got...)
}

// soundAfter is when the first sound came whose sample lies after from.
func (s *server) soundAfter(from int) (time.Time, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := from; i < len(s.got); i++ {
		if v := s.got[i]; v > 60 || v < -60 {
			for k, size := range s.size {
				if size > i {
					return s.came[k], true
				}
			}
		}
	}
	return time.Time{}, false
}

func (s *server) stop() {
	s.over.Do(func() {
		if s.rec != nil {
			s.rec.Process.Kill()
			<-s.done
			s.rec.Wait()
		}
		s.cmd.Process.Signal(syscall.SIGCONT)
		s.cmd.Process.Kill()
		s.cmd.Wait()
	})
}

// opener opens audio on this server.
func (s *server) opener() opener {
	return func(ctx context.Context, v *voice) (*device, error) {
		return openPulse(ctx, v, []address{{"unix", filepath.Join(s.dir, "s")}})
	}
}
