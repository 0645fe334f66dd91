package decode

import (
	"encoding/binary"
	"math/bits"
)

// A map of a line's commas: bit n&63 of word n>>6 for line[n]. The end of the
// body, where its "*" stands, has a bit as well; what is behind it is old.
type commas [(MaxLine + 63) / 64]uint64

const (
	ones     = 0x0101010101010101
	zeros    = '0' * ones
	overNine = 0x76 * ones // a byte from 10 to 0x7F comes to 0x80 and more
	tops     = 0x80 * ones
)

// read notes the commas of a line whose "*" stands at star, with eight bytes of
// checksum behind it. It reports whether the body holds bytes 0x20..0x7E alone
// and no "*".
//
// It looks at eight bytes at a time: a byte under 0x20 and 0xFF have their top
// bit set after the subtraction, one of 0x7F..0xFE has it after the addition.
// What is carried into the next byte comes from a bad one, so it misleads
// nobody. Where all bytes are below 0x80 nothing is carried in the other two
// sums: a top bit stays clear where a comma is, or a star.
func (m *commas) read(line []byte, star int) bool {
	bad := uint64(0)
	i := 0
	for w := range m {
		found := uint64(0)
		for k := 0; k < 8 && i < star; k++ {
			x := binary.LittleEndian.Uint64(line[i:])
			if left := star - i; left < 8 { // spaces instead of what is behind the body
				x = x&lows[left] | ' '*ones&^lows[left]
			}
			i += 8
			bad |= (x - ' '*ones) | (x + ones) | ^(x ^ '*'*ones + 0x7F*ones)
			there := ^(x ^ ','*ones + 0x7F*ones) & tops >> 7
			// The product gathers the eight bits in its top byte.
			found |= there * 0x0102040810204080 >> 56 << (k * 8)
		}
		m[w] = found
		if i >= star {
			break
		}
	}
	m[star>>6&3] |= 1 << (star & 63)
	return bad&tops == 0
}

// lows[n] keeps the lowest n bytes, tails[n] the highest n.
var lows, tails = func() (lows, tails [16]uint64) {
	for n := range lows {
		lows[n] = ^uint64(0)
		if n < 8 {
			lows[n] = 1<<(8*n) - 1
		}
		tails[n] = ^(^uint64(0) >> min(8*n, 64))
	}
	return lows, tails
}()

// head reads tag, seq and time where they are what a good bridge sends, and
// returns the tag and where the comma behind the time stands. Else it returns
// -1, and nothing is said of the line.
func (m *commas) head(line []byte, s *Sample) (tag Tag, at int) {
	left := m[0]
	a := bits.TrailingZeros64(left)
	left &= left - 1
	b := bits.TrailingZeros64(left)
	left &= left - 1
	c := bits.TrailingZeros64(left)
	if a > maxTag || c > 63 || c >= len(line)-sumLen+1 {
		return Unknown, -1
	}
	seq, ok1 := digits(line, a+1, b)
	time, ok2 := digits(line, b+1, c)
	if !ok1 || !ok2 || seq > 1<<16-1 || time > 1<<32-1 {
		return Unknown, -1
	}
	key := binary.LittleEndian.Uint64(line) & lows[a&15]
	s.Seq, s.Time = uint16(seq), uint32(time)
	if tag = tagOf(key); tag == Unknown && !letters(line[:a]) {
		return Unknown, -1
	}
	return tag, c
}

func letters(b []byte) bool {
	for _, c := range b {
		if c < 'a' || c > 'z' {
			return false
		}
	}
	return len(b) > 0
}

// digits reads a count of at most 16 digits.
func digits(line []byte, from, end int) (v uint64, ok bool) {
	n := end - from
	if n <= 8 {
		// The last digit moves to the top, so that zeros stand before the first.
		d := (binary.LittleEndian.Uint64(line[from:]) ^ zeros) << ((64 - 8*n) & 63)
		return joined(d), (d+overNine)&tops == 0 && n > 0
	}
	if n > 16 {
		return 0, false
	}
	high := (binary.LittleEndian.Uint64(line[from:]) ^ zeros) << (128 - 8*n)
	low := binary.LittleEndian.Uint64(line[end-8:]) ^ zeros
	return joined(high)*1e8 + joined(low), ((high+overNine)|(low+overNine))&tops == 0
}

// joined makes one number of eight digits, the first one in the lowest byte: by
// two, by four and by eight.
func joined(d uint64) uint64 {
	const pairs = 0x000000FF000000FF
	d = d*10 + d>>8
	return (d&pairs*(100+1_000_000<<32) + d>>16&pairs*(1+10_000<<32)) >> 32
}

