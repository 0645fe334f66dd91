package main

import (
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"sync"
	"syscall"
	"testing"
	"time"
)

const (
	// patience is how long a test waits for what must come. It is there for what
	// never comes: nothing that works takes a tenth of it.
	patience = 40 * time.Second
	// glanceEvery is how often it looks meanwhile.
	glanceEvery = 5 * time.Millisecond
	// stoodStill is the pause from which on a test was not let run: sixteen looks
	// are missing then.
	stoodStill = 80 * time.Millisecond
)

// waited looks until something is so, and reports whether it came to be. A machine
// that stands still for a while takes no more of its patience than a look does, for
// whoever is waited for stood still too.
func waited(ok func() bool) bool {
	for left := patience; left > 0; {
		began := time.Now()
		if ok() {
			return true
		}
		time.Sleep(glanceEvery)
		left -= min(time.Since(began), stoodStill)
	}
	return ok()
}

// soon wants something to be so before patience is over.
func soon(t testing.TB, ok func() bool, what ...any) {
	t.Helper()
	if !waited(ok) {
		t.Fatalf("never: %s", fmt.Sprint(what...))
	}
}

// bound kills a program that does not end, so that nobody waits for it for ever.
// ended says that it has.
func bound(cmd *exec.Cmd) (ended func()) {
	done := make(chan struct{})
	// Ended by ended, or by its patience.
	go func() {
		over := func() bool {
			select {
			case <-done:
				return true
			default:
				return false
			}
		}
		if !waited(over) {
			_ = cmd.Process.Kill()
		}
	}()
	return sync.OnceFunc(func() { close(done) })
}

// waitFor waits for the end of a program; one that does not end is killed, which is
// an error.
func waitFor(cmd *exec.Cmd) error {
	defer bound(cmd)()
	return cmd.Wait()
}

// A metronome notes when the test itself is held up: by so much a thing that was
// measured by the clock may have come later than the program meant it to.
type metronome struct {
	mu   sync.Mutex
	last time.Time
	gaps []time.Time // begins and ends by turns
}

// startMetronome starts one; it ends with the test.
func startMetronome(t testing.TB) *metronome {
	m := &metronome{last: time.Now()}
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		tick := time.NewTicker(2 * glanceEvery)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
				m.beat()
			}
		}
	}()
	t.Cleanup(func() {
		close(stop)
		<-done
	})
	return m
}

// beat notes a pause that was too long.
func (m *metronome) beat() {
	m.mu.Lock()
	defer m.mu.Unlock()
	now := time.Now()
	if now.Sub(m.last) >= stoodStill {
		m.gaps = append(m.gaps, m.last, now)
	}
	m.last = now
}

// held is for how long the test has been held up since a moment.
func (m *metronome) held(from time.Time) (sum time.Duration) {
	m.beat() // it may have been held up until now
	m.mu.Lock()
	defer m.mu.Unlock()
	for i := 0; i < len(m.gaps); i += 2 {
		if begin, end := m.gaps[i], m.gaps[i+1]; end.After(from) {
			sum += min(end.Sub(begin), end.Sub(from))
		}
	}
	return sum
}

// since is how long ago a moment was, less what the test was held up meanwhile.
func (m *metronome) since(from time.Time) time.Duration { return time.Since(from) - m.held(from) }

// TestMetronome: a pause counts from the moment that is asked about.
func TestMetronome(t *testing.T) {
	at := func(ms int) time.Time { return time.Unix(1, 0).Add(time.Duration(ms) * time.Millisecond) }
	m := &metronome{last: time.Now(), gaps: []time.Time{at(100), at(300), at(500), at(1500)}}
	for from, want := range map[int]time.Duration{0: 1200, 200: 1100, 400: 1000, 600: 900, 1500: 0} {
		if got := m.held(at(from)); got != want*time.Millisecond {
			t.Errorf("from %d ms: %v, want %d ms", from, got, want)
		}
	}
	began := time.Now()
	m.last = began.Add(-time.Minute)
	if got := m.held(began.Add(-time.Second)); got < time.Second || got > 2*time.Second {
		t.Errorf("held up until now: %v", got)
	}
}

// strangers are the tests on whatever machine they run.
type strangers struct{ *testing.M }

// Run has them depend neither on what their user has kept, whose baselines and
// attempts would be taken for the tests' own, nor on signals that were ignored when
// they were started (nohup, a shell's background): programs that are started by them
// heed every signal.
func (s strangers) Run() int {
	for _, sig := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT} {
		if signal.Ignored(sig) {
			signal.Notify(make(chan os.Signal, 1), sig) // as before for us; a program that is started begins anew
		}
	}
	home, err := os.MkdirTemp("", "tetherbell")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(home)
	for _, name := range []string{"HOME", "AppData", "XDG_CONFIG_HOME", "XDG_DATA_HOME"} {
		if err := os.Setenv(name, home); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
	}
	return s.M.Run()
}
