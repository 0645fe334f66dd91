package dashboard

import (
	"fmt"
	"io"
	"runtime/debug"
	"sync"
	"time"

	"github.com/gdamore/tcell/v2"

	"tetherbell/dashboard/vigil"
)

const (
	// askEvery is the least time between two questions; they go out with pictures.
	askEvery = 80 * time.Millisecond
	// askAgain is when a question is put again that brought no answer, at the
	// soonest; then twice as late each time, up to askAgainMost.
	askAgain, askAgainMost = time.Second, 32 * time.Second
	// farTrip is the bound of a round trip from which a terminal is far away: what
	// is shown counts as a beat for that long, although it is not answered yet.
	// Under it answers alone count. farMost bounds that.
	farTrip, farMost = 200 * time.Millisecond, 5 * time.Second
	// tornTime is how long Escape waits for the rest of an answer, and forgetTime how
	// long more than that does, which no key sends, or that rest is taken for one.
	tornTime, forgetTime = 100 * time.Millisecond, 500 * time.Millisecond
	// partTime is how long the end waits for the last answer at least and at most.
	partTime, partMost = 50 * time.Millisecond, 400 * time.Millisecond
)

// An asker is a terminal that is asked for a sign of life with the pictures, so
// that one that reads no more is missed: what is written to it alone goes into
// buffers on the way for seconds. It is judged by its answers from the first one
// on; a terminal that never answers is judged by whether it takes what is written.
//
// A question goes out only with a picture, so an answer also says that drawing
// goes on. There is one question at a time. The keyboard is a sign of life too:
// one that types while an answer is long overdue ends the judging until the next
// answer, for that terminal has forgotten how to answer.
type asker struct {
	tcell.Tty
	watch *vigil.Watch

	mu      sync.Mutex
	trip    trip
	ever    bool          // it has answered once
	judged  bool          // by its answers
	asked   time.Time     // the question that is open; zero: none
	last    time.Time     // the newest question
	wait    time.Duration // from that one to the next of the same
	tries   int           // of the open question
	owed    int           // questions without an answer
	over    bool          // the end: nothing is asked any more
	settled chan struct{} // something was answered

	chunks chan chunk
	quit   chan struct{}

	// These belong to the reader, which is tcell's.
	sieve answers
	ready []byte
	err   error
}

// A chunk is what one read brought.
type chunk struct {
	b   []byte
	err error
}

func newAsker(tty tcell.Tty, watch *vigil.Watch) *asker {
	return &asker{Tty: tty, watch: watch, settled: make(chan struct{}, 1)}
}

// Start starts the terminal, and the goroutine that reads it. That one ends with
// the read that Drain or Stop ends.
func (t *asker) Start() error {
	if err := t.Tty.Start(); err != nil {
		return err
	}
	chunks, quit := make(chan chunk), make(chan struct{})
	t.chunks, t.quit = chunks, quit
	go func() {
		for {
			b := make([]byte, 256)
			n, err := t.Tty.Read(b)
			select {
			case chunks <- chunk{b[:n], err}:
			case <-quit:
				return
			}
			if err != nil {
				return
			}
		}
	}()
	return nil
}

// Stop stops the terminal.
func (t *asker) Stop() error {
	close(t.quit)
	return t.Tty.Stop()
}

// Read gives what the terminal sends, without its answers. What it sends comes from
// outside: a panic is a read that fails, which ends the screen in order.
func (t *asker) Read(p []byte) (n int, err error) {
	defer func() {
		if r := recover(); r != nil {
			n, err = 0, fmt.Errorf("panic: %v\n%s", r, debug.Stack())
		}
	}()
	for {
		if len(t.ready) > 0 {
			n := copy(p, t.ready)
			t.ready = t.ready[n:]
			return n, nil
		}
		if t.err != nil {
			return 0, t.err
		}
		t.next()
	}
}

// next takes one chunk, or what was held back long enough.
func (t *asker) next() {
	var late <-chan time.Time
	if t.sieve.matched > 0 {
		patience := forgetTime
		if t.sieve.holds() && t.sieve.escape() {
			patience = tornTime
		}
		timer := time.NewTimer(patience)
		defer timer.Stop()
		late = timer.C
	}
	select {
	case <-late:
		if t.sieve.holds() {
			t.ready = t.sieve.release(t.ready)
		} else {
			t.sieve.forget()
		}
	case c := <-t.chunks:
		t.take(c.b, time.Now())
		if t.err = c.err; t.err != nil {
			t.ready = t.sieve.release(t.ready)
		}
	}
}

