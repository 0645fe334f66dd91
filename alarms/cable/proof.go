package cable

import (
	"bytes"
	"hash/crc32"
	"math/bits"

	"tetherbell/decode"
)

// sumLen is the length of "*" and the checksum.
const sumLen = 9

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// byTop finds the entry of the checksum's table with a given top byte. All are
// different: that is what lets a checksum be run backwards.
var byTop = func() (t [256]uint8) {
	for i, v := range castagnoli {
		t[v>>24] = uint8(i)
	}
	return t
}()

// good reports whether a line has its own checksum.
func good(l []byte) bool {
	star := len(l) - sumLen
	if star <= 0 || l[star] != '*' {
		return false
	}
	sum, ok := hexOf(l[star+1:])
	return ok && sum == crc32.Checksum(l[:star], castagnoli)
}

// hexOf reads the digits of a checksum as they are to be written.
func hexOf(b []byte) (v uint32, ok bool) {
	v, lower, ok := anyHex(b)
	return v, ok && !lower
}

// A prover finds the one byte by which a bad line differs from a good one. It
// owns its scratch.
type prover struct {
	fore [maxKept + 2]uint32 // state of the checksum before each byte
	back [maxKept + 2]uint32 // the state that the rest needs to end in the checksum
	text [maxKept + 2]byte
	dec  decode.Decoder
}

// maxKept is the most bytes of a line that are looked at: the longest line that
// may come.
const maxKept = 240

// prove tells which one fault of one byte made the line, as the checksum says.
func (p *prover) prove(l []byte) (Kind, bool) {
	if len(l) <= sumLen || len(l) > maxKept {
		return Unclear, false
	}
	star := len(l) - sumLen
	if sum, ok := hexOf(l[star+1:]); ok && l[star] == '*' {
		if k, ok := p.inBody(l[:star], sum); ok {
			return k, true
		}
	}
	return p.inSum(l)
}

// inBody finds the fault in the body, whose checksum came well. Forward runs the
// checksum up to each byte, backward runs it from what came: where both meet
// with one byte left out, put in or changed, that byte was at fault.
func (p *prover) inBody(b []byte, sum uint32) (Kind, bool) {
	n := len(b)
	p.fore[0] = ^uint32(0)
	for i, c := range b {
		p.fore[i+1] = castagnoli[byte(p.fore[i])^c] ^ p.fore[i]>>8
	}
	p.back[n] = ^sum
	for i := n - 1; i >= 0; i-- {
		k := byTop[p.back[i+1]>>24]
		p.back[i] = (p.back[i+1]^castagnoli[k])<<8 | uint32(k^b[i])
	}
	for i := 0; i <= n; i++ {
		if i > 0 && i < n && b[i] == b[i-1] && p.fore[i] == p.back[i+1] {
			return DoubledBytes, true
		}
		if i < n {
			if c, ok := p.between(i, i+1); ok && inLine(c) && fewTurned(bits.OnesCount8(c^b[i])) {
				return FlippedBits, true
			}
		}
		if c, ok := p.between(i, i); ok && inLine(c) {
			return LostBytes, true
		}
	}
	return Unclear, false
}

// mostTurned is how many bits of one byte may have turned: a byte that another
// has taken the place of is no flipped bit.
const mostTurned = 2

// fewTurned reports whether so many bits may have turned. Where none has, the
// checksum is right, and proves nothing against the line.
func fewTurned(n int) bool { return n >= 1 && n <= mostTurned }

// between finds the byte that leads from the state before byte i to the one that
// the rest from j on needs. There is one at most.
func (p *prover) between(i, j int) (byte, bool) {
	k := byTop[p.back[j]>>24]
	return k ^ byte(p.fore[i]), p.back[j]^castagnoli[k] == p.fore[i]>>8
}

// inSum finds the fault in the star and the checksum's digits, whose body came
// well: there are few, and each is tried.
func (p *prover) inSum(l []byte) (Kind, bool) {
	for _, off := range [...]int{0, 1, -1} { // as long as it was, one more, one less
		star := len(l) - sumLen - off
		if star <= 0 {
			continue
		}
		tail := p.text[:0]
		sum := crc32.Checksum(l[:star], castagnoli)
		tail = append(tail, '*')
		for k := 28; k >= 0; k -= 4 {
			tail = append(tail, "0123456789ABCDEF"[sum>>k&15])
		}
		came := l[star:]
		switch off {
		case 0:
			if fewTurned(turned(tail, came)) {
				return FlippedBits, true
			}
		case 1:
			if d := differAt(came, tail); d > 0 && came[d] == came[d-1] && bytes.Equal(came[d+1:], tail[d:]) {
				return DoubledBytes, true
			}
		default:
			if d := differAt(tail, came); bytes.Equal(tail[d+1:], came[d:]) {
				return LostBytes, true
			}
		}
	}
	return Unclear, false
}

// differAt returns where a longer text begins to differ from a shorter one.
func differAt(long, short []byte) int {
	for i := range short {
		if long[i] != short[i] {
			return i
		}
	}
	return len(short)
}

// turned counts the bits by which two texts of one length differ.
func turned(a, b []byte) (n int) {
	for i := range a {
		n += bits.OnesCount8(a[i] ^ b[i])
	}
	return n
}

// joined tells whether a bad line is two good ones, and how its line end came
// to be missing: it was lost, or a bit of it turned.
func joined(l []byte) (Kind, bool) {
	for i := 0; i+sumLen < len(l); i++ {
		if l[i] != '*' || !good(l[:i+sumLen]) {
			continue
		}
		rest := l[i+sumLen:]
		if rest[0] == '\r' && len(rest) > 1 { // of a CR and LF
			rest = rest[1:]
		}
		switch {
		case begins(rest):
			return MergedLines, true
		case bits.OnesCount8(rest[0]^'\n') == 1 && begins(rest[1:]):
			return FlippedBits, true
		}
	}
	return Unclear, false
}

// begins reports whether a text begins as a line does: a tag, and digits.
func begins(l []byte) bool {
	i := 0
	for i < len(l) && i < 8 && l[i] >= 'a' && l[i] <= 'z' {
		i++
	}
	return i > 0 && i+1 < len(l) && l[i] == ',' && l[i+1] >= '0' && l[i+1] <= '9'
}

// split reports whether two bad lines are one good one whose star became a line
// end by one turned bit.
func (p *prover) split(a, b []byte) bool {
	if len(a)+1+len(b) > maxKept || len(b) != sumLen-1 {
		return false
	}
	t := append(append(append(p.text[:0], a...), '*'), b...)
	return good(t)
}

// inLine reports whether a byte may stand in the body of a line: no "*" may.
func inLine(c byte) bool { return printable(c) && c != '*' }

func printable(c byte) bool { return c >= 0x20 && c <= 0x7E }

// garbage reports whether a line is no text at all.
func garbage(l []byte) bool {
	odd := 0
	for _, c := range l {
		if !printable(c) {
			odd++
		}
	}
	return len(l) > 0 && odd*garbageOf >= len(l) && odd >= garbageLeast
}

// reading reports whether a line is printable to the last byte.
func reading(l []byte) bool {
	for _, c := range l {
		if !printable(c) {
			return false
		}
	}
	return true
}

// A line is garbage when a quarter of its bytes, and at least three, are outside
// the printable ones: of all bytes five in eight are, and a knock that spoils a
// few bytes of a line is no wrong rate (common practice, no source).
const garbageOf, garbageLeast = 4, 3
