package link

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"sync"
	"syscall"
	"time"
)

// writerPatience is how long a pipe may be without a writer at its start: one
// that is started together with us gets there within it.
const writerPatience = 2 * time.Second

// A Recording is a file that is open to be read. A pipe is read like one, but
// it cannot be sought. Read is for one goroutine; Close may be called from
// any and releases it.
type Recording struct {
	f        *os.File
	pipe     bool
	heard    bool      // a first byte has come
	deadline time.Time // for the first writer of a pipe
	stop     chan struct{}
	once     sync.Once
}

// OpenRecording opens a file to read, and never waits for it. A folder and a
// device are refused with an *OpenError.
func OpenRecording(path string) (*Recording, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, fileError(path, err)
	case info.IsDir():
		return nil, &OpenError{What: "recording", Name: path, Fault: Directory}
	case info.Mode()&(fs.ModeDevice|fs.ModeSocket) != 0:
		return nil, &OpenError{What: "recording", Name: path, Fault: NotRecording}
	}
	// A plain open of a pipe waits for its writer, and nothing releases it.
	f, err := os.OpenFile(path, os.O_RDONLY|openAtOnce, 0)
	if err != nil {
		return nil, fileError(path, err)
	}
	return &Recording{
		f: f, pipe: info.Mode()&fs.ModeNamedPipe != 0, deadline: time.Now().Add(writerPatience),
		stop: make(chan struct{}),
	}, nil
}

// Pipe reports whether it is a pipe, which can be read only once.
func (r *Recording) Pipe() bool { return r.pipe }

// Read reads on. A pipe without any writer yet is given two seconds before
// that is its end.
func (r *Recording) Read(p []byte) (int, error) {
	for {
		n, err := r.f.Read(p)
		if !r.pipe || n > 0 {
			r.heard = true
			return n, err
		}
		switch {
		case errors.Is(err, syscall.EAGAIN): // where the system cannot wait for a pipe
		case errors.Is(err, io.EOF) && !r.heard && time.Now().Before(r.deadline):
		default:
			return n, err
		}
		t := time.NewTimer(tailWait)
		select {
		case <-r.stop:
			t.Stop()
			return 0, fs.ErrClosed
		case <-t.C:
		}
	}
}

// Seek goes to another place of a file.
func (r *Recording) Seek(offset int64, whence int) (int64, error) { return r.f.Seek(offset, whence) }

// Close ends the reading. A Read under way returns at once.
func (r *Recording) Close() error {
	r.once.Do(func() { close(r.stop) })
	return r.f.Close()
}
