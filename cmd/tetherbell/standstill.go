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
	if stood := time.Duration(ms-l.ticked) * time.Millisecond; stood > standstill {
		l.disk.standstill(stood, time.Now())
		l.catchUp()
		ms = l.ms()
	}
	l.ticked = ms
	return ms
}

// catchUp takes a piece of every port that is open, and whatever else has come,
// or gives up waiting.
func (l *live) catchUp() {
	t := time.NewTimer(catchUpFor)
	defer t.Stop()
	for wait := l.awaited(); wait != 0; {
		select {
		case p, ok := <-l.pieces:
			if wait &^= 1 << p.from; !ok {
				wait = 0
			}
			l.piece(p, ok)
		case <-t.C:
			return
		}
	}
	l.drain()
}

// awaited are the ports from which a piece is to be expected, a bit each by its
// bridge's number; bit 0 is the only source there is.
func (l *live) awaited() (ports uint) {
	if l.inlets == nil {
		return 1
	}
	for _, f := range l.inlets {
		if f.bytes > 0 && f.port.Status().Open {
			ports |= 1 << f.n
		}
	}
	return ports
}
