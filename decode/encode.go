package decode

import (
	"hash/crc32"
	"math"
	"strconv"
)

// Append appends the line of s: body, "*", checksum and LF. Decoding it gives
// s again when s holds what a line can hold. Ranges and length are not
// checked, so that tests can make lines out of range; but no byte that would
// tear the line is written: such a byte of a text becomes "_", and a number
// that is not finite becomes a field that was not measured. A sample of an
// unknown tag has no line: dst comes back as it is. Append allocates nothing
// where dst has room.
func Append(dst []byte, s *Sample) []byte {
	if s.Tag == Unknown || s.Tag >= TagCount {
		return dst
	}
	from := len(dst)
	return AppendChecksum(AppendBody(dst, s), from)
}

// AppendBody appends the line of s up to the "*". Fields at the end that were
// not measured are left out.
func AppendBody(dst []byte, s *Sample) []byte {
	if s.Tag == Unknown || s.Tag >= TagCount {
		return dst
	}
	dst = append(dst, formats[s.Tag].name...)
	dst = append(dst, ',')
	dst = strconv.AppendUint(dst, uint64(s.Seq), 10)
	dst = append(dst, ',')
	dst = strconv.AppendUint(dst, uint64(s.Time), 10)
	end := len(dst) // of the last field with something in it
	steps := plans[s.Tag].steps
	for k := range steps {
		dst = append(dst, ',')
		before := len(dst)
		dst = steps[k].appendField(dst, s)
		if len(dst) > before {
			end = len(dst)
		}
	}
	return dst[:end]
}

// AppendChecksum closes the line whose body is dst[from:]: "*", the CRC-32C
// of the body in eight upper-case hexadecimal digits, and LF.
func AppendChecksum(dst []byte, from int) []byte {
	const digits = "0123456789ABCDEF"
	sum := crc32.Checksum(dst[from:], castagnoli)
	dst = append(dst, '*')
	for shift := 28; shift >= 0; shift -= 4 {
		dst = append(dst, digits[sum>>uint(shift)&15])
	}
	return append(dst, '\n')
}

func (st *step) appendField(dst []byte, s *Sample) []byte {
	switch st.kind {
	case Word:
		return appendText(dst, s.Word, false)
	case Text, Rest:
		return appendText(dst, s.Text, st.kind == Rest)
	}
	v, ok := s.Get(int(st.slot))
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
		return dst
	}
	if v == 0 {
		return append(dst, '0') // minus zero as well
	}
	return strconv.AppendFloat(dst, v, 'f', -1, 64)
}

func appendText(dst, text []byte, commas bool) []byte {
	for _, c := range text {
		if c < 0x20 || c > 0x7E || c == '*' || c == ',' && !commas {
			c = '_'
		}
		dst = append(dst, c)
	}
	return dst
}
