package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync/atomic"
	"time"

	"tetherbell/link"
)

// lineSource gives lines and when they are due, microseconds since the start.
type lineSource interface {
	Next(dst []byte) (out []byte, untilUS int64, done bool)
}

// pump writes what a source gives, each piece when it is due, or at once when
// fast. It ends with the source or ctx.
func pump(ctx context.Context, src lineSource, w io.Writer, fast bool) error {
	start := time.Now()
	t := time.NewTimer(0)
	defer t.Stop()
	var buf []byte
	for {
		out, until, done := src.Next(buf[:0])
		buf = out
		if wait := time.Until(start.Add(time.Duration(until) * time.Microsecond)); !fast && wait > 0 {
			t.Reset(wait)
			select {
			case <-ctx.Done():
				return nil
			case <-t.C:
			}
		} else if ctx.Err() != nil {
			return nil
		}
		if err := followCord(src, w); err != nil {
			return err
		}
		if len(out) > 0 {
			if _, err := w.Write(out); err != nil {
				return fmt.Errorf("write lines: %w", err)
			}
		}
		if done {
			return nil
		}
	}
}

// groupUS is how much of a recording's time goes into one piece.
const groupUS = 5000

// A tape gives the lines of a recording as the bridge sent them; what the
// host wrote between is left out.
type tape struct {
	s       *link.Session
	pace    pace
	it      link.Item
	due     int64
	waiting bool // it was read and belongs to the next piece
	err     error
}

func newTape(f io.Reader, o outline) *tape {
	return &tape{s: link.NewSession(f), pace: pace{ticks: o.ticks}}
}

// Next gives the lines of the next few milliseconds.
func (t *tape) Next(dst []byte) (out []byte, untilUS int64, done bool) {
	until := int64(-1)
	for {
		if !t.waiting {
			if err := t.s.Next(&t.it); err != nil {
				if !errors.Is(err, io.EOF) {
					t.err = err
				}
				return dst, max(until, t.due), true
			}
			t.due, t.waiting = t.pace.due(&t.it), true
		}
		if until < 0 {
			until = t.due
		}
		if t.due >= until+groupUS {
			return dst, until, false
		}
		t.waiting = false
		if t.it.Kind == link.Wire {
			dst = append(append(dst, t.it.Line...), '\n')
		}
		if len(dst) > 32<<10 {
			return dst, until, false
		}
	}
}

const (
	// heldPieces bounds what waits for a port that nobody reads: at most a
	// second of lines, in pieces of a few milliseconds.
	heldPieces = 128
	// endPatience is how long the end waits for a reader to take the rest.
	endPatience = time.Second
)

// A dropWriter passes pieces of whole lines on from a goroutine of its own. A
// port that takes nothing never holds up its caller: the pieces that find no
// room are dropped and counted, as on a real cable that nobody listens to.
type dropWriter struct {
	w       io.Writer
	pieces  chan []byte
	free    chan []byte
	done    chan struct{}
	stale   func() int // throws away what waits in the port, and tells how many bytes
	dropped atomic.Uint64
	err     atomic.Pointer[error]
}

// newDropWriter starts a dropWriter; close ends it. stale may be nil.
func newDropWriter(w io.Writer, stale func() int) *dropWriter {
	d := &dropWriter{w: w, stale: stale, pieces: make(chan []byte, heldPieces), free: make(chan []byte, heldPieces+2), done: make(chan struct{})}
	go d.routineWrite()
	return d
}

// routineWrite is started by newDropWriter, ended by close or a failed write,
// and waited for by close, but not for ever: a write may be stuck.
func (d *dropWriter) routineWrite() {
	defer close(d.done)
	for p := range d.pieces {
		if _, err := d.w.Write(p); err != nil {
			d.err.Store(&err)
			return
		}
		select {
		case d.free <- p:
		default:
		}
	}
}

// Write queues a copy of p or drops it. It never waits.
func (d *dropWriter) Write(p []byte) (int, error) {
	if err := d.err.Load(); err != nil {
		return 0, *err
	}
	var buf []byte
	select {
	case buf = <-d.free:
	default:
	}
	select {
	case d.pieces <- append(buf[:0], p...):
	default:
		d.dropped.Add(uint64(len(p)))
		if d.stale != nil { // whoever comes later shall hear what is new
			d.dropped.Add(uint64(d.stale()))
		}
	}
	return len(p), nil
}

// close waits a little for what is queued.
func (d *dropWriter) close() {
	close(d.pieces)
	t := time.NewTimer(endPatience)
	defer t.Stop()
	select {
	case <-d.done:
	case <-t.C:
	}
}
