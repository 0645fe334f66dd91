package sound

import (
	"context"
	"errors"
	"sync/atomic"
	"time"

	"tetherbell/alarms/detect"
)

// stroke is the time between two strokes of a group: three in a second, slow
// enough for terminals that swallow a bell which comes on top of another.
const stroke = 350 * time.Millisecond

// stuckAfter is how long a stroke may take: a terminal takes one byte at once,
// also over a slow line.
const stuckAfter = 2 * time.Second

var (
	errNoBell    = errors.New("no terminal whose bell could ring")
	errBellStuck = errors.New("the terminal does not take its bell")
)

// strokes returns when the bell is struck after the start of a burst. A group
// has as many strokes as the priority is high; the two halves of a high burst
// have a group each.
func strokes(p Pattern) []time.Duration {
	switch p.Priority {
	case detect.High:
		half := 5*p.Pulse + p.attack()
		for _, g := range p.Gaps[:5] {
			half += g
		}
		return []time.Duration{0, stroke, 2 * stroke, half, half + stroke, half + 2*stroke}
	case detect.Medium:
		return []time.Duration{0, stroke}
	}
	return []time.Duration{0}
}

// A bell strikes in a goroutine of its own, because a terminal that stopped
// reading blocks whoever writes to it. One stroke may wait; more are dropped,
// as nobody could hear them apart.
type bell struct {
	strike func() // nil: there is no bell
	asked  chan struct{}
	began  atomic.Pointer[time.Time] // of the stroke under way; nil: none
	due    []time.Time               // strokes still to come of the burst that sounds
}

func newBell(strike func()) *bell {
	return &bell{strike: strike, asked: make(chan struct{}, 1)}
}

// busy says whether a stroke is under way.
func (b *bell) busy() bool { return b.began.Load() != nil }

// stuck says whether a stroke has not come back: the terminal takes nothing,
// and nobody hears its bell.
func (b *bell) stuck(now time.Time) bool {
	began := b.began.Load()
	return began != nil && now.Sub(*began) >= stuckAfter
}

// run strikes until ctx ends, and calls back after a stroke that was stuck.
// The player starts it and waits for it, for a bounded time: a strike that
// never returns cannot be ended.
func (b *bell) run(ctx context.Context, changed func()) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-b.asked:
			now := time.Now()
			b.began.Store(&now)
			b.strike()
			b.began.Store(nil)
			if time.Since(now) >= stuckAfter {
				changed()
			}
		}
	}
}

// begin plans the strokes of a burst, in place of those of the one before.
func (b *bell) begin(now time.Time, p Pattern) {
	b.due = b.due[:0]
	if b.strike == nil {
		return
	}
	for _, d := range strokes(p) {
		b.due = append(b.due, now.Add(d))
	}
}

// once plans one stroke, where no burst is under way.
func (b *bell) once(now time.Time) { b.some(now, 1) }

// some plans a few strokes, where no burst is under way.
func (b *bell) some(now time.Time, n int) {
	if b.strike == nil || len(b.due) > 0 {
		return
	}
	for i := range n {
		b.due = append(b.due, now.Add(time.Duration(i)*stroke))
	}
}

// ring strikes what is due and returns the time of the next stroke, zero when
// there is none.
func (b *bell) ring(now time.Time) time.Time {
	for len(b.due) > 0 && !now.Before(b.due[0]) {
		b.due = b.due[1:]
		select {
		case b.asked <- struct{}{}:
		default:
		}
	}
	if len(b.due) == 0 {
		return time.Time{}
	}
	return b.due[0]
}
