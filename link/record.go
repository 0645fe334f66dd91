package link

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"sync"
	"time"
)

const (
	// maxQueue bounds the bytes that wait for the disk: over five minutes at
	// 115200 baud, and fourteen seconds at the fastest port there is.
	maxQueue = 4 << 20
	// writeEvery is how often what waits is written: under the tenth of a
	// second that a reader of a growing recording can expect.
	writeEvery = 90 * time.Millisecond
	// syncEvery is how often it is forced to the disk. Together with
	// writeEvery it stays within half a second.
	syncEvery = 400 * time.Millisecond
	// retryEvery is how often a disk that failed is tried again.
	retryEvery = 500 * time.Millisecond
)

// File is what a Recorder writes to; *os.File is one.
type File interface {
	io.Writer
	Sync() error
	Close() error
}

// SafeAfter is the promise of a recording: what is older is on the disk. A
// disk that takes so long is too slow, and its user must know.
const SafeAfter = time.Second

// RecordStatus tells how a recording is doing. It is a copy.
type RecordStatus struct {
	Path    string        // of the file that is written now
	Files   int           // that the recording went into so far: over 1 when one was lost
	Written int64         // bytes that this file has taken
	Waiting int           // bytes that wait for the disk
	Dropped uint64        // lines that found no room to wait
	Queued  uint64        // lines that wait for the disk, or that it may not have kept
	Err     error         // why the disk does not take more; nil when it does
	Faults  uint64        // how often writing or syncing went wrong
	Behind  time.Duration // how old the oldest line is that is not yet safe on the disk
}

// Missing counts the lines that are not in the recording: those that were dropped,
// and all that wait, once the disk takes no more or is behind its promise.
func (s *RecordStatus) Missing() uint64 {
	if s.Err == nil && s.Behind <= SafeAfter {
		return s.Dropped
	}
	return s.Dropped + s.Queued
}

// A Recorder appends lines to a file from a goroutine of its own. Its caller
// never waits for the disk: lines go to a bounded queue. A line that finds no
// room is dropped whole and counted, and the recording says so in that place.
// A disk that fails is tried again; nothing of the queue is lost by it, for a
// write goes on at the byte where the last one stopped. A file that is lost is
// followed by another in the same folder, as soon as there can be one.
//
// The methods that add lines are for one goroutine; Status is for any.
type Recorder struct {
	f     File
	path  string
	again func(name string, at int64) (*part, error) // makes the file after a lost one; nil: there is none

	mu      sync.Mutex // never held over a call to the file
	queue   []byte     // whole lines that wait
	queued  uint64     // how many, without those that tell of loss
	since   time.Time  // when the oldest of them came
	unsafe  time.Time  // when the oldest line came that the writer has and is not safe; zero: none
	lost    uint64     // lines dropped since the last one that found room
	status  RecordStatus
	closing bool

	wake chan struct{} // the queue is half full, or the end has come
	done chan struct{} // closed when the writer has ended
	line []byte        // scratch

	bridge []byte // the last line that said which bridge talks; empty where there is one
}

// NewRecorder starts to record to f, beginning with the header. The path is
// only shown: a file that is lost is not followed by another.
func NewRecorder(f File, path string, h SessionHeader) (*Recorder, error) {
	r := &Recorder{f: f, path: path, wake: make(chan struct{}, 1), done: make(chan struct{})}
	if err := r.start(h); err != nil {
		return nil, err
	}
	return r, nil
}

func (r *Recorder) start(h SessionHeader) error {
	head, err := headerText(h)
	if err != nil {
		return err
	}
	r.status.Path, r.status.Files = r.path, 1
	r.host("#session ", head)
	go r.routineWrite()
	return nil
}

// headRoom is left in a header for the name of a file that it continues.
const headRoom = 512

// ErrLongHeader says that craft and card of a recording are too long for its first
// line: whoever reads it would take it for one that has none.
var ErrLongHeader = errors.New("write recording's header: craft and card are too long together")

func headerText(h SessionHeader) ([]byte, error) {
	text, err := json.Marshal(h)
	if err != nil {
		return nil, fmt.Errorf("write recording's header: %w", err)
	}
	if len("#session ")+len(text)+headRoom > MaxLine {
		return nil, fmt.Errorf("%w (%d bytes of at most %d)", ErrLongHeader, len(text), MaxLine-headRoom-len("#session "))
	}
	return text, nil
}

// Line records a line of the wire, given without its line feed.
func (r *Recorder) Line(line []byte) {
	r.line = r.line[:0]
	if len(line) > 0 && line[0] == '#' {
		r.line = append(r.line, wirePrefix...)
	}
	r.line = append(r.line, line...)
	r.add()
}

