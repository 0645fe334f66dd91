package dashboard

import (
	"errors"
	"io"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/dashboard/vigil"
)

// A far is a terminal at the end of a line of its own, under a clock of its own.
// Pictures go to it as often as told, and its answers come back a round trip
// later, as beats do.
type far struct {
	*asker
	now    time.Time
	every  time.Duration
	delay  func() time.Duration // the round trip; negative: no answer
	coming []time.Time
	beat   time.Time
	gap    time.Duration // the longest without a beat
	said   int
}

func newFar(every, delay time.Duration) *far {
	f := &far{asker: newAsker(&nullTty{}, nil), now: time.Now(), every: every}
	f.delay = func() time.Duration { return delay }
	f.beat = f.now
	return f
}

func (f *far) beats() {
	f.gap, f.beat = max(f.gap, f.now.Sub(f.beat)), f.now
}

func (f *far) run(d time.Duration) {
	next := f.now
	for end := f.now.Add(d); f.now.Before(end); f.now = f.now.Add(5 * time.Millisecond) {
		for len(f.coming) > 0 && !f.now.Before(f.coming[0]) {
			f.coming = f.coming[1:]
			f.take([]byte(answer), f.now)
			f.beats()
		}
		if f.now.Before(next) {
			continue
		}
		next = f.now.Add(f.every)
		before := f.owed
		if f.shown(f.now) {
			f.beats()
		}
		if f.owed == before {
			continue
		}
		f.said++
		if r := f.delay(); r >= 0 {
			f.coming = append(f.coming, f.now.Add(r))
		}
	}
	f.gap = max(f.gap, f.now.Sub(f.beat))
}

// stalls lets the terminal answer no more, and tells how long beats still come.
func (f *far) stalls() time.Duration {
	at := f.now
	f.delay = func() time.Duration { return -1 }
	f.coming = nil
	f.run(12 * time.Second)
	return f.beat.Sub(at)
}

// A terminal in order is never near the limit of a screen, 0.7 s, wherever it is;
// one that stops is without beats at once where it is near.
func TestRoundTrips(t *testing.T) {
	const ms = time.Millisecond
	cases := []struct {
		name         string
		every, delay time.Duration
		gap, after   time.Duration // at most
	}{
		{"here", 100 * ms, 2 * ms, 150 * ms, 10 * ms},
		{"here, a picture that stands", 250 * ms, 2 * ms, 260 * ms, 10 * ms},
		{"in the building", 100 * ms, 30 * ms, 150 * ms, 10 * ms},
		{"slow", 100 * ms, 200 * ms, 350 * ms, 500 * ms},
		{"slow, a picture that stands", 250 * ms, 400 * ms, 550 * ms, 900 * ms},
		{"very slow", 100 * ms, 1500 * ms, 500 * ms, 2200 * ms},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			f := newFar(c.every, c.delay)
			f.run(20 * time.Second) // what is known of the trip has settled
			f.gap = 0
			f.run(20 * time.Second)
			gap := f.gap
			assert.LessOrEqual(t, gap, c.gap)
			after := f.stalls()
			assert.LessOrEqual(t, after, c.after)
			t.Logf("longest gap %v, last beat %v after the stall", gap, after)
		})
	}
}

// A round trip that leaps between 200 and 400 ms is no stall either.
func TestUnsteadyTrip(t *testing.T) {
	f := newFar(100*time.Millisecond, 0)
	n := 0
	f.delay = func() time.Duration { n++; return time.Duration(200+n*37%200) * time.Millisecond }
	f.run(60 * time.Second)
	assert.Less(t, f.gap, 500*time.Millisecond)
	assert.Greater(t, n, 50)
}

// One that never answers is asked once, and judged by what it takes.
func TestNeverAnswers(t *testing.T) {
	f := newFar(100*time.Millisecond, -1)
	f.run(time.Minute)
	assert.Equal(t, 1, f.said)
	assert.LessOrEqual(t, f.gap, 110*time.Millisecond)
}

