package dashboard

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime/debug"
	"sync"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/tview"
	"golang.org/x/term"

	"tetherbell/dashboard/sound"
	"tetherbell/dashboard/vigil"
)

// frameTime keeps redraws at 20 a second at most.
const frameTime = 50 * time.Millisecond

// stillTime is how long a picture may stand where no new frame comes: the age
// of what stands there is part of it.
const stillTime = 250 * time.Millisecond

// lookTime is how often the painter looks for a new frame: what it adds to an
// alarm's way to the screen is half of it on average.
const lookTime = 10 * time.Millisecond

// stopTime is how long Run waits for the terminal once it shall end. A
// healthy terminal needs a few milliseconds. It is counted in ticks, of which a
// program that is itself stopped meanwhile sees one: it does not blame the terminal,
// and leave it unclosed, because it came late.
const stopTime, stopTick = 800 * time.Millisecond, 50 * time.Millisecond

// ErrStalled says that the terminal takes no more output: Run gave up on it
// in order not to hold up the program's end.
var ErrStalled = errors.New("terminal takes no output")

// Run shows the newest frame until the person quits, ctx ends, or the
// terminal is gone. screen may be nil: then the process's own terminal is
// used. latest gives the newest frame (nil: none yet) and act takes what the
// person did; neither may block, and act is called from another goroutine
// than latest. Each value from bell rings the terminal's bell; bell may be
// nil, and a sender must not wait for it to be taken.
//
// Run returns nil when the person quit or ctx ended. It returns within a
// second even when the terminal has stopped reading (ErrStalled, unless there was
// a failure before; its goroutines then end when the terminal reads on or the
// process ends). A
// panic while drawing restores the terminal and is returned as an error.
func Run(ctx context.Context, screen tcell.Screen, latest func() *Frame, act func(Act), bell <-chan struct{}) error {
	return RunWatched(ctx, screen, latest, act, bell, nil)
}

func run(ctx context.Context, screen tcell.Screen, latest func() *Frame, act func(Act), bell <-chan struct{}, watch *vigil.Watch) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	restore := func() {}
	var asks *asker
	if screen == nil {
		var err error
		restore = remember()
		if screen, asks, err = openTerminal(watch); err != nil {
			return fmt.Errorf("open terminal: %w", err)
		}
	}
	r := &runner{latest: latest, bell: bell, cancel: cancel, eyes: watch.Looker(vigil.Screen)}
	r.glass = &glass{Screen: screen, gone: r.fail, watch: watch, asks: asks}
	r.board = newBoard(act, cancel, r.fail, time.Now)
	done := make(chan struct{})
	// The only goroutine that may wait for the terminal. It ends with the
	// terminal's loop, for which ctx or a failure is the cause.
	go func() {
		defer close(done)
		r.work(ctx)
	}()
	select {
	case <-done:
	case <-ctx.Done():
		tick := time.NewTicker(stopTick)
		defer tick.Stop()
		if outlasts(done, tick.C, int(stopTime/stopTick)) {
			restore()
			if err := r.failure(); err != nil { // the worse of the two, that nobody asked for
				return err
			}
			return fmt.Errorf("close screen: %w", ErrStalled)
		}
	}
	return r.failure()
}

// outlasts reports whether something is not done within so many ticks.
func outlasts(done <-chan struct{}, tick <-chan time.Time, most int) bool {
	for range most {
		select {
		case <-done:
			return false
		case <-tick:
		}
	}
	select {
	case <-done:
		return false
	default:
		return true
	}
}

// remember notes the terminal's mode, to give it back where the screen's own
// end cannot be waited for.
func remember() func() {
	fd := int(os.Stdin.Fd())
	state, err := term.GetState(fd)
	if err != nil {
		return func() {}
	}
	return func() { _ = term.Restore(fd, state) }
}

// A runner ties frames, terminal and bell together.
type runner struct {
	board  *board
	glass  *glass
	latest func() *Frame
	bell   <-chan struct{}
	cancel context.CancelFunc

	// These belong to the painter.
	eyes    *vigil.Looker
	others  others
	forgive bool // the age of the frame that stands there
	stand   sound.Standin

	mu  sync.Mutex
	err error
}

// fail keeps the first error and ends the run.
func (r *runner) fail(err error) {
	r.mu.Lock()
	if r.err == nil {
		r.err = err
	}
	r.mu.Unlock()
	r.cancel()
}

func (r *runner) failure() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.err
}

// work opens the screen, starts the painter and runs the terminal's loop.
func (r *runner) work(ctx context.Context) {
	if err := r.glass.Init(); err != nil {
		r.fail(fmt.Errorf("open terminal: %w", err))
		return
	}
	r.glass.watch.Beat(vigil.Screen) // from here on a terminal that takes nothing is missed
	app := tview.NewApplication().SetScreen(r.glass).SetRoot(r.board, true).EnableMouse(true)
	// Ctrl-C is a key like any other: the loop would stop at once.
	app.SetInputCapture(func(e *tcell.EventKey) *tcell.EventKey {
		if e.Key() == tcell.KeyCtrlC {
			r.board.press(e)
			return nil
		}
		return e
	})
	painted := make(chan struct{})
	// The painter: ended by ctx, waited for below.
	go func() {
		defer close(painted)
		r.paint(ctx, app)
	}()
	if r.loop(app) {
		r.cancel()
		<-painted
	}
}

// loop runs the terminal's loop and reports whether it ended in order: after
// a panic in it (it has then closed the screen) the painter may wait for it
// for ever, and must not be waited for.
func (r *runner) loop(app *tview.Application) (orderly bool) {
	defer func() {
		if p := recover(); p != nil {
			r.fail(fmt.Errorf("run screen: panic: %v\n%s", p, debug.Stack()))
		}
	}()
	if err := app.Run(); err != nil {
		r.fail(fmt.Errorf("run screen: %w", err))
	}
	return true
}

// paint hands frames to the terminal's loop. It alone calls into the loop,
// with one request at a time, and it alone stops it, with no request
// outstanding: so no request can be left behind.
func (r *runner) paint(ctx context.Context, app *tview.Application) {
	defer app.Stop()
	defer func() {
		if p := recover(); p != nil {
			r.fail(fmt.Errorf("take frame: panic: %v\n%s", p, debug.Stack()))
		}
	}()
	// A loop that is stopped before it runs would open a terminal of its own.
	app.QueueUpdate(func() {})
	tick := time.NewTicker(lookTime)
	defer tick.Stop()
	var last *Frame
	drawn := time.Time{}
	for {
		ring := false
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		case _, ring = <-r.bell:
			if !ring {
				r.bell = nil // closed: never again
			}
		}
		if ctx.Err() != nil {
			return
		}
		now := time.Now()
		changed := r.lookAround(now)
		if r.stand.Strike(now, !r.others.sound.IsZero(), r.sounding(last)) {
			ring = true
		}
		if ring {
			app.QueueUpdate(func() { _ = r.glass.Beep() })
		}
		rest := now.Sub(drawn)
		if !changed && (ring || rest < frameTime) {
			continue
		}
		f := r.latest()
		if f == last && rest < stillTime && !changed && !r.board.turned() {
			continue // nothing has changed, and no flash has turned
		}
		last, drawn = f, now
		seen, forgive := r.others, r.forgive
		r.forgive = false
		app.QueueUpdateDraw(func() {
			r.board.others = seen
			if r.board.show(f); forgive {
				r.board.since = r.board.now()
			}
		})
	}
}
