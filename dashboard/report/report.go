// Package report puts the account of a session on paper: a page to hand on,
// Markdown, or JSON.
//
// In comes an account, with the words of caution that every page carries. Out
// goes one self-contained file. What it says is first built as sections of
// plain blocks (paragraphs, tables, charts), which the writers of HTML and
// Markdown render: so both say the same, and a chart always comes with a table
// of its figures. The same account gives the same bytes. The package knows
// nothing of files, of lines, or of how an alarm comes to be.
package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"

	"tetherbell/alarms/account"
)

// A Report is what is told of one session, and by whom.
type Report struct {
	Account  *account.Account
	Cautions []string // one sentence each, without a full stop
	Tool     string   // program and version that writes the page
}

// A Format is a form that a report is written in.
type Format string

// The formats, by the words that a person types.
const (
	HTML     Format = "html"
	Markdown Format = "markdown"
	JSON     Format = "json"
)

// Formats lists all formats.
var Formats = []Format{HTML, Markdown, JSON}

// Extension is the ending of a file of this format, with its point.
func (f Format) Extension() string {
	switch f {
	case Markdown:
		return ".md"
	case JSON:
		return ".json"
	}
	return ".html"
}

// Write writes the report in one of the formats.
func (r *Report) Write(w io.Writer, f Format) error {
	var out bytes.Buffer
	var err error
	switch f {
	case HTML:
		err = writeHTML(&out, r.page())
	case Markdown:
		writeMarkdown(&out, r.page())
	case JSON:
		err = writeJSON(&out, r.Account)
	default:
		err = fmt.Errorf("no format %q", string(f))
	}
	if err != nil {
		return fmt.Errorf("write report: %w", err)
	}
	if _, err := w.Write(out.Bytes()); err != nil {
		return fmt.Errorf("write report: %w", err)
	}
	return nil
}

func writeJSON(w io.Writer, a *account.Account) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(a)
}

// generator is the word by which our own files are known again.
const generator = "tetherbell report"

// Head is how much of a file's beginning Ours wants to see, in bytes.
const Head = 1024

// Ours reports whether a file that begins so was written by this package, in
// whatever format, and may therefore be written anew.
func Ours(head []byte) bool {
	return bytes.Contains(head, []byte(`<meta name="generator" content="`+generator+`"`)) ||
		bytes.HasPrefix(head, []byte("<!-- "+generator+" -->")) ||
		bytes.HasPrefix(head, []byte("{\n \"session\": {\n  \"file\": "))
}
