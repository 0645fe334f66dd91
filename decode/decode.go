package decode

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"math/bits"
)

// MaxLine is the most bytes of a line, its LF (and CR) included.
const MaxLine = 240

// sumLen is the length of "*" and the checksum.
const sumLen = 9

// castagnoli is CRC-32C, as RFC 3720 uses it.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// A Decoder turns lines into samples. The zero value is ready to use. It keeps
// nothing from line to line but the memory that it reads them with.
type Decoder struct {
	err    LineError
	commas commas
}

// Decode reads one line without its LF; a CR at its end is taken off. It
// returns nil when the line is good, and s.Tag is Unknown where the tag is of
// a later version, or written wrongly. Else s is empty and the error is ErrBlank or ErrHost, or a
// *LineError that is valid until the next call. s.Text and s.Word lie in line.
// Decode allocates nothing.
func (d *Decoder) Decode(line []byte, s *Sample) error {
	*s = Sample{}
	long := len(line)+1 > MaxLine
	if n := len(line); n > 0 && line[n-1] == '\r' {
		line = line[:n-1]
	}
	star := len(line) - sumLen
	if star <= 0 || long || line[star] != '*' || line[0] == '#' || !d.commas.read(line, star) {
		return d.refuse(line, long, s)
	}
	if sumText(crc32.Checksum(line[:star], castagnoli)) != binary.LittleEndian.Uint64(line[star+1:]) {
		for i, c := range line[star+1:] { // the body's bytes are good
			if c < 0x20 || c > 0x7E {
				return d.reject(s, BadByte, "", line[star+1+i:star+2+i])
			}
		}
		return d.reject(s, BadChecksum, "", line[star+1:])
	}
	tag, at := d.commas.head(line, s)
	if at < 0 {
		if tag, at = d.head(line[:star], s); at < 0 {
			return &d.err
		}
	}
	if tag == Unknown {
		s.Word = line[:bytes.IndexByte(line, ',')]
		return nil
	}
	s.Tag = tag
	return d.fields(line[:star], at, plans[tag].steps, s)
}

// refuse says why a line is none, in the order of the causes.
func (d *Decoder) refuse(line []byte, long bool, s *Sample) error {
	switch {
	case len(line) == 0:
		return ErrBlank
	case line[0] == '#':
		return ErrHost
	case long:
		return d.reject(s, TooLong, "", nil)
	}
	for i, c := range line {
		if c < 0x20 || c > 0x7E {
			return d.reject(s, BadByte, "", line[i:i+1])
		}
	}
	i := bytes.LastIndexByte(line, '*')
	if i < 0 {
		return d.reject(s, NoChecksum, "", nil)
	}
	body, sum := line[:i], line[i+1:]
	if len(sum) != 8 || sumText(crc32.Checksum(body, castagnoli)) != binary.LittleEndian.Uint64(sum) {
		return d.reject(s, BadChecksum, "", sum)
	}
	if bytes.IndexByte(body, '*') >= 0 {
		return d.reject(s, StrayStar, "", nil)
	}
	return d.reject(s, BadHeader, "tag", nil) // an empty body
}

// head reads tag, seq and time, whatever they look like, and returns the tag
// and where the comma behind the time stands, or the end of b. It rejects the
// line and returns -1 where one of them is none.
func (d *Decoder) head(b []byte, s *Sample) (tag Tag, at int) {
	n := 0
	for n < len(b) && n < maxTag && b[n] >= 'a' && b[n] <= 'z' {
		n++
	}
	if n == 0 || n == len(b) || b[n] != ',' {
		d.reject(s, BadHeader, "tag", piece(b, 0))
		return Unknown, -1
	}
	key := tagKey(b[:n])
	i := n
	seq, n, ok := count(b[i+1:], 1<<16-1)
	if !ok || i+1+n == len(b) {
		d.reject(s, BadHeader, "seq", piece(b, i+1))
		return Unknown, -1
	}
	i += 1 + n
	time, n, ok := count(b[i+1:], 1<<32-1)
	if !ok {
		d.reject(s, BadHeader, "time", piece(b, i+1))
		return Unknown, -1
	}
	s.Seq, s.Time = uint16(seq), uint32(time)
	return tagOf(key), i + 1 + n
}

// fields reads the fields of a known tag. i is where the comma before the
// first one stands, or the end of b. The checksum stands behind b.
func (d *Decoder) fields(b []byte, i int, steps []step, s *Sample) error {
	for k := 0; k < len(steps); k++ {
		if k, i = shortRun(b[:len(b)+sumLen], &d.commas, i, steps, k, s); k == len(steps) || i >= len(b) {
			break
		}
		i++ // the comma
		if i == len(b) {
			break
		}
		st := &steps[k]
		if st.kind >= Word {
			n, ok := st.text(b[i:], s)
			if !ok {
				return d.reject(s, BadWord, st.name, piece(b, i))
			}
			i += n
			continue
		}
		if b[i] == ',' {
			continue
		}
		v, n, fraction, ok := number(b[i:])
		if !ok || fraction && st.kind != Number {
			return d.reject(s, BadNumber, st.name, piece(b, i))
		}
		if n > exactLength && (v == st.min || v == st.max) {
			v = st.beyond(b[i:i+n], v)
		}
		if (v < st.min || v > st.max || st.even && int64(v)&1 != 0) && !(v == 0 && st.orZero) {
			if s.Tag == Hello && st.slot == HelloVersion {
				return d.reject(s, OtherVersion, st.name, piece(b, i))
			}
			return d.reject(s, OutOfRange, st.name, piece(b, i))
		}
		s.Num[st.slot] = v
		s.Has |= 1 << st.slot
		i += n
	}
	return nil
}

// text takes a word or a text off the start of b and returns its length.
func (st *step) text(b []byte, s *Sample) (n int, ok bool) {
	n = len(b)
	if st.kind != Rest {
		if i := bytes.IndexByte(b, ','); i >= 0 {
			n = i
		}
	}
	if n == 0 {
		return 0, true
	}
	b = b[:n:n]
	if st.kind != Word {
		s.Text = b
		return n, true
	}
	s.Word = b
	return n, isWord(b) && (st.words == nil || listed(st.words, b))
}

func isWord(b []byte) bool {
	for _, c := range b {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '_' && c != '-' {
			return false
		}
	}
	return true
}

func listed(words []string, b []byte) bool {
	for _, w := range words {
		if w == string(b) {
			return true
		}
	}
	return false
}

// reject empties s, so that nothing of a bad line can be taken for a value.
func (d *Decoder) reject(s *Sample, c Cause, field string, text []byte) error {
	*s = Sample{}
	d.err = LineError{Cause: c, Field: field, Text: text}
	return &d.err
}

// piece returns the field of b that starts at i, for an error.
func piece(b []byte, i int) []byte {
	if i >= len(b) {
		return nil
	}
	if n := bytes.IndexByte(b[i:], ','); n >= 0 {
		return b[i : i+n]
	}
	return b[i:]
}

// sumText writes a checksum as a line carries it, eight upper-case hexadecimal
// digits, the first one in the lowest byte.
func sumText(sum uint32) uint64 {
	const one = 0x0101010101010101
	// The bytes in the order of writing, then each half byte in a byte.
	x := uint64(bits.ReverseBytes32(sum))
	x = (x | x<<16) & 0x0000FFFF0000FFFF
	x = (x | x<<8) & 0x00FF00FF00FF00FF
	x = (x>>4 | x<<8) & (0x0F * one)
	letters := (x + 6*one) >> 4 & one // 1 where the digit is over nine
	return x + '0'*one + letters*('A'-'0'-10)
}
