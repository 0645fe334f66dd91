package report

import (
	"bytes"
	"encoding/json"
	"io"

	"tetherbell/decode"
)

// writeJSON writes a value with a key a line. A list of numbers stands in one
// line: a curve has thousands of them.
func writeJSON(w io.Writer, told any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(told); err != nil {
		return err
	}
	_, err := w.Write(decode.EscapeJSON(joined(b.Bytes())))
	return err
}

// joined puts the lists of nothing but numbers and nulls of indented JSON into
// one line each. A line that ends with a bracket is never part of a text: that
// would end with a quotation mark.
func joined(text []byte) []byte {
	out := make([]byte, 0, len(text))
	for len(text) > 0 {
		line, rest := cutLine(text)
		out, text = append(out, line...), rest
		if !bytes.HasSuffix(line, []byte("[\n")) {
			continue
		}
		if list, after, ok := numbers(rest); ok {
			out, text = append(out[:len(out)-1], list...), after
		}
	}
	return out
}

// numbers reads the lines of a list up to and with the one that closes it; ok is
// false where anything but numbers and nulls is in it.
func numbers(text []byte) (list, rest []byte, ok bool) {
	for len(text) > 0 {
		line, after := cutLine(text)
		text = after
		word := bytes.TrimSpace(line)
		switch c := word[0]; {
		case c == ']':
			return append(append(list, word...), '\n'), text, true
		case c == '-' || c >= '0' && c <= '9' || bytes.HasPrefix(word, []byte("null")):
			list = append(list, word...)
		default:
			return nil, nil, false
		}
	}
	return nil, nil, false
}

// cutLine cuts the first line off, with its line feed.
func cutLine(text []byte) (line, rest []byte) {
	i := bytes.IndexByte(text, '\n') + 1
	if i == 0 {
		i = len(text)
	}
	return text[:i], text[i:]
}
