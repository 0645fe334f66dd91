package decode

import (
	"errors"
	"strconv"
)

// ErrBlank and ErrHost say that a line is no line of the bridge: neither good
// nor bad.
var (
	ErrBlank = errors.New("blank line")
	ErrHost  = errors.New("line of the host")
)

// Cause says why a line was rejected.
type Cause uint8

// The causes, in the order in which a line is examined: a line with several
// faults is counted under the first.
const (
	TooLong      Cause = iota // over 240 bytes with its line end
	BadByte                   // a byte outside 0x20..0x7E
	NoChecksum                // no "*"
	BadChecksum               // what follows the last "*" is not the body's checksum
	StrayStar                 // "*" inside the body
	BadHeader                 // tag, seq or time
	BadNumber                 // not a number of the grammar, or a fraction where a whole number stands
	BadWord                   // not a word, or not one of those listed
	OutOfRange                // a number beyond its range
	OtherVersion              // a hello of another protocol version
	CauseCount                // how many there are
)

var causeNames = [CauseCount]string{
	"too long", "bad byte", "no checksum", "bad checksum", "stray star",
	"bad header", "bad number", "bad word", "out of range", "other version",
}

// String returns the cause in two words.
func (c Cause) String() string {
	if c >= CauseCount {
		return "cause " + strconv.Itoa(int(c))
	}
	return causeNames[c]
}

// A LineError says why a line was rejected. The Decoder that returns it owns
// it and uses it again for the next line, so that a bad line costs no memory:
// copy what must outlive the next call, Text included.
type LineError struct {
	Cause Cause
	Field string // name of the field, "" where the line as a whole is at fault
	Text  []byte // what stood there; lies in the line
}

// Error tells the cause, the field and what stood there.
func (e *LineError) Error() string {
	msg := "reject line: " + e.Cause.String()
	if e.Field != "" {
		msg += " in " + e.Field
	}
	if len(e.Text) > 0 {
		msg += " " + strconv.QuoteToASCII(string(e.Text))
	}
	return msg
}
