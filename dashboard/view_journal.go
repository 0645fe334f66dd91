package dashboard

import (
	"strconv"
	"unicode/utf8"

	"tetherbell/alarms/detect"
)

// drawJournal shows the last entries, newest at the bottom, back entries
// further up. It returns back, held inside what there is.
func drawJournal(p pane, f *Frame, back int) int {
	l := p.look
	rows := p.h
	if rows > 2 {
		rows-- // the title
	}
	rows = max(1, rows)
	back = max(0, min(back, len(f.Journal)-rows))
	name := "journal"
	if back > 0 {
		name += ": " + strconv.Itoa(back) + " newer below, End shows them"
	}
	body := p
	if p.h > 2 { // one or two rows are worth more than a title
		body = p.title(name)
	}
	if len(f.Journal) == 0 {
		body.text(1, 0, "nothing has happened yet", l.plain)
		return back
	}
	end := len(f.Journal) - back
	newest := &f.Journal[end-1]
	tall := 1
	if back == 0 && body.h > 1 && entryText(newest)+utf8.RuneCountInString(newest.Text) > body.w {
		tall = 2
	}
	first := max(0, end-1-(body.h-tall))
	for y, i := 0, first; i < end; i, y = i+1, y+1 {
		rows := 1
		if i == end-1 {
			rows = tall
		}
		drawEntry(body.sub(0, y, body.w, rows), &f.Journal[i])
	}
	return back
}

// drawWholeJournal fills the pane with entries, each with all its words,
// newest at the bottom, back entries further up. It returns back, held inside
// what there is.
func drawWholeJournal(p pane, f *Frame, back int) int {
	if len(f.Journal) == 0 {
		p.text(1, 0, "nothing has happened yet", p.look.plain)
		return 0
	}
	rowsOf := func(e *Entry) int { return max(1, len(wrap(clean(e.Text), p.w-entryText(e)))) }
	oldest := 1 // so many stand in the pane when the first of all is at its top
	for room := p.h - rowsOf(&f.Journal[0]); oldest < len(f.Journal); oldest++ {
		if room -= rowsOf(&f.Journal[oldest]); room < 0 {
			break
		}
	}
	back = max(0, min(back, len(f.Journal)-oldest))
	y := p.h
	for i := len(f.Journal) - 1 - back; i >= 0 && y > 0; i-- {
		e := &f.Journal[i]
		rows := rowsOf(e)
		if rows > y && y < p.h {
			break // half an entry would read as a whole one
		}
		rows = min(rows, y)
		y -= rows
		drawEntry(p.sub(0, y, p.w, rows), e)
	}
	return back
}

// entryText is the column where the text of an entry starts, behind the time
// and the priority.
func entryText(e *Entry) int { return 1 + max(8, len(clock(e.T, 2))) + 10 }

func drawEntry(p pane, e *Entry) {
	x := p.text(1, 0, left(clock(e.T, 2), 8), p.look.plain) + 1
	if word := priorityWord(e.Priority); word != "" {
		st := p.look.plain
		if e.Priority > detect.Note {
			st = p.look.chip(e.Priority)
		}
		p.text(x, 0, " "+word+" ", st)
	}
	at := entryText(e)
	p = p.sub(at, 0, p.w-at, p.h)
	text := clean(e.Text)
	if p.h < 2 {
		p.text(0, 0, cutTo(text, p.w), p.look.plain)
		return
	}
	for y, t := range wrap(text, p.w) {
		if y == p.h {
			p.text(max(0, p.w-4), y-1, " ...", p.look.plain)
		}
		p.text(0, y, t, p.look.plain)
	}
}
