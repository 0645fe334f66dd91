package main

import "time"

const (
	// standstill is how late a tick must be to say that we were not let run:
	// five of them are missing, which a machine at work does not do.
	standstill = 100 * time.Millisecond
	// catchUpFor is how long the reader then has to bring what came meanwhile:
	// its rest and a turn of the scheduler. A line that is silent too is told
	// that much later.
	catchUpFor = 60 * time.Millisecond
)

// onTime returns the host's clock for a tick. When the whole program has stood
// still, a machine too busy or put to sleep, lines wait in the port, and the
// clock must not be looked at before them: they would pass for a silence of the
// bridge.
func (l *live) onTime() int64 {
	ms := l.ms()
	if time.Duration(ms-l.ticked)*time.Millisecond > standstill {
		t := time.NewTimer(catchUpFor)
		select {
		case p, ok := <-l.pieces:
			l.piece(p, ok)
			l.drain()
		case <-t.C:
		}
		t.Stop()
		ms = l.ms()
	}
	l.ticked = ms
	return ms
}