// An answer that is lost is asked for again; a terminal that stands still is not
// asked so often that its answers pile up; the trip is not measured by them.
func TestLostAnswer(t *testing.T) {
	f := newFar(100*time.Millisecond, 5*time.Millisecond)
	f.run(5 * time.Second)
	bound := f.trip.bound()
	f.delay = func() time.Duration {
		f.delay = func() time.Duration { return 5 * time.Millisecond }
		return -1
	}
	f.gap = 0
	f.run(5 * time.Second)
	assert.InDelta(t, 1.1, f.gap.Seconds(), 0.15, "asked again after a second")
	assert.Less(t, f.trip.bound(), bound+20*time.Millisecond)
	before := f.said
	f.stalls()
	assert.LessOrEqual(t, f.said-before, 5)
}

// A keyboard that works at a terminal which answers no more ends the judging,
// until it answers again.
func TestKeysAreLifeToo(t *testing.T) {
	f := newFar(100*time.Millisecond, 5*time.Millisecond)
	f.run(5 * time.Second)
	f.take([]byte("a"), f.now)
	assert.True(t, f.judged, "a key while nothing is overdue changes nothing")
	f.stalls()
	assert.True(t, f.judged)
	f.take([]byte("a"), f.now)
	f.gap, f.beat = 0, f.now
	f.run(3 * time.Second)
	assert.LessOrEqual(t, f.gap, 110*time.Millisecond)
	f.take([]byte(answer), f.now)
	assert.True(t, f.judged)
}

// A nullTty takes everything.
type nullTty struct{ tcell.Tty }

func (*nullTty) Write(p []byte) (int, error) { return len(p), nil }

// A wire is a terminal's end whose reads are told.
type wire struct {
	tcell.Tty
	reads   chan string
	drained chan struct{}
	mu      sync.Mutex
	written strings.Builder
	answers bool
}

func newWire(answers bool) *wire {
	return &wire{reads: make(chan string, 16), drained: make(chan struct{}), answers: answers}
}

func (w *wire) Start() error { return nil }
func (w *wire) Stop() error  { return nil }
func (w *wire) Close() error { return nil }
func (w *wire) Drain() error { close(w.drained); return nil }

func (w *wire) Read(p []byte) (int, error) {
	select {
	case s := <-w.reads:
		return copy(p, s), nil
	case <-w.drained:
		return 0, io.EOF
	}
}

func (w *wire) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.written.Write(p)
	if w.answers && string(p) == question {
		w.reads <- answer
	}
	return len(p), nil
}

func (w *wire) NotifyResize(func()) {}
func (w *wire) WindowSize() (tcell.WindowSize, error) {
	return tcell.WindowSize{Width: 40, Height: 10}, nil
}

// readAll reads for a while, then ends the terminal in its order.
func readAll(t *testing.T, a *asker, d time.Duration) string {
	got := make(chan string, 1)
	go func() {
		var all []byte
		p := make([]byte, 3)
		for {
			n, err := a.Read(p)
			all = append(all, p[:n]...)
			if err != nil {
				assert.True(t, errors.Is(err, io.EOF))
				got <- string(all)
				return
			}
		}
	}()
	time.Sleep(d)
	require.NoError(t, a.Drain())
	all := <-got
	require.NoError(t, a.Stop())
	return all
}

