package link

import (
	"errors"
	"io"
)

// sessionChunk is how much of a recording is read at once: large enough that
// reading costs nothing beside judging.
const sessionChunk = 64 << 10

// A Session reads a recording, line by line. A file without any host line is
// a recording too.
type Session struct {
	r     io.Reader
	cut   Splitter
	whose whose
	buf   []byte
	rest  []byte // read but not yet cut
	bytes int64
	err   error // what ended the reading
	torn  int
}

// NewSession reads a recording from r.
func NewSession(r io.Reader) *Session {
	return &Session{r: r, buf: make([]byte, sessionChunk), cut: *NewSessionSplitter()}
}

// Next reads the next line into it. It returns io.EOF after the last whole
// line, or what the reader failed with.
func (s *Session) Next(it *Item) error {
	for empty := 0; ; {
		line, rest, ok := s.cut.next(s.rest)
		s.rest = rest
		if ok {
			ParseItem(line, it)
			s.whose.see(it)
			return nil
		}
		if s.err != nil {
			return s.end()
		}
		n, err := s.r.Read(s.buf)
		s.rest, s.err = s.buf[:n], err
		s.bytes += int64(n)
		if empty++; n > 0 {
			empty = 0
		} else if empty > 100 && err == nil {
			s.err = io.ErrNoProgress
		}
	}
}

func (s *Session) end() error {
	if n := s.cut.Forget(); n > 0 {
		s.torn = n
	}
	if errors.Is(s.err, io.EOF) {
		return io.EOF
	}
	return s.err
}

// Torn returns the length of a last line that has no line feed; it was
// dropped. It is known once Next has returned an error.
func (s *Session) Torn() int { return s.torn }

// Damage tells what could not be read of a compressed recording; nil for
// nothing. It is known once Next has returned an error.
func (s *Session) Damage() error {
	if d, ok := s.r.(interface{ Damage() error }); ok {
		return d.Damage()
	}
	return nil
}

// Bytes returns how many bytes were read so far.
func (s *Session) Bytes() int64 { return s.bytes }

// Dropped returns how many bytes of over-long lines were not kept.
func (s *Session) Dropped() uint64 { return s.cut.Dropped() }
