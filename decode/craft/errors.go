package craft

import "strconv"

// A FieldError says what is wrong with a description of a craft, a list of its
// settings or a card of steps, where, and what to do.
type FieldError struct {
	What    string // what was read; "" a craft file
	File    string // "" where the text did not come from a file
	Line    int    // counted from 1; 0 not known
	Column  int    // likewise, where a line is known
	Key     string // as the craft file spells it, "limits.tip_rate"; "" not known
	Problem string
	Hint    string // what to do, imperative; may be empty
}

// Error tells place, key, problem and what to do, in one line.
func (e *FieldError) Error() string {
	msg, file := "read craft", " file "
	if e.What != "" {
		msg, file = "read "+e.What, " "
	}
	at := strconv.Itoa(e.Line)
	if e.Column > 0 {
		at += ":" + strconv.Itoa(e.Column)
	}
	switch {
	case e.File != "" && e.Line > 0:
		msg += file + e.File + ":" + at
	case e.File != "":
		msg += file + e.File
	case e.Line > 0:
		msg += " line " + at
	}
	if e.Key != "" {
		msg += ": " + e.Key
	}
	msg += ": " + e.Problem
	if e.Hint != "" {
		msg += "; " + e.Hint
	}
	return msg
}
