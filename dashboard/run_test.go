package dashboard

import (
	"context"
	"errors"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"tetherbell/alarms/detect"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// A testTerminal is a simulated screen of a fixed size whose Show can be made
// to block, as a terminal that stops reading does, or to panic.
type testTerminal struct {
	tcell.SimulationScreen
	w, h   int
	gate   gate // held: Show blocks
	shows  atomic.Int64
	beeps  atomic.Int64
	closed atomic.Bool
	events chan tcell.Event // given to the loop before the simulation's own
	boom   atomic.Bool
}

func newTerminal(w, h int) *testTerminal {
	return &testTerminal{SimulationScreen: tcell.NewSimulationScreen("UTF-8"), w: w, h: h, gate: make(gate, 1), events: make(chan tcell.Event, 4)}
}

// A gate is a lock for which fake time waits for nobody, as it would for a mutex.
type gate chan struct{}

func (g gate) Lock()   { g <- struct{}{} }
func (g gate) Unlock() { <-g }

func (s *testTerminal) Init() error {
	if err := s.SimulationScreen.Init(); err != nil {
		return err
	}
	s.SetSize(s.w, s.h)
	return nil
}

func (s *testTerminal) Show() {
	s.gate.Lock()
	defer s.gate.Unlock()
	s.shows.Add(1)
	s.SimulationScreen.Show()
}

func (s *testTerminal) Beep() error { s.beeps.Add(1); return nil }

func (s *testTerminal) Fini() { s.closed.Store(true); s.SimulationScreen.Fini() }

func (s *testTerminal) PollEvent() tcell.Event {
	select {
	case e := <-s.events:
		return e
	default:
		return s.SimulationScreen.PollEvent()
	}
}

func (s *testTerminal) Put(x, y int, str string, st tcell.Style) (string, int) {
	if s.boom.Load() {
		panic("drawn into the void")
	}
	return s.SimulationScreen.Put(x, y, str, st)
}

// A running dashboard under test, in a bubble of fake time: what it shows by when
// is no matter of how busy the machine is.
type running struct {
	t     *testing.T
	term  *testTerminal
	frame atomic.Pointer[Frame]
	acts  chan Act
	bell  chan struct{}
	stop  context.CancelFunc
	done  chan error
}

func start(t *testing.T, f *Frame) *running {
	ctx, cancel := context.WithCancel(context.Background())
	r := &running{t: t, term: newTerminal(100, 30), acts: make(chan Act, 100), bell: make(chan struct{}, 1), stop: cancel, done: make(chan error, 1)}
	r.frame.Store(f)
	go func() {
		r.done <- Run(ctx, r.term, r.frame.Load, func(a Act) {
			select {
			case r.acts <- a:
			default:
			}
		}, r.bell)
	}()
	t.Cleanup(cancel)
	r.until(func() bool { return r.term.shows.Load() > 1 })
	return r
}

// until waits for something that other goroutines bring about.
func (r *running) until(ok func() bool) {
	require.Eventually(r.t, ok, time.Minute, 2*time.Millisecond)
}

func (r *running) end(within time.Duration) error {
	select {
	case err := <-r.done:
		return err
	case <-time.After(within):
		r.t.Fatal("Run has not ended")
		return nil
	}
}

func (r *running) key(k tcell.Key, c rune) { r.term.InjectKey(k, c, tcell.ModNone) }

func (r *running) takeAct() Act {
	select {
	case a := <-r.acts:
		return a
	case <-time.After(time.Minute):
		r.t.Fatal("no act came")
		return Act{}
	}
}

func TestRunEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, benchFrame())
		r.stop()
		require.NoError(t, r.end(time.Second))
		require.True(t, r.term.closed.Load())
	})
}

func TestRunEndsWhenItsContextHasEnded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		term := newTerminal(80, 24)
		require.NoError(t, Run(ctx, term, func() *Frame { return nil }, func(Act) {}, nil))
		require.True(t, term.closed.Load())
	})
}

