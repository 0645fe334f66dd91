package decode

import (
	"bytes"
	"hash/crc32"
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
// a later version. Else s is empty and the error is ErrBlank or ErrHost, or a
// *LineError that is valid until the next call. s.Text and s.Word lie in line.
// Decode allocates nothing.
func (d *Decoder) Decode(line []byte, s *Sample) error {
	*s = Sample{}
	long := len(line)+1 > MaxLine
	if n := len(line); n > 0 && line[n-1] == '\r' {
		line = line[:n-1]
	}
	if len(line) == 0 {
		return ErrBlank
	}
	if line[0] == '#' {
		return ErrHost
	}
	if long {
		return d.reject(s, TooLong, "", nil)
	}
	if i := d.commas.readCommas(line); i >= 0 {
		return d.reject(s, BadByte, "", line[i:i+1])
	}
	star := len(line) - sumLen
	if star < 0 || line[star] != '*' {
		if i := bytes.LastIndexByte(line, '*'); i >= 0 {
			return d.reject(s, BadChecksum, "", line[i+1:])
		}
		return d.reject(s, NoChecksum, "", nil)
	}
	body := line[:star]
	sum, ok := checksum(line[star+1:])
	if !ok || sum != crc32.Checksum(body, castagnoli) {
		return d.reject(s, BadChecksum, "", line[star+1:])
	}
	if bytes.IndexByte(body, '*') >= 0 {
		return d.reject(s, StrayStar, "", nil)
	}
	d.commas[star>>6&3] |= 1 << (star & 63)
	return d.body(body, s)
}

// body reads tag, seq and time, then leaves the fields to fields.
func (d *Decoder) body(b []byte, s *Sample) error {
	key, i := tagKey(b)
	if i == 0 || i == len(b) || b[i] != ',' {
		return d.reject(s, BadHeader, "tag", piece(b, 0))
	}
	seq, n, ok := count(b[i+1:], 1<<16-1)
	if !ok || i+1+n == len(b) {
		return d.reject(s, BadHeader, "seq", piece(b, i+1))
	}
	i += 1 + n
	time, n, ok := count(b[i+1:], 1<<32-1)
	if !ok {
		return d.reject(s, BadHeader, "time", piece(b, i+1))
	}
	i += 1 + n
	s.Seq, s.Time = uint16(seq), uint32(time)
	for t := Unknown + 1; t < TagCount; t++ {
		if plans[t].key == key {
			s.Tag = t
			return d.fields(b, i, plans[t].steps, s)
		}
	}
	return nil
}

// fields reads the fields of a known tag. i is where the comma before the
// first one stands, or the end of b. The checksum stands behind b.
func (d *Decoder) fields(b []byte, i int, steps []step, s *Sample) error {
	for k := 0; k < len(steps); k++ {
		if k, i = shortRun(b[:len(b)+sumLen], &d.commas, i, steps, k, s); k == len(steps) {
			break
		}
		i++ // the comma
		if i >= len(b) {
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

// tagKey packs the tag's letters, at most eight, into one number and returns
// how many there are. A ninth letter is left standing where the comma should
// be.
func tagKey(b []byte) (key uint64, n int) {
	for n < len(b) && n < 8 && b[n] >= 'a' && b[n] <= 'z' {
		key = key<<8 | uint64(b[n])
		n++
	}
	return key, n
}

// hexDigits tells the value of an upper-case hexadecimal digit, notHex of any
// other byte.
var hexDigits = func() (t [256]uint8) {
	for i := range t {
		t[i] = notHex
	}
	for i, c := range []byte("0123456789ABCDEF") {
		t[c] = uint8(i)
	}
	return t
}()

const notHex = 0x80

// checksum reads eight upper-case hexadecimal digits.
func checksum(b []byte) (v uint32, ok bool) {
	bad := uint8(0)
	for _, c := range b {
		d := hexDigits[c]
		bad |= d
		v = v<<4 | uint32(d)
	}
	return v, bad&notHex == 0
}
