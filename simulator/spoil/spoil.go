package spoil

import "math/rand/v2"

// A Source gives pieces of bytes and when they are due, microseconds since the
// start. Times never go back. done is true with the last piece.
type Source interface {
	Next(dst []byte) (out []byte, untilUS int64, done bool)
}

// stepUS is how finely the way is looked at: bytes that are due while the source
// is silent come at such steps.
const stepUS = 5000

// A Spoiler is a source that spoils what another one gives. It is made by New
// and not safe for use by two goroutines. Once its room has grown it allocates
// nothing.
type Spoiler struct {
	src    Source
	faults []fault
	count  [KindCount]uint64
	told   bool // some fault tells good lines anew

	in     []byte // the source's piece that is not due yet
	due    int64
	done   bool // it is the last one
	there  bool
	last   int64 // when the last piece that was given was due
	part   []byte
	lines  []byte
	cable  []byte
	bridge bridge
	uart   uart
	way    way
	away   bool
}

// A fault is one with its own chance, and what it has done.
type fault struct {
	Fault
	pcg      *rand.PCG
	happened bool    // one that happens once
	owed     float64 // filler lines of a flood, that are not whole yet
}

// hits draws once.
func (f *fault) hits() bool { return float64(f.pcg.Uint64()>>11)/(1<<53) < f.Value }

// New returns a source that spoils src by some faults. The same seed gives the
// same bytes.
func New(src Source, faults []Fault, seed uint64) *Spoiler {
	s := &Spoiler{src: src}
	for _, f := range faults {
		// Each kind has a stream of chance of its own (the number is part of what a
		// seed means).
		s.faults = append(s.faults, fault{Fault: f, pcg: rand.NewPCG(seed, 0xD1B54A32D192ED03*uint64(f.Kind+1))})
		switch f.Kind {
		case Restart, Flood, ClockDrift, ClockStep:
			s.told = true
		}
	}
	return s
}

// Count returns how many times a kind has spoilt something: bits, bytes, lines,
// heaps, moments, or, of a trickle, lines that found no room.
func (s *Spoiler) Count(k Kind) uint64 { return s.count[k] }

// An Idle fault spoils nothing, for the reason that is told.
type Idle struct {
	Fault
	Why string
}

// Idle returns the faults that have not spoilt anything, and cannot have: their time
// has not come, or they have no strength. Who tries an alarm by one would take its
// silence for the alarm's.
func (s *Spoiler) Idle() (out []Idle) {
	for i := range s.faults {
		f := s.faults[i].Fault
		switch a := f.Kind.About(); {
		case !a.Busy && f.Value == a.Nothing:
			out = append(out, Idle{f, "at that value nothing is spoilt"})
		case f.From > s.last:
			out = append(out, Idle{f, "the run ended first, at " + seconds(s.last) + " s"})
		}
	}
	return out
}

// Away reports whether the cable was out when the last piece was due.
func (s *Spoiler) Away() bool { return s.away }

// Next appends the next piece to dst.
func (s *Spoiler) Next(dst []byte) (out []byte, untilUS int64, done bool) {
	if !s.there {
		s.in, s.due, s.done = s.src.Next(s.in[:0])
		s.there = true
	}
	now := s.due
	if s.busy(now) && now > s.last+stepUS {
		now = s.last + stepUS
		s.cable = s.cable[:0]
	} else {
		s.there = false
		s.spoil(now)
	}
	dst = s.pass(dst, now)
	s.last = now
	if s.done && !s.there {
		if s.way.waits() {
			s.in, s.there = s.in[:0], true
			s.due = now + stepUS
			return dst, now, false
		}
		return dst, now, true
	}
	return dst, now, false
}

// busy reports whether something happens on the way before the source gives the
// next bytes.
func (s *Spoiler) busy(until int64) bool {
	return s.way.waits() || s.out(s.last) != s.out(until)
}

// spoil takes the source's piece through bridge and cable.
func (s *Spoiler) spoil(now int64) {
	s.lines = s.lines[:0]
	from := 0
	for i, c := range s.in {
		if c != '\n' {
			continue
		}
		line := s.in[from:i]
		if len(s.part) > 0 {
			s.part = append(s.part, line...)
			line = s.part
		}
		s.line(line, now)
		s.part = s.part[:0]
		from = i + 1
	}
	s.part = append(s.part, s.in[from:]...)
	if s.done {
		s.lines = append(s.lines, s.part...)
		s.part = s.part[:0]
	}
	s.onCable(now)
}

// line takes one line of the bridge, without its end.
func (s *Spoiler) line(l []byte, now int64) {
	from := len(s.lines)
	if !s.told {
		s.lines = append(append(s.lines, l...), '\n')
	} else {
		s.tell(l, now)
	}
	for i := range s.faults {
		f := &s.faults[i]
		if len(s.lines) == from || !f.at(now) {
			continue
		}
		switch f.Kind {
		case DoubledLines:
			if f.hits() {
				s.count[DoubledLines]++
				s.lines = append(s.lines, s.lines[from:]...)
			}
		case MergedLines:
			if f.hits() {
				s.count[MergedLines]++
				s.lines = s.lines[:len(s.lines)-1]
			}
		}
	}
}

// onCable takes the lines over the cable, byte by byte.
func (s *Spoiler) onCable(now int64) {
	s.cable = append(s.cable[:0], s.lines...)
	for i := range s.faults {
		f := &s.faults[i]
		if !f.at(now) || len(s.cable) == 0 {
			continue
		}
		switch f.Kind {
		case FlippedBits, LostBytes, DoubledBytes:
			s.lines, s.cable = s.cable, s.bytes(f, s.lines[:0])
		case WrongBaud:
			if f.Value != 1 {
				s.lines, s.cable = s.cable, s.uart.hear(s.lines[:0], s.cable, f.Value)
				s.count[WrongBaud] += uint64(len(s.cable))
			}
		}
	}
}

// bytes appends the cable's bytes, spoilt by one fault.
func (s *Spoiler) bytes(f *fault, dst []byte) []byte {
	for _, c := range s.cable {
		if !f.hits() {
			dst = append(dst, c)
			continue
		}
		s.count[f.Kind]++
		switch f.Kind {
		case FlippedBits:
			dst = append(dst, c^1<<(f.pcg.Uint64()&7))
		case DoubledBytes:
			dst = append(dst, c, c)
		}
	}
	return dst
}