func TestKeysAct(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := benchFrame()
		gone := imbalance()
		gone.Acknowledged = true
		f.Snap.Alarms = append(f.Snap.Alarms, oscillation(), gone)
		f.Status.Replay = true
		r := start(t, f)
		time.Sleep(seenAfter + 100*time.Millisecond)
		r.key(tcell.KeyRune, 'a')
		require.Equal(t, Act{Kind: Acknowledge, Alarm: detect.RisingOscillation, Where: detect.Pitch}, r.takeAct())
		for _, c := range []struct {
			key  tcell.Key
			char rune
			want Act
		}{
			{tcell.KeyRune, 'p', Act{Kind: PauseSound, Seconds: 60}},
			{tcell.KeyRune, 't', Act{Kind: ToggleTick}},
			{tcell.KeyRune, 'm', Act{Kind: Mark, Text: "mark 1"}},
			{tcell.KeyRune, 'm', Act{Kind: Mark, Text: "mark 2"}},
			{tcell.KeyRune, ' ', Act{Kind: ReplayPause}},
			{tcell.KeyRight, 0, Act{Kind: ReplayStep}},
			{tcell.KeyRune, '[', Act{Kind: ReplayJump, Seconds: -10}},
			{tcell.KeyRune, 'k', Act{Kind: ReplayJump, Seconds: 10}},
			{tcell.KeyRune, '+', Act{Kind: ReplayFaster}},
			{tcell.KeyRune, '-', Act{Kind: ReplaySlower}},
		} {
			r.key(c.key, c.char)
			require.Equal(t, c.want, r.takeAct())
		}
		time.Sleep(takeIn) // the alarm has just taken the cautions' place
		fresh := *f
		shows := r.term.shows.Load()
		r.frame.Store(&fresh)
		r.until(func() bool { return r.term.shows.Load() > shows })
		time.Sleep(seenAfter + 100*time.Millisecond)
		r.key(tcell.KeyEnter, 0)
		require.Equal(t, Act{Kind: Acknowledge, Alarm: detect.RisingOscillation, Where: detect.Pitch}, r.takeAct())
		r.key(tcell.KeyRune, 'q') // a replay is left at once, though armed
		require.NoError(t, r.end(time.Second))
		require.Empty(t, r.acts)
	})
}

func TestReplayKeysDoNothingLive(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, benchFrame())
		r.key(tcell.KeyRune, ' ')
		r.key(tcell.KeyRight, 0)
		r.key(tcell.KeyRune, 'm')
		require.Equal(t, Mark, r.takeAct().Kind)
		r.stop()
		require.NoError(t, r.end(time.Second))
	})
}

func TestQuitAsksWhileArmed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, benchFrame())
		r.key(tcell.KeyCtrlC, 0)
		r.key(tcell.KeyRune, 'm') // any other key stays
		require.Equal(t, Mark, r.takeAct().Kind)
		r.key(tcell.KeyRune, 'q')
		r.key(tcell.KeyRune, 'm')
		require.Equal(t, Mark, r.takeAct().Kind)
		require.False(t, r.term.closed.Load())
		r.key(tcell.KeyCtrlC, 0)
		r.key(tcell.KeyCtrlC, 0)
		require.NoError(t, r.end(time.Second))
	})
}

func TestQuitAtOnceWhileDisarmed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := benchFrame()
		f.Snap.Armed = detect.No
		r := start(t, f)
		r.key(tcell.KeyRune, 'q')
		require.NoError(t, r.end(time.Second))
	})
}

func TestMouse(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := benchFrame()
		f.Snap.Alarms = append(f.Snap.Alarms, oscillation())
		r := start(t, f)
		click := func(x, y int) {
			r.term.InjectMouse(x, y, tcell.Button1, tcell.ModNone)
			r.term.InjectMouse(x, y, tcell.ButtonNone, tcell.ModNone)
		}
		time.Sleep(seenAfter + 100*time.Millisecond)
		click(50, 3) // the banner
		require.Equal(t, Acknowledge, r.takeAct().Kind)
		click(20, 29) // "pause sound" on the bar
		require.Equal(t, PauseSound, r.takeAct().Kind)
		click(2, 29)
		require.Equal(t, Acknowledge, r.takeAct().Kind)
		r.stop()
		require.NoError(t, r.end(time.Second))
	})
}

func TestBellRingsOnTheTerminal(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, benchFrame())
		for range 3 {
			r.bell <- struct{}{}
		}
		r.until(func() bool { return r.term.beeps.Load() == 3 })
		close(r.bell)
		shows := r.term.shows.Load()
		r.frame.Store(benchFrame())
		r.until(func() bool { return r.term.shows.Load() > shows })
		r.stop()
		require.NoError(t, r.end(time.Second))
		require.EqualValues(t, 3, r.term.beeps.Load())
	})
}

// TestStalledTerminal: a terminal that stops reading holds up neither those
// who hand over frames nor the end of Run; and when it reads on, all that was
// left behind ends (goleak).
func TestStalledTerminal(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, benchFrame())
		r.term.gate.Lock()
		var taken atomic.Int64
		for range 50 { // frames go on, nobody waits
			begin := time.Now()
			r.frame.Store(benchFrame())
			taken.Add(1)
			select {
			case r.bell <- struct{}{}:
			default:
			}
			require.Zero(t, time.Since(begin))
			time.Sleep(4 * time.Millisecond)
		}
		begin := time.Now()
		r.stop()
		err := r.end(2 * time.Second)
		require.ErrorIs(t, err, ErrStalled)
		require.Equal(t, stopTime, time.Since(begin))
		r.term.gate.Unlock()
		r.until(r.term.closed.Load)
	})
}

