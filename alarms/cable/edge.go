package cable

import (
	"bytes"

	"tetherbell/decode"
)

const (
	// parityLeast bytes with bit 7 set: one alone may have turned.
	parityLeast = 2
	// printLeast bytes and so many letters on end are words: what is left of a
	// line of which bytes are missing has figures (common practice, no source).
	printLeast, wordLeast = 8, 3
)

// sevenBits reports whether a line is good once bit 7 of each byte is cleared: it
// was sent as 7 bits and a parity bit.
func (w *Watch) sevenBits(l []byte) bool {
	if len(l) > maxKept {
		return false
	}
	t, high := w.prove.text[:len(l)], 0
	for i, c := range l {
		t[i] = c & 0x7F
		high += int(c >> 7)
	}
	return (high >= parityLeast || high == 1 && w.habit(formParity)) && good(trimmed(t))
}

// trimmed is a line without a CR at its end.
func trimmed(l []byte) []byte {
	if n := len(l); n > 0 && l[n-1] == '\r' {
		return l[:n-1]
	}
	return l
}

// edged reports whether a line is good but for bytes under 0x21 and one odd byte
// at either end. A byte that came twice is none of those.
func edged(l []byte) bool {
	from, to := 0, len(l)
	for from < to && l[from] <= ' ' {
		from++
	}
	for from < to && l[to-1] <= ' ' {
		to--
	}
	if from > 0 || to < len(l) {
		if good(l[from:to]) {
			return true
		}
	}
	if to-from < sumLen+2 {
		return false
	}
	if c := l[from]; c != l[from+1] && (c < 'a' || c > 'z') && good(l[from+1:to]) {
		return true
	}
	return l[to-1] != l[to-2] && l[to-1-sumLen] == '*' && good(l[from:to-1])
}

// words reports whether a text without a star is what somebody prints who looks
// for a fault in the bridge.
func words(l []byte) bool {
	letters, run, odd := 0, 0, 0
	for _, c := range l {
		switch {
		case c|0x20 >= 'a' && c|0x20 <= 'z':
			letters++
			run = max(run, letters)
			continue
		case !printable(c):
			return false
		case c != ' ' && (c < '0' || c > '9'):
			odd++
		}
		letters = 0
	}
	return len(l) >= printLeast && run >= wordLeast && odd*3 <= len(l)
}

// inner finds a good line behind the beginning of another text.
func inner(l []byte) (from, to int, ok bool) {
	for star := 1; star+sumLen <= len(l); star++ {
		if l[star] != '*' {
			continue
		}
		for from := star - 1; from > 0; from-- {
			if c := l[from]; c >= 'a' && c <= 'z' && starts(l[from:star]) && good(l[from:star+sumLen]) {
				return from, star + sumLen, true
			}
		}
	}
	return 0, 0, false
}

// starts reports whether a text begins with a tag that is known.
func starts(l []byte) bool {
	_, known := tagOf(l)
	return known && begins(l)
}

// tagOf is the tag that a text begins with, where it is known.
func tagOf(l []byte) (decode.Tag, bool) {
	return decode.TagNamed(string(l[:max(0, bytes.IndexByte(l[:min(len(l), 9)], ','))]))
}

// surplus tells of a line that has more fields than its tag is known to have: how
// many there are, and how many are known. It is 0, 0 for every other line.
func surplus(line []byte) (fields, known int) {
	body := line
	if star := bytes.LastIndexByte(line, '*'); star >= 0 {
		body = line[:star]
	}
	tag, _ := tagOf(body)
	return decode.Surplus(tag, body)
}

// around takes a bad line with a good one in it, and reports whether it is good
// without that one: two have written at once. Where the good one ends the line,
// the rest may follow as a line of its own.
func (w *Watch) around(l []byte) (f form, ok bool) {
	from, to, ok := inner(l)
	switch {
	case !ok || len(l) > 2*maxKept:
		return formNone, false
	case to < len(l):
		t := append(append(w.half[:0], l[:from]...), l[to:]...)
		w.half = t[:0]
		return formTorn, good(t)
	case !begins(l[:from]) && words(l[:from]):
		return formPrint, true
	}
	w.half = append(w.half[:0], l[:from]...)
	return formNone, false
}

// rejoins reports whether a bad line is the rest of a good one, whose beginning
// stood before another line.
func (w *Watch) rejoins(l []byte) bool {
	half := w.half
	w.half = half[:0]
	return len(half) > 0 && len(half)+len(l) <= maxKept && good(append(half, l...))
}
