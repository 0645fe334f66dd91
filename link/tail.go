package link

import (
	"errors"
	"io"
	"os"
	"sync"
	"time"
)

// tailWait is how long Tail waits at the end of the file before it looks
// again. It adds to the time until an alarm, so it is short.
const tailWait = 20 * time.Millisecond

// ErrShrank says that a file that should only grow became shorter.
var ErrShrank = errors.New("recording was cut short while it was read")

// A Tail reads a file that is still being written. It has no end: a Read
// with nothing new waits a little and returns 0 and nil. Read is for one
// goroutine; Close may be called from any.
type Tail struct {
	f        *os.File
	at       int64
	stop     chan struct{}
	stopOnce sync.Once
	mu       sync.Mutex // held while reading
}

// OpenTail opens a regular file from its beginning.
func OpenTail(path string) (*Tail, error) {
	f, err := OpenRecording(path)
	if err != nil {
		return nil, err
	}
	if f.Squeezed() {
		f.Close()
		return nil, &OpenError{What: "recording", Name: path, Fault: Compressed}
	}
	return &Tail{f: f.f, stop: make(chan struct{})}, nil
}

// Read returns what is new; 0 and nil at the present end of the file, io.EOF
// after Close, and ErrShrank when the file became shorter.
func (t *Tail) Read(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	select {
	case <-t.stop:
		return 0, io.EOF
	default:
	}
	n, err := t.f.Read(p)
	t.at += int64(n)
	if n > 0 || (err != nil && !errors.Is(err, io.EOF)) {
		return n, err
	}
	if info, err := t.f.Stat(); err == nil && info.Size() < t.at {
		return 0, ErrShrank
	}
	timer := time.NewTimer(tailWait)
	defer timer.Stop()
	select {
	case <-t.stop:
		return 0, io.EOF
	case <-timer.C:
		return 0, nil
	}
}

// Close ends the reading. A Read under way returns at once.
func (t *Tail) Close() error {
	t.stopOnce.Do(func() { close(t.stop) })
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.f.Close()
}
