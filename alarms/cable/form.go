package cable

import "tetherbell/decode"

// A form is one way in which a bridge writes its lines wrongly. All of them are
// proven on the line itself: by a checksum that is right in another way, or by
// one that is good over what cannot be.
type form uint8

const (
	formNone     form = iota
	sumLower          // digits a to f
	sumUnpadded       // a zero in front is left out
	sumDressed        // a decimal number, or with 0x in front
	sumZip            // CRC-32 as zip has it
	sumStar           // taken over the "*" too
	sumLast           // the last byte left out
	sumFirst          // the first byte left out
	sumBefore         // taken over a "$" in front too
	sumNotTurned      // not turned over at its end
	sumZero           // begun with 0
	sumZeroPlain      // begun with 0, and not turned over at its end
	sumSwapped        // its bytes in the other order
	sumEnd            // taken over the line's end or a zero byte too
	sumNone           // no checksum at all
	sumOther          // the line reads well, and its checksum is right in no way that is known
	formParity        // good once bit 7 of each byte is cleared
	formEdge          // good but for what stands before or behind it
	formPrint         // words of somebody who looks for a fault in the bridge
	formBoot          // the boot number alone is another
	formBehind        // a tag's times lie behind the others'
	// From here on the checksum is good: one line is proof.
	sumGoodFrom
	formHead
	formNumber
	formWord
	formRange
	formStar
	formVersion
	formByte
	formLong
	formTorn
	formMillis
	formFactor
	countTags
	countStill
	countDown
	countBy
	formCount
)

// forms words them: what follows a number of lines, and what to do first.
var forms = [formCount]struct{ text, action string }{
	sumLower:     {"with a checksum in lower-case digits", "write the checksum with upper-case digits: %08X"},
	sumUnpadded:  {"with a checksum that lacks its zeros in front", "write the checksum with all eight digits: %08X"},
	sumDressed:   {"with a checksum that is a decimal number, or has 0x in front", "write the checksum with all eight digits: %08X"},
	sumZip:       {"with the CRC-32 of zip, not CRC-32C", "take CRC-32C (Castagnoli) for the checksum"},
	sumStar:      {"with a checksum that is made over the \"*\" too", "end the checksum before the \"*\""},
	sumLast:      {"with a checksum that leaves out the last byte", "make the checksum over all bytes before the \"*\""},
	sumFirst:     {"with a checksum that leaves out the first byte", "make the checksum over all bytes before the \"*\""},
	sumBefore:    {"with a checksum that is made over a \"$\" in front too", "begin the checksum with the tag"},
	sumNotTurned: {"with a checksum that is not inverted at its end", "invert all bits of the checksum at its end"},
	sumZero:      {"with a checksum that begins with 0", "begin the checksum with FFFFFFFF"},
	sumZeroPlain: {"with a checksum that begins with 0 and is not inverted at its end", "begin the checksum with FFFFFFFF, and invert it at its end"},
	sumSwapped:   {"with a checksum whose bytes stand in the other order", "write the checksum's highest byte first"},
	sumEnd:       {"with a checksum that is made over a line end or a zero byte too", "end the checksum before the \"*\""},
	sumNone:      {"without a checksum", "write \"*\" and the CRC-32C behind every line"},
	sumOther:     {"that read well, and whose checksum is right in no known way", "compare the bridge's checksum of 123456789: CRC-32C is E3069283"},
	formParity:   {"of 7 bits and a parity bit", "set 8 data bits and no parity at the bridge"},
	formEdge:     {"that are good but for a byte before or behind them", "write nothing before the tag, and CR and LF or LF alone behind the checksum"},
	formPrint:    {"of text that is no line of the protocol", "take debug prints out of the bridge, or write them as notes"},
	formHead:     {"whose checksum is good, and tag, count or time is none", "look how the bridge writes tag, count and time"},
	formNumber:   {"whose checksum is good, with what is no number", "write digits and a point, flags as 0 or 1; leave a field empty where nothing is measured"},
	formWord:     {"whose checksum is good, with a word that is not known", "look which words may stand there"},
	formRange:    {"whose checksum is good, with a value beyond its range", "look at the unit of the value, and at its sensor"},
	formStar:     {"whose checksum is good, with a \"*\" in the midst", "leave \"*\" out of names and notes"},
	formVersion:  {"that say hello with another version of the protocol", "use a bridge and a monitor of one version"},
	formByte:     {"whose checksum is good, with a byte that is no text", "write bytes 0x20 to 0x7E alone, also in names and notes"},
	formLong:     {"whose checksum is good, of over 240 bytes", "write fewer decimals, or shorter names and notes"},
	formTorn:     {"in whose midst another line stands: two tasks of the bridge write at once", "let one task at a time write, and a line as a whole"},
	formMillis:   {"whose times are milliseconds, it seems: the bridge's clock is slow by a thousand", "write times in microseconds"},
	formBoot:     {"that say hello with another boot number, while count and clock go on", "draw the boot number once, at the bridge's start"},
	formBehind:   {"that are stamped behind the others", "give a value that is over 50 ms old the time at which it is sent"},
	countTags:    {"that are counted for each tag by itself: how many are lost, nobody knows", "take one count for all lines of the bridge"},
	countStill:   {"whose count stands still: how many are lost, nobody knows", "raise the count by one with each line"},
	countDown:    {"whose count runs down: how many are lost, nobody knows", "raise the count by one with each line"},
	countBy:      {"whose counts go by more than one each time", "raise the count by one with each line; where it is, look why the others never come"},
	formFactor:   {"whose times go by too slow or too fast", "write times in microseconds: what a timer counts is seldom one"},
}

