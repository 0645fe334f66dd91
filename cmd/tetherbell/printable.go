package main

import (
	"fmt"
	"unicode"
	"unicode/utf8"
)

// printable makes what is not printable visible: bytes below a space and
// those that are no text as \x1b, other characters that do not show, or that
// turn the direction of writing, as \u202e. Names of files and craft come
// from others; as they are they could forge lines or steer the terminal.
func printable(text string) string {
	for i, r := range text {
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			return string(appendPrintable([]byte(text[:i]), text[i:]))
		}
	}
	return text
}

func appendPrintable(dst []byte, text string) []byte {
	for len(text) > 0 {
		r, size := utf8.DecodeRuneInString(text)
		switch {
		case r == utf8.RuneError && size == 1, r < 0x80 && !unicode.IsPrint(r):
			dst = fmt.Appendf(dst, `\x%02x`, text[0])
		case unicode.IsPrint(r):
			dst = append(dst, text[:size]...)
		case r > 0xFFFF:
			dst = fmt.Appendf(dst, `\U%08x`, r)
		default:
			dst = fmt.Appendf(dst, `\u%04x`, r)
		}
		text = text[size:]
	}
	return dst
}