// take takes what the terminal sent.
func (t *asker) take(b []byte, now time.Time) {
	if !t.hasAsked() {
		t.ready = append(t.ready, b...)
		return
	}
	n := 0
	before := len(t.ready)
	if t.ready, n = t.sieve.sift(t.ready, b); n > 0 {
		t.answered(n, now)
		t.watch.Answered(vigil.Screen)
	} else if len(t.ready) > before {
		t.typed(now)
	}
	if t.sieve.holds() && t.sieve.escape() && !t.expects(now) {
		t.ready = t.sieve.release(t.ready) // the key: nobody has to wait for it
	}
}

func (t *asker) hasAsked() bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return !t.last.IsZero()
}

// expects reports whether an answer may still come.
func (t *asker) expects(now time.Time) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.owed > 0 && now.Sub(t.last) < askAgainMost
}

func (t *asker) answered(n int, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if !t.asked.IsZero() && t.tries == 1 {
		t.trip.add(now.Sub(t.asked))
	}
	t.owed = max(t.owed-n, 0)
	t.asked, t.tries, t.ever, t.judged = time.Time{}, 0, true, true
	select {
	case t.settled <- struct{}{}:
	default:
	}
}

// typed says that the keyboard has sent something.
func (t *asker) typed(now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.overdue(now) {
		t.judged = false
	}
}

// overdue reports whether an answer is so late that it may be lost.
func (t *asker) overdue(now time.Time) bool {
	return !t.asked.IsZero() && now.Sub(t.asked) > t.again()
}

func (t *asker) again() time.Duration { return max(askAgain, 2*t.trip.bound()) }

// shown is called when a picture has been written: it asks, where it is time, and
// reports whether the picture counts as a beat although nobody has answered.
// It may wait for the terminal as the picture did.
func (t *asker) shown(now time.Time) (counts bool) {
	ask, counts := t.plan(now)
	if ask {
		_, _ = io.WriteString(t.Tty, question) // one that fails, fails for the next picture too
	}
	return counts
}

func (t *asker) plan(now time.Time) (ask, counts bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	switch {
	case t.over:
	case t.asked.IsZero() && now.Sub(t.last) >= askEvery:
		ask, t.asked, t.wait = true, now, t.again()
	case !t.asked.IsZero() && t.ever && now.Sub(t.last) >= t.wait:
		ask, t.wait = true, min(2*t.wait, askAgainMost)
	}
	if ask {
		t.last = now
		t.tries++
		t.owed++
	}
	bound := t.trip.bound()
	far := bound >= farTrip && (t.asked.IsZero() || now.Sub(t.asked) < min(bound, farMost))
	return ask, !t.judged || far
}

// part asks nothing more and waits briefly for the answers on their way: they
// must not stand in the shell's input afterwards.
func (t *asker) part() {
	t.mu.Lock()
	t.over = true
	bound, last := min(max(partTime, 2*t.trip.bound()), partMost), t.last
	if !t.ever {
		bound = partMost
	}
	t.mu.Unlock()
	if time.Since(last) > t.again() {
		return // it is not coming
	}
	timer := time.NewTimer(bound)
	defer timer.Stop()
	for t.expects(time.Now()) {
		select {
		case <-t.settled:
		case <-timer.C:
			return
		}
	}
}

// A trip is what is known of the round trip to the terminal, after RFC 6298, 2:
// its smoothed time and variation (from memory).
type trip struct {
	known            bool
	smooth, variance time.Duration
}

func (t *trip) add(r time.Duration) {
	if !t.known {
		t.known, t.smooth, t.variance = true, r, r/2
		return
	}
	t.variance += ((t.smooth - r).Abs() - t.variance) / 4
	t.smooth += (r - t.smooth) / 8
}

// bound is what a round trip takes at most, nearly always.
func (t *trip) bound() time.Duration { return t.smooth + 4*t.variance }
