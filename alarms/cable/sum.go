package cable

import (
	"bytes"
	"hash/crc32"
	"math/bits"

	"tetherbell/decode"
)

// formOfSum finds what a checksum of so many digits was made of. The text ends
// with the star.
func formOfSum(t []byte, sum uint32, lower bool, digits int) form {
	body := t[:len(t)-1]
	right := crc32.Checksum(body, castagnoli)
	zeroed := more(^uint32(0), body)
	short := digits < sumLen-1
	switch sum {
	case right:
		switch {
		case lower:
			return sumLower
		case short && digits == max(1, (bits.Len32(right)+3)/4):
			return sumUnpadded
		}
		return formNone
	case crc32.ChecksumIEEE(body):
		return sumZip
	case crc32.Checksum(t, castagnoli):
		return sumStar
	case crc32.Checksum(body[:len(body)-1], castagnoli):
		return sumLast
	case crc32.Checksum(body[1:], castagnoli):
		return sumFirst
	case more(crc32.Checksum(dollar, castagnoli), body):
		return sumBefore
	case ^right:
		return sumNotTurned
	case zeroed:
		return sumZero
	case ^zeroed:
		return sumZeroPlain
	case bits.ReverseBytes32(right):
		return sumSwapped
	case more(right, lineEnd[:1]), more(right, lineEnd[1:]), more(right, lineEnd), more(right, nought):
		return sumEnd
	}
	return formNone
}

// What a checksum may have been made over besides the body.
var dollar, lineEnd, nought = []byte("$"), []byte("\r\n"), []byte("\x00")

// more runs a checksum on.
func more(sum uint32, b []byte) uint32 { return crc32.Update(sum, castagnoli, b) }

// dressed reports whether a checksum is the right one, as a decimal number or
// with 0x in front.
func dressed(body, tail []byte) bool {
	if len(tail) > 2 && tail[0] == '0' && tail[1]|0x20 == 'x' {
		sum, _, ok := anyHex(tail[2:])
		return ok && sum == crc32.Checksum(body, castagnoli)
	}
	if len(tail) == 0 || len(tail) > mostDecimals {
		return false
	}
	sum := uint64(0)
	for _, c := range tail {
		if c < '0' || c > '9' {
			return false
		}
		sum = sum*10 + uint64(c-'0')
	}
	return sum == uint64(crc32.Checksum(body, castagnoli))
}

// mostDecimals is how long 32 bits are as a decimal number.
const mostDecimals = 10

// reads reports whether a line reads as one of the protocol, whatever follows its
// star: the body with its right checksum is good. It returns its count.
func (p *prover) reads(l []byte) (seq uint16, ok bool) {
	star := bytes.LastIndexByte(l, '*')
	if star <= 0 || star+sumLen > maxKept || len(l)-star-1 > mostDecimals {
		return 0, false
	}
	t := append(p.text[:0], l[:star]...)
	t = decode.AppendChecksum(t, 0)
	var s decode.Sample
	if p.dec.Decode(t[:len(t)-1], &s) != nil || s.Tag == decode.Unknown {
		return 0, false
	}
	return s.Seq, true
}

// anyHex reads up to eight digits in either case.
func anyHex(b []byte) (v uint32, lower, ok bool) {
	for _, c := range b {
		switch {
		case c >= '0' && c <= '9':
			v = v<<4 | uint32(c-'0')
		case c >= 'A' && c <= 'F':
			v = v<<4 | uint32(c-'A'+10)
		case c >= 'a' && c <= 'f':
			v, lower = v<<4|uint32(c-'a'+10), true
		default:
			return 0, false, false
		}
	}
	return v, lower, len(b) > 0 && len(b) < sumLen
}
