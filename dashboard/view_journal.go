package dashboard

import (
	"strconv"

	"tetherbell/alarms/detect"
)

// drawJournal shows the last entries, newest at the bottom, back entries
// further up. It returns back, held inside what there is.
func drawJournal(p pane, f *Frame, back int) int {
	l := p.look
	rows := max(1, p.h-1)
	back = max(0, min(back, len(f.Journal)-rows))
	name := "journal"
	if back > 0 {
		name += ": " + strconv.Itoa(back) + " newer below, End shows them"
	}
	body := p
	if p.h > 1 { // a single row is worth more than a title
		body = p.title(name)
	}
	if len(f.Journal) == 0 {
		body.text(1, 0, "nothing has happened yet", l.plain)
		return back
	}
	end := len(f.Journal) - back
	for y, i := 0, max(0, end-body.h); i < end; i, y = i+1, y+1 {
		drawEntry(body.sub(0, y, body.w, 1), &f.Journal[i])
	}
	return back
}

func drawEntry(p pane, e *Entry) {
	x := p.text(1, 0, left(clock(e.T, 2), 8), p.look.plain) + 1
	if word := priorityWord(e.Priority); word != "" {
		st := p.look.plain
		if e.Priority > detect.Note {
			st = p.look.chip(e.Priority)
		}
		p.text(x, 0, " "+word+" ", st)
	}
	p.text(x+9, 0, clean(e.Text), p.look.plain)
}
