package link

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"time"
)

// routineWrite moves the queue to the file. It is started by NewRecorder,
// ends after Close once all is written or the disk has failed again, and is
// waited for by Close through done.
func (r *Recorder) routineWrite() {
	defer close(r.done)
	tick := time.NewTicker(writeEvery)
	defer tick.Stop()
	var (
		w        = fileWriter{f: r.f}
		lastTry  time.Time
		lastSync = time.Now()
	)
	for {
		select {
		case <-tick.C:
		case <-r.wake:
		}
		closing := r.take(&w)
		now := time.Now()
		if w.err != nil && now.Sub(lastTry) < retryEvery && !closing {
			continue
		}
		lastTry = now
		w.write()
		if closing || now.Sub(lastSync) >= syncEvery {
			w.sync()
			lastSync = now
		}
		if closing {
			w.close()
		}
		r.publish(&w)
		if closing {
			return
		}
	}
}

// take swaps the queue against the writer's empty buffer. While the disk
// still owes the last one nothing moves, so what waits is bounded by twice
// maxQueue.
func (r *Recorder) take(w *fileWriter) (closing bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(w.rest) == 0 {
		w.buf, r.queue = r.queue, w.buf[:0]
		w.rest = w.buf
	} else if r.closing { // nothing more will come: all in one last try
		w.rest = append(w.rest, r.queue...)
		r.queue = r.queue[:0]
	}
	r.status.Waiting = len(w.rest)
	return r.closing
}

func (r *Recorder) publish(w *fileWriter) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.status.Written = w.written
	r.status.Waiting = len(w.rest)
	r.status.Err = w.err
	r.status.Faults = w.faults
	if !w.dirty && w.err == nil {
		r.status.LastSync = time.Now()
	}
}

// fileWriter writes one buffer after the other and remembers where it
// stopped.
type fileWriter struct {
	f       File
	buf     []byte // the storage of rest
	rest    []byte // not yet written
	written int64
	dirty   bool // written but not yet synced
	unsafe  bool // the last sync failed
	faults  uint64
	err     error
}

// write goes on where the last write stopped, even in the middle of a line:
// so a line that the full disk cut in two is whole again once there is space.
func (w *fileWriter) write() {
	for len(w.rest) > 0 {
		n, err := w.f.Write(w.rest)
		n = max(0, min(n, len(w.rest)))
		w.rest = w.rest[n:]
		w.written += int64(n)
		w.dirty = w.dirty || n > 0
		if err == nil && n == 0 {
			err = io.ErrShortWrite
		}
		if err != nil {
			w.fail("write", err)
			return
		}
	}
	if !w.unsafe { // a failed sync stays said until one succeeds
		w.err = nil
	}
}

func (w *fileWriter) sync() {
	if !w.dirty {
		return
	}
	if err := w.f.Sync(); err != nil {
		w.unsafe = true
		w.fail("sync", err)
		return
	}
	if w.unsafe && len(w.rest) == 0 {
		w.err = nil
	}
	w.dirty, w.unsafe = false, false
}

func (w *fileWriter) close() {
	if err := w.f.Close(); err != nil && w.err == nil {
		w.fail("close", err)
	}
}

func (w *fileWriter) fail(what string, err error) {
	w.faults++
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err // the path stands in the status
	}
	w.err = fmt.Errorf("%s recording: %w", what, err)
}
