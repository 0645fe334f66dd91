package decode

import (
	"encoding/binary"
	"math/bits"
)

// A map of a line's commas: bit n&63 of word n>>6 for line[n]. The end of the
// body, where its "*" stands, has a bit as well.
type commas [(MaxLine + 63) / 64]uint64

const (
	zeros    = 0x3030303030303030
	overNine = 0x7676767676767676
	tops     = 0x8080808080808080
)

// readCommas returns where the first byte outside 0x20..0x7E stands, or -1,
// and notes the commas before it. It looks at eight bytes at a time: a byte
// under 0x20 and 0xFF have their top bit set after the subtraction, one of
// 0x7F..0xFE has it after the addition. What is carried into the next byte
// comes from a bad one, so it misleads nobody.
func (m *commas) readCommas(line []byte) int {
	const low, one, comma, most = 0x2020202020202020, 0x0101010101010101, 0x2C2C2C2C2C2C2C2C, 0x7F7F7F7F7F7F7F7F
	*m = commas{}
	i := 0
	for ; i+8 <= len(line); i += 8 {
		x := binary.LittleEndian.Uint64(line[i:])
		if ((x-low)|(x+one))&tops != 0 {
			break
		}
		// All bytes are below 0x80, so nothing is carried: a top bit stays clear
		// where a comma is. The product gathers the eight bits in its top byte.
		there := ^(x ^ comma + most) & tops >> 7
		m[i>>6&3] |= there * 0x0102040810204080 >> 56 << (i & 63)
	}
	for ; i < len(line); i++ {
		switch c := line[i]; {
		case c < 0x20 || c > 0x7E:
			return i
		case c == ',':
			m[i>>6&3] |= 1 << (i & 63)
		}
	}
	return -1
}

// shortRun reads the fields from steps[k] on as long as they are what a good
// bridge sends: numbers within their ranges, of at most eight signs after the
// minus, or nothing. i is where the comma before the first one stands. It
// returns the step and the comma that it stopped at; anything that is out of
// the ordinary is left to the caller, which alone may reject a line.
//
// line is the whole line, its "*" and checksum behind the body: eight bytes may
// be read from everywhere in the body. It hardly branches, since a processor
// cannot foresee which digits come next, and finds the fields by the map, so
// that it need not wait for one number before it begins with the next.
func shortRun(line []byte, m *commas, i int, steps []step, k int, s *Sample) (int, int) {
	w := i >> 6 & 3
	left := m[w] & (^uint64(1) << (i & 63)) // the commas behind this one
	has := s.Has
	for ; k < len(steps); k++ {
		st := &steps[k]
		if st.kind >= Word || i >= len(line)-sumLen {
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
		from += neg
		length := 8 * uint(end-from) // in bits, as all from here on
		if length-8 > 56 {
			break
		}
		// Digits become their values; the last one moves to the top, so that
		// zeros stand before the first.
		d := (binary.LittleEndian.Uint64(line[from:]) ^ zeros) << ((64 - length) & 63)
		other := (d + overNine) & tops // where there is none; no byte is carried into the next
		places := uint(0)
		if other != 0 {
			point := uint(bits.TrailingZeros64(other)) &^ 7
			places = 56 - point
			if byte(d>>(point&63)) != '.'^'0' || other&(other-1) != 0 || places == 0 || point <= 64-length {
				break
			}
			before := uint64(1)<<(point&63) - 1
			d = d&before<<8 | d&^(before<<8|0xFF) // the point is taken out
		}
		// Joined by two, by four and by eight.
		d = d*10 + d>>8
		const pairs = 0x000000FF000000FF
		n := int64((d&pairs*(100+1_000_000<<32) + d>>16&pairs*(1+10_000<<32)) >> 32)
		n = (n ^ -int64(neg)) + int64(neg) // negative without a branch; there is no minus zero
		v := float64(n) / pow10[places/8&7]
		if v < st.min || v > st.max || st.strict && (places > 0 || st.even) {
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
