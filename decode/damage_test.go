package decode

import (
	"bytes"
	"math/rand/v2"
)

// A damage is one way in which a line comes to harm on its way. It appends
// what is left of the line, its LF included where that is left, to dst.
type damage struct {
	name string
	do   func(h *harm, dst, line []byte) []byte
}

// damages are what ports, cables, bridges and wrong settings do to lines, and
// what somebody does who edits a recording by hand.
var damages = []damage{
	{"bits flipped", (*harm).bits},
	{"a burst", (*harm).burst},
	{"bytes lost", (*harm).lost},
	{"bytes doubled", (*harm).doubled},
	{"bytes swapped", (*harm).swapped},
	{"bytes put in", (*harm).putIn},
	{"stuck high or low", (*harm).stuck},
	{"line end lost", func(_ *harm, dst, line []byte) []byte { return append(dst, line[:len(line)-1]...) }},
	{"line end put in", (*harm).split},
	{"digits changed", (*harm).digits},
	{"signs and points changed", (*harm).signs},
	{"fields exchanged", (*harm).fields},
	{"cut off", (*harm).cutOff},
	{"spliced with another", (*harm).spliced},
	{"checksum digits changed", (*harm).sumDigits},
	{"checksum of another", (*harm).sumOther},
	{"wrong baud", (*harm).wrongBaud},
}

// A harm damages lines, and says which lines were sent.
type harm struct {
	rng  *rand.Rand
	pool [][]byte // lines with their LF
	sent map[string]struct{}
}

func (h *harm) any() []byte { return h.pool[h.rng.IntN(len(h.pool))] }

// within appends the line and returns what was appended without its LF, to be
// changed in place.
func within(dst, line []byte) (all, body []byte) {
	n := len(dst)
	dst = append(dst, line...)
	return dst, dst[n : len(dst)-1]
}

func (h *harm) bits(dst, line []byte) []byte {
	n := len(dst)
	dst = append(dst, line...) // the LF may be hit too
	for range 1 + h.rng.IntN(8) {
		dst[n+h.rng.IntN(len(line))] ^= 1 << h.rng.IntN(8)
	}
	return dst
}

func (h *harm) burst(dst, line []byte) []byte {
	n := len(dst)
	dst = append(dst, line...)
	at := h.rng.IntN(len(line))
	for i := at; i < min(len(line), at+1+h.rng.IntN(12)); i++ {
		dst[n+i] ^= byte(h.rng.Uint32())
	}
	return dst
}

func (h *harm) lost(dst, line []byte) []byte {
	n := len(dst)
	dst = append(dst, line...)
	for range 1 + h.rng.IntN(4) {
		at := n + h.rng.IntN(len(dst)-n)
		dst = append(dst[:at], dst[at+1:]...)
	}
	return dst
}

func (h *harm) doubled(dst, line []byte) []byte {
	at := h.rng.IntN(len(line))
	to := at + 1 + h.rng.IntN(min(4, len(line)-at))
	dst = append(dst, line[:to]...)
	return append(dst, line[at:]...)
}

func (h *harm) swapped(dst, line []byte) []byte {
	dst, b := within(dst, line)
	at := h.rng.IntN(len(b) - 1)
	far := at + 1 + h.rng.IntN(min(8, len(b)-at-1))
	b[at], b[far] = b[far], b[at]
	return dst
}

func (h *harm) putIn(dst, line []byte) []byte {
	at := h.rng.IntN(len(line))
	dst = append(dst, line[:at]...)
	for range 1 + h.rng.IntN(4) {
		dst = append(dst, byte(h.rng.Uint32()))
	}
	return append(dst, line[at:]...)
}

func (h *harm) stuck(dst, line []byte) []byte {
	dst, b := within(dst, line)
	level := [...]byte{0x00, 0xFF, '0', ' ', 'U'}[h.rng.IntN(5)]
	at := h.rng.IntN(len(b))
	for i := at; i < min(len(b), at+1+h.rng.IntN(20)); i++ {
		b[i] = level
	}
	return dst
}

