package bridge

import (
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"tetherbell/decode"
)

// Bounds of what a Writer holds and sends.
const (
	MaxName     = 40  // bytes of a name; a longer one is cut
	MaxSettings = 200 // settings that are repeated
	maxDecimals = 9
)

// What a Writer repeats, and when; the protocol asks for these.
const (
	helloEvery = time.Second
	craftEvery = 10 * time.Second // each setting as well, spread out
)

// ErrRefused says that no such line can be: a setting without a proper name,
// more motors or settings than there can be. Nothing was sent, nothing is
// missing.
var ErrRefused = errors.New("refused")

// ErrNoClock says that a Writer was given no clock: without times of the bridge
// its lines are worth nothing, so none is sent.
var ErrNoClock = errors.New("the Config has no clock: set Now")

// Config says who the bridge is.
type Config struct {
	Name string // of the bridge
	Boot uint32 // another one after every start: a counter in a file, or a random number
	// Now is the bridge's clock: the time since any moment that stays the same
	// while the program runs. It must not step when somebody sets the clock of
	// the system: take a monotonic one, as the example does.
	Now func() time.Duration
}

// A Writer makes lines and writes each with one Write. It is safe for
// concurrent use, holds no more than one line and MaxSettings settings, and
// allocates nothing for a line that goes out. It waits as long as the io.Writer does: give it
// a Queue where a slow port must not hold up the sensors.
//
// A line whose Write fails is lost, and its number with it, so that the host
// sees a gap. Where a part of it was written, the next line begins with a line
// end, so that the torn one costs nothing but itself.
type Writer struct {
	mu       sync.Mutex
	w        io.Writer
	config   Config
	noClock  bool
	seq      uint16
	torn     bool
	counts   Counts
	craft    Craft
	hasCraft bool
	settings []setting
	due      struct {
		hello, craft, set time.Duration
		started           bool
		next              int // setting
	}
	sample decode.Sample
	name   [decode.MaxLine]byte
	line   [2 * decode.MaxLine]byte
}

// Counts is what a Writer has done since it was made.
type Counts struct {
	Lines      uint64 // lines that were written
	Dropped    uint64 // lines that the io.Writer did not take
	OutOfRange uint64 // values that could not be right and were sent as not measured
}

type setting struct {
	name  string
	value float64
}

// NewWriter returns a Writer on w. Nothing is written before the first call.
// Without a clock every method that sends returns ErrNoClock.
func NewWriter(w io.Writer, config Config) *Writer {
	noClock := config.Now == nil
	if noClock {
		config.Now = func() time.Duration { return 0 }
	}
	return &Writer{w: w, config: config, noClock: noClock, settings: make([]setting, 0, MaxSettings)}
}

// Now reads the bridge's clock: take it when the sensor is read, and give it to
// the method that sends the value. A value that is over 50 ms old by then (a slow
// conversion, a long mean) is given the time of sending: the host takes a step
// back of the clock by more for a restart.
func (w *Writer) Now() time.Duration { return w.config.Now() }

// Counts returns what the Writer has done.
func (w *Writer) Counts() Counts {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.counts
}

// Repeat sends what is due: hello, craft, the next setting. Every method that
// sends a value does so first; call it besides where nothing else is sent for
// half a second.
func (w *Writer) Repeat() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.repeatLocked()
}

func (w *Writer) repeatLocked() error {
	if w.noClock {
		return ErrNoClock
	}
	now := w.config.Now()
	var err error
	if !w.due.started || now >= w.due.hello {
		w.due.started = true
		w.due.hello = now + helloEvery
		err = w.helloLocked(now)
	}
	if w.hasCraft && now >= w.due.craft {
		w.due.craft = now + craftEvery
		err = errors.Join(err, w.craftLocked(now))
	}
	if n := len(w.settings); n > 0 && now >= w.due.set {
		w.due.set = now + craftEvery/time.Duration(n)
		w.due.next = (w.due.next + 1) % n
		err = errors.Join(err, w.setLocked(now, &w.settings[w.due.next]))
	}
	return err
}

// begin starts the line of a tag with nothing measured. The caller holds the
// lock until send.
func (w *Writer) beginLocked(tag decode.Tag, at time.Duration) *decode.Sample {
	// Microseconds modulo 2^32, as the protocol has it.
	w.sample = decode.Sample{Tag: tag, Seq: w.seq, Time: uint32(at / time.Microsecond)}
	return &w.sample
}

// send checks the line's numbers, writes it and counts it.
func (w *Writer) sendLocked() error {
	if w.noClock {
		return ErrNoClock
	}
	w.check()
	w.seq++ // whether it gets through or not
	line := w.line[:0]
	if w.torn {
		line = append(line, '\n')
	}
	from := len(line)
	line = decode.Append(line, &w.sample)
	if len(line)-from > decode.MaxLine {
		w.counts.Dropped++
		return fmt.Errorf("write a line of %s: %d bytes are too many", w.sample.Tag, len(line)-from)
	}
	if q, ok := w.w.(room); ok && !urgent(w.sample.Tag) && !q.quiet(len(line)) {
		w.counts.Dropped++
		return fmt.Errorf("write a line of %s: %w", w.sample.Tag, ErrFull)
	}
	n, err := w.w.Write(line)
	if err == nil && n < len(line) {
		err = io.ErrShortWrite
	}
	if err != nil {
		if n > 0 {
			w.torn = n < len(line)
		}
		w.counts.Dropped++
		return fmt.Errorf("write a line of %s: %w", w.sample.Tag, err)
	}
	w.torn = false
	w.counts.Lines++
	return nil
}

// check makes every number that cannot be right one that was not measured.
// Clamped it would look true, and sent as it is it would cost the whole line.
func (w *Writer) check() {
	s := &w.sample
	for _, l := range limits[s.Tag] {
		v, ok := s.Get(int(l.slot))
		if !ok || l.holds(v) {
			continue
		}
		w.counts.OutOfRange++
		s.Num[l.slot] = 0
		s.Has &^= 1 << l.slot
	}
}

// textLocked copies a text, at most so many bytes of it, to where the sample
// may point: a string of the caller cannot be had as bytes without a copy.
func (w *Writer) textLocked(text string, most int) []byte {
	return w.name[:copy(w.name[:most], text)]
}

func isWord(s string) bool {
	for _, c := range []byte(s) {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '_' && c != '-' {
			return false
		}
	}
	return len(s) > 0 && len(s) <= MaxName
}