// TestStalledFromTheStart: the terminal does not even take its first picture.
func TestStalledFromTheStart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
		defer cancel()
		term := newTerminal(80, 24)
		term.gate.Lock()
		err := Run(ctx, term, func() *Frame { return benchFrame() }, func(Act) {}, nil)
		require.ErrorIs(t, err, ErrStalled)
		term.gate.Unlock()
		require.Eventually(t, term.closed.Load, 5*time.Second, 2*time.Millisecond)
	})
}

// TestEndOfAStoppedProgram: it was stopped while it ended, and finds one tick, not
// sixteen; what it waits for comes a moment later.
func TestEndOfAStoppedProgram(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		done, stopped := make(chan struct{}), time.Now().Add(-time.Minute)
		tick := make(chan time.Time, 1)
		tick <- stopped
		go func() {
			for range 3 {
				time.Sleep(stopTick)
				tick <- time.Now()
			}
			close(done)
		}()
		require.False(t, outlasts(done, tick, int(stopTime/stopTick)))
	})
	never := make(chan struct{})
	ticks := make(chan time.Time, 16)
	for range 16 {
		ticks <- time.Now()
	}
	require.True(t, outlasts(never, ticks, 16))
	close(never)
	require.False(t, outlasts(never, nil, 0), "done in the last moment")
}

// TestFailureIsNoStall: a terminal whose input has failed and that takes nothing
// either is told as failed: nobody asked for that end. In real time, for the reader
// of keys waits for a mutex then, which holds up fake time.
func TestFailureIsNoStall(t *testing.T) {
	r := start(t, benchFrame())
	r.term.gate.Lock()
	r.term.events <- tcell.NewEventError(errors.New("input/output error"))
	r.term.InjectKey(tcell.KeyRune, 'x', 0)
	err := r.end(time.Minute)
	require.ErrorContains(t, err, "input/output error")
	require.NotErrorIs(t, err, ErrStalled)
	r.term.gate.Unlock()
	r.until(r.term.closed.Load)
}

func TestPanicRestoresTheTerminal(t *testing.T) {
	t.Run("while drawing", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := start(t, benchFrame())
			r.term.boom.Store(true)
			r.frame.Store(benchFrame())
			err := r.end(2 * time.Second)
			require.ErrorContains(t, err, "drawn into the void")
			require.True(t, r.term.closed.Load())
		})
	})
	t.Run("in latest", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			term := newTerminal(80, 24)
			err := Run(context.Background(), term, func() *Frame { panic("no frame") }, func(Act) {}, nil)
			require.ErrorContains(t, err, "no frame")
			require.True(t, term.closed.Load())
		})
	})
	t.Run("in act", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			term := newTerminal(80, 24)
			go func() {
				for term.shows.Load() < 2 {
					time.Sleep(time.Millisecond)
				}
				term.InjectKey(tcell.KeyRune, 'm', tcell.ModNone)
			}()
			err := Run(context.Background(), term, benchFrame, func(Act) { panic("no act") }, nil)
			require.ErrorContains(t, err, "no act")
			require.True(t, term.closed.Load())
		})
	})
}

// TestTerminalGone: the terminal's end (a closed window) ends Run with a word.
func TestTerminalGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, benchFrame())
		r.term.events <- tcell.NewEventError(errTest)
		r.key(tcell.KeyF1, 0) // wakes the loop, which then takes the error
		require.ErrorContains(t, r.end(2*time.Second), "read terminal: "+errTest.Error())
	})
}

// TestNoTerminal: without a terminal Run says so, and nothing hangs.
func TestNoTerminal(t *testing.T) {
	t.Setenv("TERM", "no-such-terminal")
	err := Run(context.Background(), nil, func() *Frame { return nil }, func(Act) {}, nil)
	require.ErrorContains(t, err, "open terminal")
}

// TestRedrawsAreFew: with a new frame every millisecond there are at most 20
// pictures a second, and the newest frame is the one that stands.
func TestRedrawsAreFew(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := benchFrame()
		r := start(t, f)
		r.key(tcell.KeyRune, 'x') // the cautions are read
		begin, shows := time.Now(), r.term.shows.Load()
		for time.Since(begin) < 500*time.Millisecond {
			r.frame.Store(benchFrame())
			time.Sleep(time.Millisecond)
		}
		got := float64(r.term.shows.Load() - shows)
		require.LessOrEqual(t, got, time.Since(begin).Seconds()*20+2)
		last := benchFrame()
		last.Journal = append(last.Journal, Entry{Text: "the newest word"})
		r.frame.Store(last)
		r.until(func() bool {
			r.term.gate.Lock()
			defer r.term.gate.Unlock()
			return strings.Contains(picture(r.term), "the newest word")
		})
		r.stop()
		require.NoError(t, r.end(time.Second))
	})
}
