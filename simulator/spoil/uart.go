package spoil

import "math"

// A uart hears bytes as a receiver at another rate would.
//
// The sender's waveform is that of 8N1: the line rests high; a byte is a low
// start bit, its eight bits with the lowest first, and a high stop bit (as
// every serial port does it; common practice, no source). The receiver begins
// at a falling edge, looks at the middle of each of its own ten bits, and takes
// a start bit that is high again for a knock. Where the stop bit is low it has
// lost the frame: it hands out the byte, as ports do unless told otherwise, and
// waits for the line to rest before it looks for the next edge.
//
// The bytes of a piece are sent without a pause, and then the line rests.
type uart struct{ bits []bool }

// restBits is how long the line rests after a piece, in the receiver's bits: one
// frame and some.
const restBits = 12

// hear appends what a receiver hears whose rate is so many times the sender's.
func (u *uart) hear(dst, sent []byte, rate float64) []byte {
	u.wave(sent, int(math.Ceil(restBits/rate)))
	bit := 1 / rate // of the receiver, in bits of the sender
	end := float64(len(u.bits))
	for at := 0.0; ; {
		edge, ok := u.edge(int(at))
		if !ok || float64(edge)+9.5*bit >= end {
			return dst
		}
		start := float64(edge)
		if u.bits[int(start+0.5*bit)] {
			at = start + 0.5*bit
			continue
		}
		var b byte
		for k := range 8 {
			if u.bits[int(start+(1.5+float64(k))*bit)] {
				b |= 1 << k
			}
		}
		dst = append(dst, b)
		at = start + 9.5*bit
	}
}

// wave draws the line's levels, bit by bit, with one bit of rest before.
func (u *uart) wave(sent []byte, rest int) {
	u.bits = append(u.bits[:0], true)
	for _, c := range sent {
		u.bits = append(u.bits, false)
		for k := range 8 {
			u.bits = append(u.bits, c>>k&1 != 0)
		}
		u.bits = append(u.bits, true)
	}
	for range rest {
		u.bits = append(u.bits, true)
	}
}

// edge returns where the line falls first, after a moment of the given bit.
func (u *uart) edge(from int) (int, bool) {
	for i := from + 1; i < len(u.bits); i++ {
		if u.bits[i-1] && !u.bits[i] {
			return i, true
		}
	}
	return 0, false
}
