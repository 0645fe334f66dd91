package report

import (
	"strings"
	"unicode"

	"tetherbell/alarms/account"
	"tetherbell/decode"
)

// A page is what a report says, in no form yet.
type page struct {
	Title    string
	Window   string // title of the window, which tells one session from another
	Facts    []fact
	Verdict  verdict
	Cautions []string
	Sections []section
	Tool     string
	From     string // what it is made of
}

// A verdict is what stands in big letters.
type verdict struct {
	Class    string // its look: high, medium, low, note or none; of a comparison better, worse, mixed or none
	Word     string // what stands in big letters, with its shape
	Headline string
	Lines    []fact // the first thing to fix, why, ...
}

// Long reports whether the headline is too long for the largest letters.
func (v verdict) Long() bool { return len(v.Headline) > 130 }

// A fact is a name and what belongs to it.
type fact struct {
	Name, Text string
	Link       string // id of the section that tells more; "" none
}

// A section is a part of the page with a heading and a place in the contents.
type section struct {
	ID, Title string
	Blocks    []block
}

// A block is one thing in a section; one of its fields is set.
type block struct {
	Heading string
	Text    string
	Narrow  string // a paragraph for narrow screens alone
	List    []string
	Table   *table
	Chart   *chart
}

// A table has a caption over it and names of columns. The first column names
// its row.
type table struct {
	Caption string
	Columns []column
	Rows    []row
	Stacked bool // on a narrow screen each row becomes a card: for long texts
	Dense   bool // a card with two cells in a line: for figures
}

type column struct {
	Name   string
	Number bool // set to the right
}

type row struct {
	Class string // colours its priority or verdict; "" none
	Cells []string
}

// A chart is a picture with the figures that are in it.
type chart struct {
	ID      string
	Title   string
	Desc    string // what a person sees in it, for those who do not
	Picture picture
	Figures *table
	Small   bool // narrower than the text
}

// add puts a block at the end.
func (s *section) add(b ...block) { s.Blocks = append(s.Blocks, b...) }

func (s *section) text(lines ...string) {
	for _, l := range lines {
		if l != "" {
			s.add(block{Text: l})
		}
	}
}

func (s *section) heading(text string) { s.add(block{Heading: text}) }

// table adds one, or a line that says why there is none.
func (s *section) table(t *table, none string) {
	if len(t.Rows) == 0 {
		s.text(none)
		return
	}
	s.add(block{Table: t})
}

func (s *section) chart(c *chart) {
	if c != nil {
		s.add(block{Chart: c})
	}
}

// columns names columns; a name that begins with # is one of numbers.
func columns(names ...string) []column {
	all := make([]column, len(names))
	for i, n := range names {
		bare, number := strings.CutPrefix(n, "#")
		all[i] = column{bare, number}
	}
	return all
}

// Class is the table's look: stacked, and short where paper shall not cut it.
func (t *table) Class() string {
	switch {
	case t.Stacked && len(t.Rows) <= shortRows/4: // their rows are several lines high
		return "stacked short"
	case t.Stacked:
		return "stacked"
	case t.Dense && len(t.Rows) <= shortRows/2: // rows of two lines
		return "stacked dense short"
	case t.Dense:
		return "stacked dense"
	case len(t.Rows) <= shortRows:
		return "short"
	}
	return ""
}

// Cards reports whether its rows become cards on a narrow screen.
func (t *table) Cards() bool { return t.Stacked || t.Dense }

// shortRows is how many rows a page of paper has room for at any place without
// a gap that a person would dislike.
const shortRows = 14

func (t *table) row(cells ...string) { t.Rows = append(t.Rows, row{Cells: cells}) }

// page builds what the report says.
func (r *Report) page() *page {
	a := r.Account
	p := &page{Title: "Bench session of " + craftName(a), Window: title(a), Facts: facts(a), Verdict: verdictOf(a), Cautions: r.Cautions, Tool: r.Tool, From: "a recording"}
	for _, build := range []func(*account.Account) section{
		runSection, alarmSection, axesSection, vibrationSection, motorSection, balanceSection, heatSection,
		packSection, airSection, linkSection, settingsSection, lackSection, cardSection, judgedSection,
	} {
		p.Sections = append(p.Sections, build(a))
	}
	return p
}

// clean makes what does not show visible: names and texts come from others,
// and could turn the direction of writing or hide something.
func clean(s string) string {
	var a decode.Accents
	return strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' {
			return ' '
		}
		if !a.Shown(r) {
			return unicode.ReplacementChar
		}
		return r
	}, s)
}
