package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"tetherbell/decode"
)

// shownOfLine is how much of a bad line is shown.
const shownOfLine = 60

// A badLines keeps the first bad line of each cause.
type badLines [decode.CauseCount]struct {
	at   int64  // engine microseconds
	text string // what is wrong, and the line
}

// keep takes a bad line, if it is the first of its cause.
func (b *badLines) keep(line []byte, cause decode.Cause, at int64) {
	k := &b[cause]
	if k.text != "" {
		return
	}
	// The line is read once more: what stood where is not kept of every line.
	var dec decode.Decoder
	var s decode.Sample
	var bad *decode.LineError
	k.at, k.text = at, inQuotes(shownLine(line))
	if errors.As(dec.Decode(line, &s), &bad) {
		if why := whyBad(bad); why != "" {
			k.text = why + "; " + k.text
		}
	}
}

// shownLine is a line from outside as it may be shown: escaped, and cut.
func shownLine(line []byte) string { return printableText(string(line), shownOfLine) }

// inQuotes shows where a text from outside ends: no line of ours ends as it likes.
func inQuotes(text string) string { return "\"" + text + "\"" }

// printableText is a text from outside as printable ASCII, cut to so many of it.
func printableText(text string, most int) string {
	long := len(text) > most
	text = strconv.QuoteToASCII(text[:min(len(text), most)])
	text = strings.ReplaceAll(text[1:len(text)-1], `\"`, `"`)
	if len(text) > most || long {
		text = text[:min(len(text), most)] + "..."
	}
	return text
}

// whyBad says what is wrong with a line, where a field of it is.
func whyBad(e *decode.LineError) string {
	if e.Field == "" {
		return ""
	}
	text := shownLine(e.Text)
	if text == "" {
		text = "nothing"
	}
	why := e.Field + ": " + text
	f, ok := decode.FieldNamed(e.Field)
	v, err := strconv.ParseFloat(string(e.Text), 64)
	if e.Cause != decode.OutOfRange || !ok || err != nil {
		return why
	}
	switch {
	case v > f.Max:
		return fmt.Sprintf("%s is over %g", why, f.Max)
	case v < f.Min:
		return fmt.Sprintf("%s is under %g", why, f.Min)
	case f.Even:
		return why + " is odd"
	}
	return why
}

// badText counts the lines of a cause: "299 lines out of range".
func badText(n uint64, c decode.Cause) string {
	with := " with "
	switch c {
	case decode.TooLong, decode.OutOfRange:
		with = " "
	case decode.OtherVersion, decode.NoChecksum:
		with = ": "
	}
	return countedLines(n) + with + c.String()
}

func countedLines(n uint64) string {
	if n == 1 {
		return "1 line"
	}
	return fmt.Sprintf("%d lines", n)
}

// badCauses tell of each cause how many lines were bad for it, and of the first.
func (d *desk) badCauses() (out []string) {
	for c, n := range d.causes {
		if n > 0 {
			k := &d.firstBad[c]
			out = append(out, fmt.Sprintf("  bad: %s, first at %.1f s: %s", badText(n, decode.Cause(c)), float64(k.at)/1e6, k.text))
		}
	}
	return out
}

// countCauses are the same in short, for the screen: "299 out of range, 2 bad
// checksum".
func (d *desk) countCauses() string {
	var all []string
	for c, n := range d.causes {
		if n > 0 {
			all = append(all, fmt.Sprintf("%d %s", n, decode.Cause(c)))
		}
	}
	return strings.Join(all, ", ")
}
