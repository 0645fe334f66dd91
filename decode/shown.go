package decode

import (
	"fmt"
	"unicode"
	"unicode/utf8"
)

// Shown reports whether a character of a text from outside (a name, a note, a
// file's name) shows as itself and moves nothing: no control or format
// character, no turn of the direction of writing, no separator of lines, none
// that is invisible or joins the one before it.
func Shown(r rune) bool {
	if r < utf8.RuneSelf {
		return r >= 0x20 && r < 0x7F
	}
	return unicode.IsPrint(r) && !unicode.Is(unicode.M, r) && !unicode.Is(unicode.Other_Default_Ignorable_Code_Point, r) &&
		r != 0x2800 && r != utf8.RuneError // a pattern of no dots
}

// MostAccents is how many marks a letter of a text from outside may bear; more
// would cover the lines about it.
const MostAccents = 2

// Accents tells, letter by letter, which marks of a text are those of a word.
// The zero value is ready at the beginning of a text.
type Accents struct{ room int }

// Shown reports whether the next character of the text shows: as the function
// Shown does, and a mark where it stands on a letter.
func (a *Accents) Shown(r rune) bool {
	if r < utf8.RuneSelf {
		a.room = 0
		if r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' {
			a.room = MostAccents
		}
		return Shown(r)
	}
	if unicode.Is(unicode.M, r) && a.room > 0 && !unicode.Is(unicode.Me, r) &&
		!unicode.Is(unicode.Variation_Selector, r) && !unicode.Is(unicode.Other_Default_Ignorable_Code_Point, r) {
		a.room--
		return true
	}
	a.room = 0
	if !Shown(r) {
		return false
	}
	if unicode.IsLetter(r) {
		a.room = MostAccents
	}
	return true
}

// EscapeJSON writes a JSON text so that every character in it is Shown, its
// line feeds excepted: in JSON other characters stand in strings alone, where
// \u says the same. Bytes that are no text become U+FFFD. What is plain comes
// back as it is.
func EscapeJSON(text []byte) []byte {
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRune(text[i:])
		if r != '\n' && !Shown(r) {
			return escapeJSON(append(make([]byte, 0, len(text)+64), text[:i]...), text[i:])
		}
		i += n
	}
	return text
}

func escapeJSON(dst, text []byte) []byte {
	for len(text) > 0 {
		r, n := utf8.DecodeRune(text)
		switch {
		case r == '\n' || Shown(r):
			dst = append(dst, text[:n]...)
		case r > 0xFFFF: // RFC 8259, section 7: as a pair
			r -= 0x10000
			dst = fmt.Appendf(dst, `\u%04x\u%04x`, 0xD800+r>>10, 0xDC00+r&0x3FF)
		default:
			dst = fmt.Appendf(dst, `\u%04x`, r)
		}
		text = text[n:]
	}
	return dst
}
