package link

import "bytes"

// A Splitter cuts a stream of bytes into lines, wherever the stream happens
// to be cut into pieces. The zero value is ready. It allocates only to hold
// the longest unfinished line so far.
type Splitter struct {
	part    []byte // the unfinished line, at most max bytes of it
	cut     int    // bytes of the unfinished line beyond that
	room    int    // most bytes kept of a line; 0 means MaxLine
	dropped uint64
}

// Feed takes the next bytes and calls line for every line that ends in them,
// without its line feed; a carriage return before it stays. The line is valid
// only during the call.
func (s *Splitter) Feed(p []byte, line func(line []byte)) {
	for {
		l, rest, ok := s.next(p)
		if !ok {
			return
		}
		line(l)
		p = rest
	}
}

// Unplug ends the unfinished line, if there is one, where the port was lost.
func (s *Splitter) Unplug(line func(line []byte)) {
	if s.Torn() == 0 {
		return
	}
	l := s.part
	s.clear()
	line(l)
}

// Forget drops the unfinished line, as at the end of the input, and returns
// how long it was.
func (s *Splitter) Forget() int {
	n := s.Torn()
	s.clear()
	return n
}

// Torn returns the length of the unfinished line.
func (s *Splitter) Torn() int { return len(s.part) + s.cut }

// Dropped returns how many bytes of over-long lines were not kept.
func (s *Splitter) Dropped() uint64 { return s.dropped }

// next returns the first line that ends in p and the bytes after it. Without
// one it keeps p as a part of the line to come. The line is valid until the
// next call.
func (s *Splitter) next(p []byte) (line, rest []byte, ok bool) {
	i := bytes.IndexByte(p, '\n')
	if i < 0 {
		s.keep(p)
		return nil, nil, false
	}
	rest = p[i+1:]
	if s.Torn() == 0 && i <= s.max() {
		return p[:i], rest, true // the usual case: no copy
	}
	s.keep(p[:i])
	line = s.part
	s.clear()
	return line, rest, true
}

func (s *Splitter) max() int {
	if s.room > 0 {
		return s.room
	}
	return MaxLine
}

func (s *Splitter) keep(p []byte) {
	n := min(len(p), s.max()-len(s.part))
	s.part = append(s.part, p[:n]...)
	s.cut += len(p) - n
	s.dropped += uint64(len(p) - n)
}

// clear starts a new line. The bytes of the old one stay readable until
// something is kept again.
func (s *Splitter) clear() {
	s.part = s.part[:0]
	s.cut = 0
}

// NewSessionSplitter returns a Splitter for a recording, whose lines may be
// longer than those of the wire by what marks them.
func NewSessionSplitter() *Splitter { return &Splitter{room: MaxLine + len(wirePrefix)} }
