package link

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"sync"
	"sync/atomic"
	"syscall"
	"time"
)

// writerPatience is how long a pipe may be without a writer at its start: one
// that is started together with us gets there within it.
const writerPatience = 2 * time.Second

// A Recording is a file that is open to be read. A pipe is read like one, but
// it cannot be sought. A file that is compressed by Zstandard is read as if it
// were plain. Read is for one goroutine; Close may be called from any and
// releases it.
type Recording struct {
	f        *os.File
	text     atomic.Pointer[squeezed] // nil: it is plain, or not yet known
	early    []byte                   // read from a pipe to see what it is
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
	r := &Recording{
		f: f, pipe: info.Mode()&fs.ModeNamedPipe != 0, deadline: time.Now().Add(writerPatience),
		stop: make(chan struct{}),
	}
	if r.pipe {
		return r, nil
	}
	var head [sniffed]byte
	if _, err := f.ReadAt(head[:], 0); err == nil && isSqueezed(head[:]) {
		text, err := newSqueezed(f, info.Size())
		if err != nil {
			f.Close()
			return nil, fileError(path, err)
		}
		r.text.Store(text)
	}
	return r, nil
}

// Squeezed reports whether a file is compressed. Of a pipe that is known once
// it was read from.
func (r *Recording) Squeezed() bool { return r.text.Load() != nil }

// Damage tells what could not be read of a compressed recording, once it was
// read: nil, or a [*DamageError].
func (r *Recording) Damage() error {
	if text := r.text.Load(); text != nil {
		return text.hurtBy()
	}
	return nil
}

// Pipe reports whether it is a pipe, which can be read only once.
func (r *Recording) Pipe() bool { return r.pipe }

// Read reads on. A pipe without any writer yet is given two seconds before
// that is its end.
func (r *Recording) Read(p []byte) (int, error) {
	if text := r.text.Load(); text != nil {
		return text.Read(p)
	}
	switch {
	case len(r.early) > 0:
		n := copy(p, r.early)
		r.early = r.early[n:]
		return n, nil
	case !r.pipe || r.heard || len(p) == 0:
		return r.readPlain(p)
	}
	return r.readFirst(p)
}

// readFirst reads as much of a pipe as tells whether it is compressed.
func (r *Recording) readFirst(p []byte) (int, error) {
	var head [sniffed]byte
	n, err := r.readPlain(head[:])
	for n > 0 && n < sniffed && err == nil && mayBeSqueezed(head[:n]) {
		var m int
		m, err = r.readPlain(head[n:])
		n += m
	}
	if n == 0 {
		return 0, err
	}
	if isSqueezed(head[:n]) {
		text, err := newSqueezedStream(io.MultiReader(bytes.NewReader(head[:n]), plainReader{r}))
		if err != nil {
			return 0, err
		}
		r.text.Store(text)
		select {
		case <-r.stop: // Close may not have seen it
			text.close()
		default:
		}
		return text.Read(p)
	}
	r.early = append(r.early, head[:n]...) // an error comes again
	return r.Read(p)
}

// A plainReader reads what lies in a file as it is.
type plainReader struct{ r *Recording }

func (p plainReader) Read(b []byte) (int, error) { return p.r.readPlain(b) }

func (r *Recording) readPlain(p []byte) (int, error) {
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
func (r *Recording) Seek(offset int64, whence int) (int64, error) {
	if text := r.text.Load(); text != nil {
		return text.Seek(offset, whence)
	}
	return r.f.Seek(offset, whence)
}

// Close ends the reading. A Read under way returns at once.
func (r *Recording) Close() error {
	r.once.Do(func() { close(r.stop) })
	err := r.f.Close()
	if text := r.text.Load(); text != nil {
		text.close()
	}
	return err
}