// Escape alone comes through, soon where no answer is awaited; what was not asked
// for comes through too.
func TestReadsThroughTheAsker(t *testing.T) {
	cases := []struct {
		name  string
		ask   bool
		reads []string
		want  string
	}{
		{"before the first question", false, []string{answer, "\x1b"}, answer + "\x1b"},
		{"after it", true, []string{"a", answer, "b\x1b[0", "nc"}, "abc"},
		{"Escape while an answer is awaited", true, []string{"\x1b"}, "\x1b"},
		{"Escape while none is", true, []string{answer, "\x1b"}, "\x1b"},
		{"more than one read can hold", true, []string{strings.Repeat("0123456789", 20) + answer}, strings.Repeat("0123456789", 20)},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				w := newWire(false)
				a := newAsker(w, new(vigil.Watch))
				require.NoError(t, a.Start())
				if c.ask {
					assert.True(t, a.shown(time.Now()), "not judged yet")
					assert.Equal(t, question, w.written.String())
				}
				for _, r := range c.reads {
					w.reads <- r
				}
				assert.Equal(t, c.want, readAll(t, a, 300*time.Millisecond))
			})
		})
	}
}

// At the end the answer on its way is awaited, and one that never comes is not
// for long.
func TestPartingFromATerminal(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWire(false)
		a := newAsker(w, nil)
		require.NoError(t, a.Start())
		go func() {
			for {
				if _, err := a.Read(make([]byte, 8)); err != nil {
					return
				}
			}
		}()
		a.shown(time.Now())
		began := time.Now()
		time.AfterFunc(100*time.Millisecond, func() { w.reads <- answer })
		a.part()
		assert.Equal(t, 100*time.Millisecond, time.Since(began))
		assert.False(t, a.expects(time.Now()))
		a.shown(time.Now().Add(time.Second))
		assert.Equal(t, question, w.written.String(), "nothing is asked after that")
		require.NoError(t, a.Drain())

		b := newAsker(newWire(false), nil)
		b.shown(time.Now())
		began = time.Now()
		b.part()
		assert.Equal(t, partMost, time.Since(began))
	})
}

// A whole screen over an asked terminal: the answers are its beats, no key comes
// of them, and a key that is pressed does come.
func TestScreenOverAnAskedTerminal(t *testing.T) {
	t.Setenv("TERM", "xterm-256color")
	synctest.Test(t, func(t *testing.T) {
		w := newWire(true)
		watch := new(vigil.Watch)
		a := newAsker(w, watch)
		screen, err := tcell.NewTerminfoScreenFromTty(a)
		require.NoError(t, err)
		g := &glass{Screen: screen, gone: func(err error) { t.Error(err) }, watch: watch, asks: a}
		require.NoError(t, g.Init())
		events := make(chan tcell.Event, 64)
		go func() {
			defer close(events)
			for e := g.PollEvent(); e != nil; e = g.PollEvent() {
				events <- e
			}
		}()
		for range 6 {
			g.Clear()
			g.Put(1, 1, "x", tcell.StyleDefault)
			g.Show()
			time.Sleep(askEvery + 10*time.Millisecond)
		}
		w.reads <- "7"
		require.Eventually(t, func() bool { return len(w.reads) == 0 }, 5*time.Second, time.Millisecond)
		time.Sleep(50 * time.Millisecond)
		a.mu.Lock()
		assert.True(t, a.judged)
		a.mu.Unlock()
		g.Fini()
		var keys []rune
		for e := range events {
			if k, ok := e.(*tcell.EventKey); ok {
				keys = append(keys, k.Rune())
			}
		}
		assert.Equal(t, "7", string(keys))
		w.mu.Lock()
		assert.GreaterOrEqual(t, strings.Count(w.written.String(), question), 5)
		w.mu.Unlock()
	})
}

// A panic in what takes the terminal's bytes is a read that fails.
func TestAskerPanicIsAnError(t *testing.T) {
	w := &vigil.Watch{OnAnswer: func(vigil.Member) { panic("test") }}
	a := newAsker(&nullTty{}, w)
	a.shown(time.Now())
	a.chunks = make(chan chunk, 1)
	a.chunks <- chunk{b: []byte(answer)}
	_, err := a.Read(make([]byte, 64))
	require.ErrorContains(t, err, "panic: test")
	require.NotPanics(t, func() { a.shown(time.Now()) }, "no lock is held")
}
