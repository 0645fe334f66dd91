package main

import (
	"io"
	"sync"
	"time"

	"tetherbell/dashboard/vigil"
)

// maxUnprinted bounds what waits for standard output: thousands of events,
// more than a bench makes in a day.
const maxUnprinted = 4 << 20

// A printer writes whole lines to a stream from a goroutine of its own, so
// that a reader that stops reading never holds up an alarm. Lines that find
// no room are dropped and counted, and those that come once the stream has
// broken. Its methods are for one goroutine, broken excepted.
type printer struct {
	w       io.Writer
	mu      sync.Mutex
	wait    []byte
	dropped uint64
	ending  bool
	err     error
	wake    chan struct{} // something waits, or the end has come
	done    chan struct{} // closed when the writer has ended
	broken  chan struct{} // closed when the stream is gone
	watch   *vigil.Watch  // that misses it where a write does not return; nil: nobody does
}

// newPrinter starts a printer. Close ends it.
func newPrinter(w io.Writer) *printer { return newWatchedPrinter(w, nil) }

// newWatchedPrinter starts one that is missed as a screen where its stream takes
// nothing.
func newWatchedPrinter(w io.Writer, watch *vigil.Watch) *printer {
	p := &printer{w: w, watch: watch, wake: make(chan struct{}, 1), done: make(chan struct{}), broken: make(chan struct{})}
	go p.routineWrite()
	return p
}

// print queues one line, given without its line feed.
func (p *printer) print(line []byte) {
	p.mu.Lock()
	if p.err != nil || len(p.wait)+len(line) >= maxUnprinted {
		p.dropped++
	} else {
		p.wait = append(append(p.wait, line...), '\n')
	}
	p.mu.Unlock()
	p.wakeUp()
}

// say queues one line for people: what does not print is made visible.
func (p *printer) say(line string) { p.print([]byte(printable(line))) }

func (p *printer) wakeUp() {
	select {
	case p.wake <- struct{}{}:
	default:
	}
}

// routineWrite is started by newPrinter, ended by close or by a stream that
// takes no more, and waited for by close.
func (p *printer) routineWrite() {
	defer close(p.done)
	var buf []byte
	for range p.wake {
		p.mu.Lock()
		buf, p.wait = p.wait, buf[:0]
		ending := p.ending
		p.mu.Unlock()
		if len(buf) > 0 {
			p.watch.Beat(vigil.Screen)
			_, err := p.w.Write(buf)
			p.watch.Rest(vigil.Screen)
			if err != nil {
				p.mu.Lock()
				p.err = err
				p.mu.Unlock()
				p.watch.Fall(vigil.Screen) // nobody sees what is told from now on
				close(p.broken)
				return
			}
		}
		if ending {
			return
		}
	}
}

// close prints what waits and ends the printer. After a call to end it waits
// for the stream no longer than patience; before that, for as long as it
// takes.
func (p *printer) close(end <-chan struct{}, patience time.Duration) (dropped uint64, err error) {
	p.mu.Lock()
	p.ending = true
	p.mu.Unlock()
	p.wakeUp()
	select {
	case <-p.done:
	case <-end:
		t := time.NewTimer(patience)
		defer t.Stop()
		select {
		case <-p.done:
		case <-t.C:
		}
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.dropped, p.err
}
