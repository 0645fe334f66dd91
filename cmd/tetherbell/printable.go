package main

import (
	"fmt"
	"io"
	"unicode/utf8"

	"tetherbell/decode"
)

// printable makes what does not show visible: bytes below a space and those
// that are no text as \x1b, other characters that do not show, that join the
// one before them or turn the direction of writing, as \u202e. Names of files
// and craft come from others; as they are they could forge lines or steer the
// terminal.
func printable(text string) string {
	var a decode.Accents
	for i, r := range text {
		if r == utf8.RuneError || !a.Shown(r) {
			return string(appendPrintable([]byte(text[:i]), text, i))
		}
	}
	return text
}

// appendPrintable goes on with text[i:].
func appendPrintable(dst []byte, text string, i int) []byte {
	var a decode.Accents
	for _, r := range text[:i] {
		a.Shown(r)
	}
	for i < len(text) {
		r, size := utf8.DecodeRuneInString(text[i:])
		shown := a.Shown(r)
		switch {
		case r == utf8.RuneError && size == 1, r < 0x80 && !shown:
			dst = fmt.Appendf(dst, `\x%02x`, text[i])
		case shown, r == utf8.RuneError:
			dst = append(dst, text[i:i+size]...)
		case r > 0xFFFF:
			dst = fmt.Appendf(dst, `\U%08x`, r)
		default:
			dst = fmt.Appendf(dst, `\u%04x`, r)
		}
		i += size
	}
	return dst
}

// A plainJSON writes JSON that holds nothing a terminal could be steered by.
// Each write is of whole characters.
type plainJSON struct{ w io.Writer }

func (p plainJSON) Write(text []byte) (int, error) {
	if _, err := p.w.Write(decode.EscapeJSON(text)); err != nil {
		return 0, err
	}
	return len(text), nil
}
