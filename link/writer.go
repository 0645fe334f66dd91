package link

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"syscall"
	"time"
)

// lostAfter is how long a file that takes no more is tried before another is
// begun: a disk that wakes up, or a cable that is pushed back in, is quicker.
const lostAfter = 2 * time.Second

// routineWrite moves the queue to the file. It is started by NewRecorder,
// ends after Close once all is written or the disk has failed again, and is
// waited for by Close through done.
func (r *Recorder) routineWrite() {
	defer close(r.done)
	tick := time.NewTicker(writeEvery)
	defer tick.Stop()
	w := fileWriter{f: r.f, path: r.path, again: r.again, files: 1, syncer: newSyncer(), lastSync: time.Now()}
	defer w.syncer.close()
	for {
		select {
		case <-tick.C:
		case <-r.wake:
		case err := <-w.syncer.answer:
			w.synced(err)
		}
		closing := r.take(&w)
		if closing {
			w.finish()
		} else {
			w.step(time.Now())
		}
		r.publish(&w)
		if closing {
			return
		}
	}
}

// take moves the queue to the writer. While the disk still owes the last one
// nothing moves, so what waits is bounded by twice maxQueue.
func (r *Recorder) take(w *fileWriter) (closing bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.queue) > 0 && (w.takes(len(r.queue)) || r.closing) { // at the end all in one last try
		if w.dirtySince.IsZero() {
			w.dirtySince = r.since
		}
		w.add(r.queue)
		r.status.Queued += r.queued
		r.queue, r.queued = r.queue[:0], 0
	}
	r.status.Waiting = len(w.rest())
	r.unsafe = w.unsafeSince() // here too: the write to come may hang
	return r.closing
}

func (r *Recorder) publish(w *fileWriter) {
	queued := w.queued() // may be millions of bytes: nobody waits for the count
	r.mu.Lock()
	defer r.mu.Unlock()
	r.status.Path, r.status.Files = w.path, w.files
	r.status.Written = w.base + int64(w.sent)
	r.status.Waiting = len(w.rest())
	r.status.Queued = queued
	r.status.Err = w.err()
	r.status.Faults = w.faults
	r.unsafe = w.unsafeSince()
}

// A fileWriter writes lines to one file after the other. It remembers where it
// stopped, and keeps what it wrote until that is safe.
//
// Writing and syncing go on side by side: a sync that takes long holds up no
// write, so that what was written survives the end of the program at least.
// The next sync begins when the last has ended, or syncEvery after its
// beginning. So a line is safe after 0.49 s and one sync, or after two syncs
// where one takes longer than syncEvery: within a second up to syncs of half a
// second.
type fileWriter struct {
	f     File
	path  string
	again func(name string, at int64) (*part, error)
	files int

	kept []byte // whole lines, but for the last write; see synced
	sent int    // bytes of kept that were written
	base int64  // place of kept in the file
	turn []byte // the last line before kept that says which bridge talks

	syncer   *syncer
	syncing  bool
	mark     int // of kept: safe once the sync under way has ended
	before   int // of kept: safe by the sync before the last one
	lastSync time.Time
	dirty    bool // written, and no sync has begun since

	dirtySince time.Time // when the oldest line came that no sync has begun for
	syncSince  time.Time // the same of the sync under way

	lastTry  time.Time
	bad      time.Time // since when something fails
	writeErr error
	syncErr  error // stays while this file does, where another can follow it
	faults   uint64
}

func (w *fileWriter) rest() []byte { return w.kept[w.sent:] }

// queued counts the lines that are not in the file: what was not written, and what a
// sync that failed may have lost. A line that was cut in two is not in it.
func (w *fileWriter) queued() uint64 {
	from := w.sent
	if w.syncErr != nil {
		from = min(w.before, w.sent)
	}
	return uint64(bytes.Count(w.kept[from:], []byte{'\n'}))
}

func (w *fileWriter) err() error {
	if w.writeErr != nil {
		return w.writeErr
	}
	return w.syncErr
}

func (w *fileWriter) unsafeSince() time.Time {
	if w.syncSince.IsZero() {
		return w.dirtySince
	}
	return w.syncSince
}

// takes reports whether more lines may come. Those that a failing disk may
// have lost are needed for the next file, and are not given up for new ones.
func (w *fileWriter) takes(n int) bool {
	return len(w.rest()) == 0 && (w.syncErr == nil || w.again == nil || len(w.kept)+n <= maxQueue)
}

// add takes lines. Where they find no room, what was written longest ago is
// no longer kept: the system has it.
func (w *fileWriter) add(lines []byte) {
	if over := len(w.kept) + len(lines) - maxQueue; over > 0 {
		over = min(over, w.sent)
		w.forget(over + bytes.IndexByte(w.kept[over:w.sent], '\n') + 1)
	}
	w.kept = append(w.kept, lines...)
}