// A point tells what to do with eight signs that have a decimal point: there
// makes zero of it, if it is one, in the byte that whole covers, before are the
// digits that then move up by one, and scale is what the number without its
// point is divided by.
type point struct {
	there, whole, before uint64
	scale                float64
}

const (
	lastSign   = 7           // a point there has no digit behind it
	noPoint    = 8           // where a point that is not there stands
	neverPoint = noPoint + 1 // beyond that
)

// points, by the place of the point among the eight signs.
var points = func() (p [16]point) {
	for at := range p {
		p[at].scale = 1
		if at < lastSign {
			p[at] = point{('.' ^ '0') << (8 * at), 0xFF << (8 * at), lows[at], pow10[lastSign-at]}
		}
	}
	return p
}()

// sixteen reads a number of 9 to 16 signs as shortRun reads a shorter one. The
// scale is 0 where it is left to the caller, as is one that float64 may not hold.
func sixteen(line []byte, end, length, least int) (n int64, scale float64) {
	if uint(length-9) >= 8 {
		return 0, 0
	}
	high := (binary.LittleEndian.Uint64(line[end-16:end-8]) ^ zeros) & tails[(length-8)&15]
	low := binary.LittleEndian.Uint64(line[end-8:end]) ^ zeros
	at := 8 + bits.TrailingZeros64((low+overNine)&tops)>>3
	wrong := uint64(0) // what is at the point's place is none
	if h := (high + overNine) & tops; h != 0 {
		at = bits.TrailingZeros64(h) >> 3
		high ^= ('.' ^ '0') << (8 * at)
		wrong = high & (0xFF << (8 * at))
		before := high & lows[at]
		high, scale = high^before^before<<8, pow10[15-at]
	} else {
		p := &points[at-8]
		low ^= p.there
		wrong = low & p.whole
		scale = p.scale
		if at < 16 { // all of high moves up as well
			before := low & p.before
			low, high = low^before^before<<8|high>>56, high<<8
		}
	}
	n = int64(joined(high)*1e8 + joined(low))
	if ((high+overNine)|(low+overNine))&tops|wrong != 0 || n > 1<<53 || at+length <= 16 || at < 2*least {
		return 0, 0
	}
	return n, scale
}

// shortRun reads the fields from steps[k] on as long as they are what a good
// bridge sends: numbers within their ranges, of at most 16 signs after the
// minus, or nothing. i is where the comma before the first one stands. It
// returns the step and the comma that it stopped at; anything that is out of
// the ordinary is left to the caller, which alone may reject a line.
//
// line is the whole line, its "*" and checksum behind the body. No field
// begins before the eighth byte, so the eight bytes before its end may be read.
// It hardly branches, since a processor cannot foresee which digits come next,
// and finds the fields by the map, so that it need not wait for one number
// before it begins with the next.
func shortRun(line []byte, m *commas, i int, steps []step, k int, s *Sample) (int, int) {
	w := i >> 6 & 3
	left := m[w] & (^uint64(1) << (i & 63)) // the commas behind this one
	star := len(line) - sumLen
	has := s.Has
	for ; k < len(steps) && i < star; k++ {
		st := &steps[k]
		if st.kind >= Word {
			break
		}
		for left == 0 && w < len(m)-1 {
			w++
			left = m[w]
		}
		end := w<<6 + bits.TrailingZeros64(left)
		from := i + 1
		if from == end { // not measured
			left &= left - 1
			i = end
			continue
		}
		neg := 0
		if line[from] == '-' {
			neg = 1
		}
		length := end - from - neg
		var n int64
		var scale float64
		if uint(length-1) < 8 {
			d := (binary.LittleEndian.Uint64(line[end-8:end]) ^ zeros) & tails[length&15]
			at := bits.TrailingZeros64((d+overNine)&tops) >> 3
			p := &points[at&15]
			d ^= p.there
			if (d+overNine)&tops|d&p.whole != 0 || at+length <= 8 || at < int(st.point) {
				break
			}
			before := d & p.before
			n, scale = int64(joined(d^before^before<<8)), p.scale
		} else if n, scale = sixteen(line, end, length, int(st.point)); scale == 0 {
			break
		}
		n = (n ^ -int64(neg)) + int64(neg) // negative without a branch; there is no minus zero
		v := float64(n) / scale
		if v < st.min || v > st.max {
			break
		}
		s.Num[st.slot] = v
		has |= 1 << (st.slot & 15)
		left &= left - 1
		i = end
	}
	s.Has = has
	return k, i
}
