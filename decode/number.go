package decode

import (
	"math"
	"strconv"
	"unsafe"
)

// maxNumber bounds what no range bounds. A line is too short to write more.
const maxNumber = math.MaxFloat64

// pow10 holds the powers of ten up to the longest fraction of the fast path.
// They are exact in a float64, as all are up to 1e22.
var pow10 = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9,
	1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19,
}

// maxDigits is how many decimal digits always fit a uint64.
const maxDigits = 19

// number reads the decimal number at the start of b, which ends at a comma or
// at the end of b. It returns the value, its length and whether it was written
// with a fraction. The result is the float64 nearest to the text, as strconv
// would give it: a mantissa of up to 2^53 and a power of ten of up to 1e22 are
// both exact, so their quotient is rounded once. Minus zero is read as zero.
func number(b []byte) (v float64, n int, fraction, ok bool) {
	neg := len(b) > 0 && b[0] == '-'
	if neg {
		n = 1
	}
	var m uint64
	first := n
	for n < len(b) {
		c := b[n] - '0'
		if c > 9 {
			break
		}
		m = m*10 + uint64(c)
		n++
	}
	digits := n - first
	if digits == 0 {
		return 0, 0, false, false
	}
	scale := 0
	if n < len(b) && b[n] == '.' {
		n++
		point := n
		for n < len(b) {
			c := b[n] - '0'
			if c > 9 {
				break
			}
			m = m*10 + uint64(c)
			n++
		}
		scale = n - point
		if scale == 0 {
			return 0, 0, true, false
		}
		fraction = true
	}
	if n < len(b) && b[n] != ',' {
		return 0, 0, fraction, false
	}
	if digits+scale > maxDigits || m > 1<<53 {
		v, ok = longNumber(b[:n])
		return v, n, fraction, ok
	}
	v = float64(int64(m)) / pow10[scale]
	if neg && m != 0 {
		v = -v
	}
	return v, n, fraction, true
}

// longNumber reads a number of more digits than the fast path takes. The
// grammar has been checked, so strconv sees digits alone.
func longNumber(b []byte) (float64, bool) {
	// A string of these bytes without a copy: ParseFloat does not keep it, and
	// a copy of over 32 bytes would be an allocation a line.
	v, err := strconv.ParseFloat(unsafe.String(&b[0], len(b)), 64)
	if v == 0 {
		v = 0 // minus zero is zero
	}
	return v, err == nil
}

// count reads the digits at the start of b, up to a comma or the end, as a
// number of at most limit.
func count(b []byte, limit uint64) (v uint64, n int, ok bool) {
	for n < len(b) {
		c := b[n] - '0'
		if c > 9 {
			break
		}
		if v = v*10 + uint64(c); v > limit {
			return 0, 0, false
		}
		n++
	}
	if n == 0 || n < len(b) && b[n] != ',' {
		return 0, 0, false
	}
	return v, n, true
}

// exactLength is how long a number may be that cannot lie beside a limit and yet have
// it as its nearest float64: a mantissa of 15 digits and what stands around it.
const exactLength = 15

// beyond looks at a number whose nearest float64 is a limit of the step: where the text
// itself lies outside, the next float64 outside is returned in place of v. It holds for
// limits that are whole, as all are.
func (st *step) beyond(text []byte, v float64) float64 {
	neg := text[0] == '-'
	if neg {
		text = text[1:]
	}
	var whole uint64
	more, point := false, false // a fraction over zero
	for _, c := range text {
		switch {
		case c == '.':
			point = true
		case point:
			more = more || c != '0'
		default:
			whole = whole*10 + uint64(c-'0')
		}
	}
	out := 0.0 // which way the text lies
	switch limit := uint64(math.Abs(v)); {
	case whole < limit:
		out = -1
	case more:
		out = 1
	}
	if neg {
		out = -out
	}
	if v == st.max && out > 0 || v == st.min && out < 0 {
		return math.Nextafter(v, math.Inf(int(out)))
	}
	return v
}
