//go:build linux

package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// A rig is the whole program between two pseudo-terminals: one is its bridge,
// the other the terminal that it draws on.
type rig struct {
	cmd    *exec.Cmd
	bridge *pseudo
	tty    *os.File
	slave  *os.File // the program's end of the terminal
	glass  *glassPane
	flow   sync.Mutex   // held: the terminal reads nothing
	idle   atomic.Int64 // nanoseconds that it read nothing at most, for whatever reason
	late   atomic.Int64 // nanoseconds that its answers were later than they should at most
	record string       // the folder that it records in
	far    atomic.Int64 // nanoseconds that its answers are on their way
	beat   *metronome
}

// startRig starts a watch on a terminal of a size. sink may be nil: no sound.
func startRig(t testing.TB, w, h int, sink *nullSink, args ...string) *rig {
	return startRigIn(t, nil, w, h, sink, args...)
}

// startRigIn starts one with more in its environment.
func startRigIn(t testing.TB, env []string, w, h int, sink *nullSink, args ...string) *rig {
	bridge, err := openPseudo("")
	require.NoError(t, err)
	tty, slave, err := pty.Open()
	require.NoError(t, err)
	require.NoError(t, pty.Setsize(tty, &pty.Winsize{Rows: uint16(h), Cols: uint16(w)}))
	r := &rig{bridge: bridge, tty: tty, slave: slave, glass: newGlassPane(w, h), beat: startMetronome(t)}
	args = append([]string{"watch", bridge.path, "--baud", "3000000"}, args...)
	if sink == nil {
		args = append(args, "--sound", "off")
	}
	r.cmd = exec.Command("tetherbell", args...)
	r.cmd.Env = append(os.Environ(), "TERM=xterm-256color", "COLORTERM=truecolor", "LANG=C.UTF-8", "LC_ALL=C.UTF-8")
	r.cmd.Env = append(r.cmd.Env, env...)
	if sink != nil {
		r.cmd.Env = append(r.cmd.Env, sink.env()...)
	}
	r.cmd.Stdin, r.cmd.Stdout, r.cmd.Stderr = slave, slave, slave
	r.cmd.SysProcAttr = controlling()
	require.NoError(t, r.cmd.Start())
	done := make(chan struct{})
	t.Cleanup(func() {
		_ = r.cmd.Process.Kill()
		_ = r.cmd.Wait()
		slave.Close() // with the program's own the last one
		<-done
		tty.Close()
		bridge.close()
	})
	// The terminal: ended by the end of the program, waited for above.
	go func() {
		defer close(done)
		buf := make([]byte, 64<<10)
		last := time.Now()
		for {
			n, err := tty.Read(buf)
			at := time.Now()
			r.idle.Store(max(r.idle.Load(), int64(at.Sub(last))))
			last = at
			r.flow.Lock()
			r.glass.take(buf[:n], at)
			if said := r.glass.answers(); said != "" {
				far := time.Duration(r.far.Load())
				time.AfterFunc(far, func() {
					_, _ = tty.WriteString(said)
					r.late.Store(max(r.late.Load(), int64(time.Since(at)-far)))
				})
			}
			r.flow.Unlock()
			if err != nil {
				return
			}
		}
	}()
	return r
}

// hold lets the terminal read nothing, until it is told to go on, or the test has
// failed meanwhile.
func (r *rig) hold(t testing.TB) (goOn func()) {
	r.flow.Lock()
	goOn = sync.OnceFunc(r.flow.Unlock)
	t.Cleanup(goOn)
	return goOn
}

func (r *rig) press(t testing.TB, keys string) {
	t.Helper()
	_, err := r.tty.WriteString(keys)
	require.NoError(t, err)
}

func (r *rig) until(t testing.TB, what string, ok func() bool) {
	t.Helper()
	if !waited(ok) {
		t.Fatalf("never: %s\n%s", what, r.glass.picture())
	}
}

func (r *rig) sees(t testing.TB, text string) {
	t.Helper()
	r.until(t, text, func() bool { return r.glass.shows(text) })
}

// cpu is the processor time that the program has used so far; the clock of
// /proc/PID/stat (proc(5), from memory) ticks a hundred times a second.
func (r *rig) cpu(t testing.TB) time.Duration {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", r.cmd.Process.Pid))
	require.NoError(t, err)
	f := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
	user, err := strconv.Atoi(f[11])
	require.NoError(t, err)
	system, err := strconv.Atoi(f[12])
	require.NoError(t, err)
	return time.Duration(user+system) * 10 * time.Millisecond
}