// byCause are the forms of lines whose checksum is good.
var byCause = [decode.CauseCount]form{
	decode.StrayStar: formStar, decode.BadHeader: formHead, decode.BadNumber: formNumber,
	decode.BadWord: formWord, decode.OutOfRange: formRange, decode.OtherVersion: formVersion,
}

// proven reports whether one line is proof.
func (f form) proven() bool { return f > sumGoodFrom }

// wrong is what is kept of a form.
type wrong struct {
	count  uint64
	quote  string // what is wrong in the first of them
	told   bool
	commas bool              // it has more fields than are known
	as     [KindCount]uint64 // of them, held back or told for what else they may be
}

const (
	// habitLeast lines of one form, and four in five bad ones, are how a bridge
	// writes. A turned bit may make a small letter of a digit, once in some
	// hundred bad lines (common practice, no source).
	habitLeast           = 8
	habitNum, habitDenom = 4, 5
	// noneGood bad lines with no good one between: that is how it is now.
	noneGood = 200
	// heldFor is how long a line is held back for the form to show itself.
	heldFor = 2_000_000 // us
)

// formOf tells in which way a bad line is written wrongly.
func (w *Watch) formOf(l []byte, cause decode.Cause) form {
	switch {
	case cause > decode.BadChecksum:
		return byCause[cause]
	case cause <= decode.BadByte && good(l):
		if cause == decode.TooLong {
			return formLong
		}
		return formByte
	case cause == decode.BadByte && w.sevenBits(l):
		return formParity
	case edged(l):
		return formEdge
	}
	star := len(l) - 1
	for star >= 0 && l[star] != '*' {
		star--
	}
	switch {
	case star < 0:
		switch {
		case cause != decode.NoChecksum || len(l) > maxKept:
		case begins(l):
			return sumNone
		case words(l):
			return formPrint
		}
		return formNone
	case star == 0 || len(l) > maxKept || !begins(l):
		return formNone
	}
	tail := l[star+1:]
	if dressed(l[:star], tail) {
		return sumDressed
	}
	sum, lower, ok := anyHex(tail)
	if !ok {
		return formNone
	}
	return formOfSum(l[:star+1], sum, lower, len(tail))
}
