package runcard

import "strconv"

// An Error says what is wrong with a card, where, and what to write instead.
type Error struct {
	File         string // "" where the text did not come from a file
	Line, Column int    // counted from 1; 0 not known
	Key          string // "step.2.seconds"; "" not known
	Problem      string
	Hint         string // may be empty
}

// Error tells place, key, problem and what to do, in one line.
func (e *Error) Error() string {
	msg := "read card"
	at := ""
	if e.Line > 0 {
		at = strconv.Itoa(e.Line)
		if e.Column > 0 {
			at += ":" + strconv.Itoa(e.Column)
		}
	}
	switch {
	case e.File != "" && at != "":
		msg += " " + e.File + ":" + at
	case e.File != "":
		msg += " " + e.File
	case at != "":
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