// At records the host's clock.
func (r *Recorder) At(ms int64) {
	r.line = appendMillis(append(r.line[:0], "#at "...), ms)
	r.add()
}

// Bridge records that the lines to come are of bridge number n, from 1, in a
// piece that was read at the given time of the host's clock, microseconds.
func (r *Recorder) Bridge(n int, us int64) {
	r.line = strconv.AppendInt(append(r.line[:0], "#bridge "...), int64(n), 10)
	r.line = appendMillis(append(r.line, ' '), us/1000)
	for unit := int64(100); unit > 0; unit /= 10 {
		r.line = append(r.line, byte('0'+us/unit%10))
	}
	r.bridge = append(append(r.bridge[:0], r.line...), '\n')
	r.add()
}

// Ack records that a person acknowledged an alarm.
func (r *Recorder) Ack(alarm, where string) {
	r.line = append(append(r.line[:0], "#ack "...), alarm...)
	r.line = append(append(r.line, ' '), where...)
	r.add()
}

// Mark records a person's note. Line ends in it become spaces.
func (r *Recorder) Mark(text string) { r.text("#mark ", text) }

// Note records what the monitor has to tell of itself, as that it stood still.
func (r *Recorder) Note(text string) { r.text("#note ", text) }

func (r *Recorder) text(word, text string) {
	r.line = append(append(r.line[:0], word...), text...)
	for i, c := range r.line {
		if c == '\n' || c == '\r' {
			r.line[i] = ' '
		}
	}
	r.add()
}

// Pause records that a person paused the sound.
func (r *Recorder) Pause(ms int64) {
	r.line = appendMillis(append(r.line[:0], "#pause "...), ms)
	r.add()
}

// Alarm records one JSON object: what was said.
func (r *Recorder) Alarm(json []byte) { r.host("#alarm ", json) }

func (r *Recorder) host(word string, text []byte) {
	r.line = append(append(r.line[:0], word...), text...)
	r.add()
}

// add queues r.line with a line feed, or counts it as dropped.
func (r *Recorder) add() {
	r.line = append(r.line, '\n')
	const noteRoom = 80 // for the note of loss and the bridge's line after it
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.queue)+len(r.line)+noteRoom > maxQueue {
		r.lost++
		r.status.Dropped++
		return
	}
	if len(r.queue) == 0 {
		r.since = time.Now()
	}
	r.noteLossLocked()
	r.queue = append(r.queue, r.line...)
	r.queued++
	if len(r.queue) > maxQueue/2 {
		r.wakeUp()
	}
}

// noteLossLocked says in the recording that lines are missing here. Which bridge
// talks is said again: that line may be among the lost ones, and what follows
// would be taken for another's.
func (r *Recorder) noteLossLocked() {
	if r.lost == 0 {
		return
	}
	r.queue = strconv.AppendUint(append(r.queue, "#lost "...), r.lost, 10)
	r.queue = append(append(r.queue, '\n'), r.bridge...)
	r.lost = 0
}

func (r *Recorder) wakeUp() {
	select {
	case r.wake <- struct{}{}:
	default:
	}
}

// Status tells how the recording is doing.
func (r *Recorder) Status() RecordStatus {
	r.mu.Lock()
	defer r.mu.Unlock()
	s := r.status
	s.Waiting += len(r.queue)
	s.Queued += r.queued
	oldest := r.unsafe
	if oldest.IsZero() && len(r.queue) > 0 {
		oldest = r.since
	}
	if !oldest.IsZero() {
		s.Behind = time.Since(oldest)
	}
	return s
}

// Close records the end, waits until all is on the disk, and closes the file.
// It waits no longer than limit: a disk that is full or does not answer then
// keeps the recording without its last lines, and the error says so.
func (r *Recorder) Close(end []byte, limit time.Duration) error {
	r.host("#end ", end)
	r.mu.Lock()
	r.noteLossLocked() // when even the end found no room
	r.closing = true
	r.mu.Unlock()
	r.wakeUp()
	t := time.NewTimer(limit)
	defer t.Stop()
	late := false
	select {
	case <-r.done:
	case <-t.C:
		late = true
	}
	s := r.Status()
	err := s.Err
	if err == nil && late {
		err = errors.New("the disk does not answer")
	}
	if err == nil {
		return nil
	}
	return fmt.Errorf("finish recording %s: %w; %d lines are not in it", s.Path, err, s.Dropped+s.Queued)
}

// appendMillis writes milliseconds as seconds with three decimals.
func appendMillis(dst []byte, ms int64) []byte {
	dst = strconv.AppendInt(dst, ms/1000, 10)
	f := ms % 1000
	return append(dst, '.', byte('0'+f/100), byte('0'+f/10%10), byte('0'+f%10))
}
