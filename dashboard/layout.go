package dashboard

import (
	"slices"
	"strconv"

	"tetherbell/alarms"
)

// A screen this large has two columns and more of everything.
const (
	wideColumns = 110
	wideRows    = 34
)

// bannerRows is how tall the banner is: as tall as it can be while the rest
// keeps its room.
func bannerRows(w, h int) int {
	switch {
	case w >= 180 && h >= 56:
		return 18 // letters of three dots each
	case w >= wideColumns && h >= wideRows:
		return 13 // of two
	case h >= 24:
		return 8 // two lines of one, and two of small words
	case h >= 22:
		return 7
	case h >= 14:
		return 5 // one line
	case h >= 8:
		return 3
	}
	return min(h, 2)
}

// A section is a panel of the narrow view: how many rows it wants and how it
// is drawn. Sections stand in their order on the screen.
type section struct {
	rows  int
	worth int // the least worthy goes first where room is short
	draw  func(p pane)
}

// share gives the sections the rows there are: where they do not suffice the
// least worthy go, whole, but for the last one, which takes what is left over.
func share(sections []section, rows int) {
	last := len(sections) - 1
	want := 0
	for _, s := range sections {
		want += s.rows
	}
	for want > rows {
		least := -1
		for i, s := range sections {
			if s.rows > 0 && (least < 0 || s.worth < sections[least].worth) {
				least = i
			}
		}
		if least < 0 {
			return
		}
		cut := sections[least].rows
		if least == last {
			cut = min(cut, want-rows)
		}
		sections[least].rows -= cut
		want -= cut
	}
	sections[last].rows += rows - want
}

// lackRows is 1 where the narrow view has to say that something is not
// watched; that all is watched stands in the banner.
func lackRows(f *Frame) int {
	if blindWord(f) != "" || len(lacksOf(f.Snap)) > 0 {
		return 1
	}
	return 0
}

// lacksOf is all that is not watched now: bridges that were never heard stand
// before the kinds of alarm, for nobody knows what is missed without them.
func lacksOf(s *alarms.Snapshot) []alarms.Lack {
	if len(s.Mute) == 0 {
		return s.NotWatched
	}
	return slices.Concat(s.Mute, s.NotWatched)
}

// drawNotWatched says which alarms cannot ring, and why; in one row as many of
// them as fit.
func drawNotWatched(p pane, f *Frame, tall bool) {
	l, lacks, blind := p.look, lacksOf(f.Snap), blindWord(f)
	if !tall {
		if blind != "" {
			p.text(1, 0, "not watched: "+blind, l.plain)
			return
		}
		drawLackRow(p, lacks)
		return
	}
	body := p.title("not watched, and why")
	switch {
	case blind != "":
		body.text(1, 0, blind, l.plain)
		return
	case len(lacks) == 0:
		body.text(1, 0, "nothing", l.plain)
		return
	}
	for y, n := range lacks {
		if y == body.h-1 && len(lacks) > body.h {
			body.text(1, y, "and "+plural(len(lacks)-y, "more alarm")+": 6 shows them", l.plain)
			return
		}
		body.text(1, y, cutTo(pad(clean(n.Name), 20)+" "+clean(n.Why), body.w-1), l.plain)
	}
}

// drawLackRow names the lacks in one row, with why where that fits; else the
// names alone, and which view says why.
func drawLackRow(p pane, lacks []alarms.Lack) {
	l := p.look
	x := p.text(0, 0, " not watched ", l.invert)
	full := ""
	for i, n := range lacks {
		full += " " + clean(n.Name)
		switch last := i == len(lacks)-1; {
		case !last && lacks[i+1].Why == n.Why:
			full += ","
		case last:
			full += ": " + clean(n.Why)
		default:
			full += ": " + clean(n.Why) + ";"
		}
	}
	if _, ok := p.fits(x, 0, p.w, full, l.plain); ok {
		return
	}
	if len(lacks) == 1 {
		p.text(x, 0, cutTo(full, p.w-x), l.plain)
		return
	}
	const why = " (6: why)"
	names := ""
	for i, n := range lacks {
		next := " " + clean(n.Name)
		// Where a part of it is not watched, the name alone would say too much.
		if part := partOf(clean(n.Why)); part != "" {
			next += " " + part
		}
		if i < len(lacks)-1 {
			next += ","
		}
		if x+len(names)+len(next)+len(why)+4 > p.w {
			names += " +" + strconv.Itoa(len(lacks)-i)
			break
		}
		names += next
	}
	p.text(x, 0, names+why, l.plain)
}
