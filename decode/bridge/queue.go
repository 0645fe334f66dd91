package bridge

import (
	"errors"
	"fmt"
	"io"
	"sync"

	"tetherbell/decode"
)

// ErrFull says that a queue had no room for a whole line, and took nothing.
var ErrFull = errors.New("queue full")

// A Queue stands between a Writer and a slow port: it takes a line whole or not
// at all and never waits, while Run hands the bytes on. As it fills, what
// matters least is lost first: state, axes, out, erpm, load and hello may use
// all of it, other lines find room while no more than half is taken.
type Queue struct {
	mu     sync.Mutex
	filled *sync.Cond
	bytes  []byte
	head   int // where the next byte goes
	used   int
	closed bool
	err    error // of the port; nothing is taken until Run has another
}

// NewQueue returns a queue of so many bytes, at least those of two lines. A
// tenth of a second of the port's baud rate is plenty: what waits longer comes
// too late to warn anyone.
func NewQueue(size int) *Queue {
	q := &Queue{bytes: make([]byte, max(size, 2*decode.MaxLine+2))}
	q.filled = sync.NewCond(&q.mu)
	return q
}

// Write takes all of line or, with ErrFull, none of it. After the port has
// failed it returns the port's error, until Run is started again.
func (q *Queue) Write(line []byte) (int, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	switch {
	case q.err != nil:
		return 0, q.err
	case q.closed:
		return 0, io.ErrClosedPipe
	case len(line) > len(q.bytes)-q.used:
		return 0, ErrFull
	}
	n := copy(q.bytes[q.head:], line)
	copy(q.bytes, line[n:])
	q.head = (q.head + len(line)) % len(q.bytes)
	q.used += len(line)
	q.filled.Signal()
	return len(line), nil
}

// Close lets Run end once it has handed on what is there.
func (q *Queue) Close() error {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.closed = true
	q.filled.Broadcast()
	return nil
}

// Run hands the bytes on to port until the queue is closed and empty, or until
// the port fails. Start it in a goroutine of its own, one at a time. After a
// failure start it again, with the port opened anew: what waited is dropped, for
// its first line may be torn and all of it is old, and a line end goes out before
// the next, so that a line torn on the wire costs nothing but itself.
func (q *Queue) Run(port io.Writer) error {
	if q.restart() {
		if _, err := port.Write([]byte{'\n'}); err != nil {
			return q.fail(err)
		}
	}
	piece := make([]byte, decode.MaxLine)
	for {
		n := q.take(piece)
		if n == 0 {
			return nil
		}
		if _, err := port.Write(piece[:n]); err != nil {
			return q.fail(err)
		}
	}
}

// restart forgets that the port failed, and what waited then, and reports
// whether it had.
func (q *Queue) restart() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.err == nil {
		return false
	}
	q.err = nil
	q.used = 0
	return true
}

// fail lets every Write tell that the port has failed.
func (q *Queue) fail(err error) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.err = err
	return fmt.Errorf("write to the port: %w", err)
}

// take waits for bytes and moves them to piece; 0 when there will be no more.
func (q *Queue) take(piece []byte) int {
	q.mu.Lock()
	defer q.mu.Unlock()
	for q.used == 0 {
		if q.closed {
			return 0
		}
		q.filled.Wait()
	}
	tail := (q.head - q.used + len(q.bytes)) % len(q.bytes)
	n := copy(piece[:min(len(piece), q.used)], q.bytes[tail:])
	q.used -= n
	return n
}

// room is what a Writer asks of a Queue.
type room interface{ quiet(length int) bool }

// quiet reports whether a line that is not urgent has room: it leaves half of the
// queue free, unless nothing else waits.
func (q *Queue) quiet(length int) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.used == 0 || q.used+length <= len(q.bytes)/2
}

// urgent lists the tags that a person is warned by at once.
func urgent(t decode.Tag) bool {
	switch t {
	case decode.State, decode.Axes, decode.Out, decode.ERPM, decode.Load, decode.Hello:
		return true
	}
	return false
}
