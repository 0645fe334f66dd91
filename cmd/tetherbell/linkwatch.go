package main

import (
	"fmt"

	"tetherbell/decode"
)

// linkPatience is how long a line may bring nothing good before a person is
// told what to look at: a bridge says hello every second.
const linkPatience = 2000 // ms

// trouble is what is wrong with the line as a whole.
type trouble uint8

const (
	noTrouble    trouble = iota
	silent               // not one byte
	onlyBad              // bytes, but no good line among them
	onlyText             // the same, and they are text: it is not the baud
	otherVersion         // a bridge of another protocol version
)

// A linkWatch notices a line that brings nothing, or nothing good: a wrong
// baud, a wrong port, a bridge that is off. It is asked now and then and
// keeps what it saw at the last turn.
type linkWatch struct {
	since int64 // ms: start of the stretch without a good line
	good  uint64
	bytes uint64 // at the start of the stretch
	last  uint64 // bytes at the last look
	heard int64  // ms: when a byte last came
	now   trouble
}

// look takes the counts so far and returns the trouble, and whether it is
// new since the last look.
func (l *linkWatch) look(ms int64, good, bytes, other uint64) (trouble, bool) {
	if bytes != l.last {
		if l.last == l.bytes {
			l.since = ms // the first bytes after silence: their own two seconds
		}
		l.last, l.heard = bytes, ms
	}
	before := l.now
	switch {
	case good != l.good:
		l.good, l.bytes, l.since, l.now = good, bytes, ms, noTrouble
	case ms-l.since < linkPatience:
	case bytes > l.bytes && ms-l.heard < linkPatience:
		l.now = onlyBad
		if other > 0 && l.good == 0 {
			l.now = otherVersion
		}
	default:
		l.now = silent
		l.bytes = bytes
	}
	return l.now, l.now != before && l.now != noTrouble
}

// of is a trouble of lines that are text, or are none.
func (t trouble) of(text bool) trouble {
	if t == onlyBad && text {
		return onlyText
	}
	return t
}

// words tells a trouble and the next step. baud is 0 where there is none to
// set.
func (t trouble) words(source string, baud int) (what, next string) {
	switch t {
	case silent:
		what = "nothing heard from " + source + " for 2 s"
		next = "is the bridge on, and is it this port? tetherbell ports lists them"
		if baud == 0 {
			next = "is the other end sending?"
		}
	case onlyBad:
		what = "nothing but bad lines from " + source + " for 2 s"
		next = "does the other end speak the bench line protocol?"
		if baud > 0 {
			next = fmt.Sprintf("is %d the bridge's baud? try another, for example --baud %d", baud, otherBaud(baud))
		}
	case onlyText:
		what = "nothing but bad lines from " + source + " for 2 s, and they are text"
		next = "the baud is right; is it a bench bridge, and what does the line show? decode/PROTOCOL.md has how lines are written"
	case otherVersion:
		what = fmt.Sprintf("the bridge speaks another protocol version than %d", decode.Version)
		next = "load a bridge program of this version, or a newer tetherbell"
	}
	return what, next
}

// otherBaud names the usual rate to try next.
func otherBaud(baud int) int {
	usual := []int{115200, 921600, 460800, 230400, 57600}
	for i, b := range usual {
		if b == baud {
			return usual[(i+1)%len(usual)]
		}
	}
	return usual[0]
}
