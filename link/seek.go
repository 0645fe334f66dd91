package link

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
)

const (
	// nearBytes is the stretch that is read line by line rather than halved
	// once more: one read of a disk.
	nearBytes = sessionChunk
	// tailBytes is how much of a recording's end is searched for the host's last
	// tick: a fifth of a second at the fastest port there is, and ticks come
	// every tenth at least. What is appended to a recording that had ended would
	// have to be longer to hide them.
	tailBytes = 64 << 10
)

// A Walker reads a recording like a Session, and tells where each line begins,
// so that a reader can come back to it. It is handed a reader that stands at
// the beginning of a line.
type Walker struct {
	r     *bufio.Reader
	at    int64 // offset of the next line
	part  []byte
	whose whose
	bytes int64
}

// NewWalker reads lines from r, whose next byte has the given offset.
func NewWalker(r io.Reader, offset int64) *Walker {
	return &Walker{r: bufio.NewReaderSize(r, sessionChunk), at: offset}
}

// Next reads the next line into it and returns the offset of its first byte.
// It ends as a Session does: io.EOF after the last whole line, or what the
// reader failed with. The item is valid until the next call.
func (w *Walker) Next(it *Item) (offset int64, err error) {
	line, size, err := w.line()
	if err != nil {
		return w.at, err
	}
	offset = w.at
	w.at += size
	ParseItem(line, it)
	w.whose.see(it)
	return offset, nil
}

// Offset is where the next line begins.
func (w *Walker) Offset() int64 { return w.at }

// Bytes returns how many bytes were looked at, those of a torn line too.
func (w *Walker) Bytes() int64 { return w.bytes }

// line returns the next line without its line feed, no longer than a Session
// keeps it, and how many bytes it takes in the file.
func (w *Walker) line() (line []byte, size int64, err error) {
	const room = MaxLine + len(wirePrefix)
	w.part = w.part[:0]
	for {
		piece, err := w.r.ReadSlice('\n')
		size += int64(len(piece))
		w.bytes += int64(len(piece))
		switch {
		case err == nil && len(w.part) == 0:
			piece = piece[:len(piece)-1]
			return piece[:min(len(piece), room)], size, nil
		case err == nil:
			w.part = append(w.part, piece[:len(piece)-1]...)
			return w.part[:min(len(w.part), room)], size, nil
		case !errors.Is(err, bufio.ErrBufferFull):
			return nil, size, err // what has no line feed is no line
		}
		w.part = append(w.part, piece[:min(len(piece), room-len(w.part))]...)
	}
}

// A Place is a line of the host's clock in a recording.
type Place struct {
	Offset int64 // of the line's first byte
	MS     int64 // what it says
}

// FindAt finds by halving the first "#at" line of a recording that says ms or
// later. ok is false where there is none. A recording put together from
// several, whose host's clock steps back, has more than one place where it
// passes ms: it finds one of them, before which lies a line that says less, or
// none at all. A reader that does not know its length, as that of a compressed
// text without a table, is not looked through: nothing is found in it.
func FindAt(r io.ReadSeeker, ms int64) (p Place, ok bool, err error) {
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return p, false, nil
	}
	// No "#at" line that says ms or later begins before lo in the stretch; the
	// first one from hi on does, or is p, or there is none.
	lo, hi := int64(0), size
	for hi-lo > nearBytes {
		mid := lo + (hi-lo)/2
		found, there, err := nextAt(r, mid, hi, -1)
		switch {
		case err != nil:
			return p, false, err
		case there && found.MS < ms:
			lo = found.Offset
		case there:
			p, ok, hi = found, true, mid
		default:
			hi = mid // none begins in that half
		}
	}
	near, there, err := nextAt(r, lo, hi, ms)
	if err != nil || !there {
		return p, ok, err
	}
	return near, true, nil
}

// LastAt finds the last "#at" line in the end of a recording; none where the
// reader does not know its length.
func LastAt(r io.ReadSeeker) (p Place, ok bool, err error) {
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return p, false, nil
	}
	err = eachAt(r, max(0, size-tailBytes), size, func(next Place) bool {
		p, ok = next, true
		return true
	})
	return p, ok, err
}

// nextAt finds the first "#at" line that begins in [from, to) and says ms or
// later.
func nextAt(r io.ReadSeeker, from, to, ms int64) (p Place, ok bool, err error) {
	err = eachAt(r, from, to, func(next Place) bool {
		p, ok = next, next.MS >= ms
		return !ok
	})
	return p, ok, err
}

// eachAt visits the "#at" lines that begin in [from, to) while it is told to go
// on. Where from lies within a line, that line is passed over.
func eachAt(r io.ReadSeeker, from, to int64, visit func(Place) (on bool)) error {
	if from > 0 {
		from-- // a line feed just before it makes it the beginning of a line
	}
	if _, err := r.Seek(from, io.SeekStart); err != nil {
		return fmt.Errorf("seek in recording: %w", err)
	}
	w := NewWalker(r, from)
	for first := from > 0; w.at < to; first = false {
		line, size, err := w.line()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("read recording: %w", err)
		}
		at := w.at
		w.at += size
		if first || !bytes.HasPrefix(line, []byte("#at ")) {
			continue
		}
		var it Item
		if ParseItem(line, &it); it.Kind == At && !visit(Place{at, it.MS}) {
			return nil
		}
	}
	return nil
}