// turned keeps the last of some lines that says which bridge talks.
func (w *fileWriter) turned(lines []byte) {
	const word = "#bridge "
	at := bytes.LastIndex(lines, []byte("\n"+word)) + 1
	if line := lines[at:]; bytes.HasPrefix(line, []byte(word)) {
		w.turn = append(w.turn[:0], line[:bytes.IndexByte(line, '\n')+1]...)
	}
}

// forget drops the first bytes of kept, which were written: whole lines.
func (w *fileWriter) forget(n int) {
	w.turned(w.kept[:n])
	w.kept = w.kept[:copy(w.kept, w.kept[n:])]
	w.sent -= n
	w.base += int64(n)
	w.mark, w.before = max(0, w.mark-n), max(0, w.before-n)
}

// step does what is due.
func (w *fileWriter) step(now time.Time) {
	if w.err() != nil && now.Sub(w.lastTry) < retryEvery {
		return
	}
	w.lastTry = now
	if w.lostFile(now) && w.begin() {
		return
	}
	w.write()
	if w.dirty && !w.syncing && now.Sub(w.lastSync) >= syncEvery {
		w.startSync(now)
	}
}

// lostFile tells whether another file must be begun. A file of which a sync
// failed is not believed again: the next sync may succeed because the system
// has dropped what it could not write, and to write that anew in the same
// place does not help everywhere (ext4 of Linux 6 left zeros there). A file that
// takes no more gets its time, and one on a full disk all of it: there is no
// room for another either.
func (w *fileWriter) lostFile(now time.Time) bool {
	switch {
	case w.again == nil || w.syncing:
		return false
	case w.syncErr != nil:
		return true
	}
	return w.writeErr != nil && !full(w.writeErr) && now.Sub(w.bad) >= lostAfter
}

func full(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}

// write goes on where the last write stopped, even in the middle of a line:
// so a line that the full disk cut in two is whole again once there is space.
func (w *fileWriter) write() {
	for len(w.rest()) > 0 {
		n, err := w.f.Write(w.rest())
		n = max(0, min(n, len(w.rest())))
		w.sent += n
		w.dirty = w.dirty || n > 0
		if err == nil && n == 0 {
			err = io.ErrShortWrite
		}
		if err != nil {
			w.writeErr = w.fault("write", err)
			return
		}
	}
	w.writeErr = nil
}

func (w *fileWriter) startSync(now time.Time) {
	w.lastSync, w.syncing = now, true
	w.mark = bytes.LastIndexByte(w.kept[:w.sent], '\n') + 1
	w.dirty = false
	w.syncSince = w.dirtySince
	if len(w.rest()) == 0 {
		w.dirtySince = time.Time{}
	}
	w.syncer.ask <- w.f
}

// synced takes what the sync that was under way came to. What was not safe is
// kept for another file, and what the last good sync made safe as well: a disk
// that begins to fail may have lost that too, while it still said all was well
// (a loop device did so whose own disk got full).
func (w *fileWriter) synced(err error) {
	w.syncing = false
	if err != nil {
		w.syncErr = w.fault("sync", err)
	}
	if err != nil || w.syncErr != nil && w.again != nil {
		w.dirty, w.dirtySince, w.syncSince = true, w.syncSince, time.Time{}
		return
	}
	w.syncErr, w.syncSince = nil, time.Time{}
	w.forget(w.before)
	w.before = w.mark
}

// begin goes on in another file, with what may not be safe in the last one. It
// reports whether that has worked; else all stays as it was.
func (w *fileWriter) begin() bool {
	p, err := w.again(w.path, w.base)
	if err != nil {
		return false // the reason that is shown is the first one
	}
	text := slices.Concat(p.head, w.turn, w.kept)
	n, err := p.f.Write(text)
	if err == nil && n == len(text) {
		err = p.f.Sync()
	}
	if err != nil || n != len(text) {
		p.drop()
		return false
	}
	_ = w.f.Close() // nothing more can be had from it
	w.f, w.path, w.files = p.f, p.path, w.files+1
	w.kept, w.sent, w.base, w.before = w.kept[:0], 0, int64(len(text)), 0
	w.writeErr, w.syncErr, w.dirty = nil, nil, false
	w.dirtySince, w.syncSince = time.Time{}, time.Time{}
	w.lastSync = time.Now()
	w.turned(text)
	return true
}

// finish writes all, makes it safe, and closes the file.
func (w *fileWriter) finish() {
	if w.syncing {
		w.synced(<-w.syncer.answer)
	}
	w.write()
	if w.dirty {
		w.startSync(time.Now())
		w.synced(<-w.syncer.answer)
	}
	if w.again != nil && (w.syncErr != nil || w.writeErr != nil && !full(w.writeErr)) {
		w.begin()
	}
	if err := w.f.Close(); err != nil && w.err() == nil {
		w.writeErr = w.fault("close", err)
	}
}

func (w *fileWriter) fault(what string, err error) error {
	w.faults++
	if w.err() == nil {
		w.bad = time.Now()
	}
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err // the path stands in the status
	}
	return fmt.Errorf("%s recording: %w", what, err)
}