func (h *harm) split(dst, line []byte) []byte {
	at := h.rng.IntN(len(line))
	dst = append(dst, line[:at]...)
	dst = append(dst, [...]string{"\n", "\r\n", "\r"}[h.rng.IntN(3)]...)
	return append(dst, line[at:]...)
}

// changed puts other letters of a set in the place of some of that set.
func (h *harm) changed(b []byte, set string) {
	for range 1 + h.rng.IntN(3) {
		for from := h.rng.IntN(len(b)); from < len(b); from++ {
			if bytes.IndexByte([]byte(set), b[from]) >= 0 {
				b[from] = set[h.rng.IntN(len(set))]
				break
			}
		}
	}
}

func (h *harm) digits(dst, line []byte) []byte {
	dst, b := within(dst, line)
	h.changed(b[:len(b)-sumLen], "0123456789")
	return dst
}

func (h *harm) signs(dst, line []byte) []byte {
	dst, b := within(dst, line)
	h.changed(b[:len(b)-sumLen], ".,-0")
	return dst
}

func (h *harm) fields(dst, line []byte) []byte {
	a := bytes.IndexByte(line, ',')
	b := bytes.LastIndexByte(line, ',')
	for range h.rng.IntN(3) { // a later field
		if n := bytes.IndexByte(line[a+1:b], ','); n >= 0 {
			a += 1 + n
		}
	}
	star := len(line) - sumLen - 1
	dst = append(dst, line[:a]...)
	dst = append(dst, line[b:star]...)
	dst = append(dst, line[a:b]...)
	return append(dst, line[star:]...)
}

func (h *harm) cutOff(dst, line []byte) []byte {
	at := h.rng.IntN(len(line))
	switch h.rng.IntN(3) {
	case 0: // its beginning
		return append(dst, line[at:]...)
	case 1: // its end, the LF too
		return append(dst, line[:at]...)
	}
	return append(append(dst, line[:at]...), '\n')
}

// spliced joins the beginning of one line with the end of another, half of the
// time at commas, so that both halves look whole.
func (h *harm) spliced(dst, line []byte) []byte {
	other := h.any()
	i, j := h.rng.IntN(len(line)), h.rng.IntN(len(other))
	if h.rng.IntN(2) == 0 {
		i, j = max(0, bytes.IndexByte(line[i:], ',')+i), max(0, bytes.IndexByte(other[j:], ',')+j)
	}
	return append(append(dst, line[:i]...), other[j:]...)
}

func (h *harm) sumDigits(dst, line []byte) []byte {
	dst, b := within(dst, line)
	h.changed(b[len(b)-sumLen+1:], "0123456789ABCDEF")
	return dst
}

func (h *harm) sumOther(dst, line []byte) []byte {
	other := h.any()
	dst = append(dst, line[:len(line)-sumLen-1]...)
	return append(dst, other[len(other)-sumLen-1:]...)
}

// wrongBaud takes the line as it goes over the wire (a start bit, eight bits
// from the lowest on, a stop bit, then idle) and reads it at another rate.
func (h *harm) wrongBaud(dst, line []byte) []byte {
	rate := 0.45 + 1.6*h.rng.Float64() // of the reader over the sender
	total := 10 * len(line)
	level := func(at float64) bool {
		i := int(at)
		if i >= total {
			return true
		}
		c, bit := line[i/10], i%10
		return bit == 9 || bit > 0 && c>>(bit-1)&1 == 1
	}
	step := 1 / rate
	for at := h.rng.Float64(); at < float64(total); {
		if level(at) { // idle: look for a start bit
			at += step / 4
			continue
		}
		var c byte
		for bit := range 8 {
			if level(at + step*(1.5+float64(bit)) - step/4) {
				c |= 1 << bit
			}
		}
		dst = append(dst, c)
		at += step * 9.5
	}
	return dst
}