// memory is what the program holds in memory now, and held at most, in MB.
func (r *rig) memory(t testing.TB) (now, most float64) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", r.cmd.Process.Pid))
	require.NoError(t, err)
	find := func(key string) float64 {
		_, after, ok := strings.Cut(string(text), "\n"+key+":")
		require.True(t, ok)
		kb, err := strconv.Atoi(strings.Fields(after)[0])
		require.NoError(t, err)
		return float64(kb) / 1000
	}
	return find("VmRSS"), find("VmHWM")
}

// machineLoad is the load of the whole machine over the last minute: what a
// figure is worth depends on it.
func machineLoad() float64 {
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return 0
	}
	v, _ := strconv.ParseFloat(strings.Fields(string(text))[0], 64)
	return v
}

// A stream is a bridge in real time: 1000 axes lines a second, outputs 100
// times, state 50 times, of a craft that is armed when told so.
type stream struct {
	t     testing.TB
	w     io.Writer
	begin time.Time

	mu     sync.Mutex
	chance *rand.Rand
	us     int64
	seq    uint16
	count  int64 // lines made so far
	armed  bool
	stick  float64
	buf    []byte
	wrote  time.Time // the last lines
	silent int       // silences of its own that ring, for it was held up
	stop   chan struct{}
	done   chan struct{}
}

// startStream starts one; it ends with the test.
func startStream(t testing.TB, r *rig) *stream {
	return streamTo(t, bridgeEnd{r.bridge.master, r.bridge})
}

// A bridgeEnd is written to as a bridge does; what nobody reads can be thrown away.
type bridgeEnd struct {
	io.Writer
	p *pseudo
}

func (b bridgeEnd) discard() int { return b.p.discard() }

// streamTo sends one anywhere. What is written to w are whole lines.
func streamTo(t testing.TB, w io.Writer) *stream {
	s := &stream{t: t, w: w, begin: time.Now(), chance: rand.New(rand.NewPCG(3, 4)), stop: make(chan struct{}), done: make(chan struct{})}
	go s.routineSend()
	t.Cleanup(func() {
		close(s.stop)
		for { // a program that has ended reads no more of what is being written
			select {
			case <-s.done:
				return
			case <-time.After(20 * time.Millisecond):
				if p, ok := w.(interface{ discard() int }); ok {
					p.discard()
				}
			}
		}
	})
	return s
}

// routineSend is started by startStream, ended by the end of the test, and
// waited for there.
func (s *stream) routineSend() {
	defer close(s.done)
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case <-s.stop:
			return
		case <-tick.C:
		}
		s.mu.Lock()
		s.buf = s.buf[:0]
		for now := time.Since(s.begin).Microseconds(); s.us+1000 <= now; {
			s.us += 1000
			s.step(s.us / 1000)
		}
		if now := time.Now(); len(s.buf) > 0 {
			if !s.wrote.IsZero() && now.Sub(s.wrote) > staleAfter {
				s.silent++
			}
			s.wrote = now
		}
		_, err := s.w.Write(s.buf)
		s.mu.Unlock()
		if err != nil {
			return
		}
	}
}

// step adds the lines of one millisecond.
func (s *stream) step(ms int64) {
	noise := [3]float64{s.chance.NormFloat64(), s.chance.NormFloat64(), s.chance.NormFloat64()} // of the gyro
	s.add(decode.Axes, 0.2*noise[0], 0.2*noise[1], 0.2*noise[2], 0, 0, 0, 5e-4*noise[0], 5e-4*noise[1], 5e-4*noise[2], s.stick)
	if ms%10 == 0 {
		idle := 0.0
		if s.armed {
			idle = 0.08
		}
		s.add(decode.Out, idle, idle, idle, idle)
	}
	if ms%20 == 0 {
		s.state()
	}
}

func (s *stream) state() {
	armed := 0.0
	if s.armed {
		armed = 1
	}
	s.add(decode.State, armed, 0, 1, s.stick, 0, 0, 0, 1)
}

func (s *stream) add(tag decode.Tag, v ...float64) {
	line := decode.Sample{Tag: tag, Seq: s.seq, Time: uint32(s.us)}
	s.seq++
	s.count++
	for i := range v {
		line.Put(i, v[i])
	}
	s.buf = decode.Append(s.buf, &line)
}

// set arms or disarms, with the stick where it is told, by a line of its own,
// and tells when that line was written.
func (s *stream) set(armed bool, stick float64) time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.armed, s.stick = armed, stick
	s.buf = s.buf[:0]
	s.state()
	at := time.Now()
	_, err := s.w.Write(s.buf)
	require.NoError(s.t, err)
	return at
}
