package dashboard

import (
	"math"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"
)

// A pane is a rectangle of the screen. Nothing drawn through it falls outside
// of it.
type pane struct {
	s          tcell.Screen
	look       *look
	x, y, w, h int
}

// sub cuts a smaller pane out of p.
func (p pane) sub(x, y, w, h int) pane {
	if x < 0 {
		w, x = w+x, 0
	}
	if y < 0 {
		h, y = h+y, 0
	}
	w, h = max(0, min(w, p.w-x)), max(0, min(h, p.h-y))
	return pane{p.s, p.look, p.x + x, p.y + y, w, h}
}

// cut splits the top rows off.
func (p pane) cut(rows int) (top, rest pane) {
	rows = max(0, min(rows, p.h))
	return p.sub(0, 0, p.w, rows), p.sub(0, rows, p.w, p.h-rows)
}

// put sets one cell.
func (p pane) put(x, y int, r rune, st tcell.Style) {
	if x < 0 || y < 0 || x >= p.w || y >= p.h {
		return
	}
	p.s.Put(p.x+x, p.y+y, p.look.cell(r), st)
}

// text writes from x on and returns the column behind it. A text that does
// not fit is cut.
func (p pane) text(x, y int, str string, st tcell.Style) int {
	if y < 0 || y >= p.h {
		return x
	}
	for i := 0; i < len(str); {
		n := 1
		if str[i] >= utf8.RuneSelf {
			_, n = utf8.DecodeRuneInString(str[i:])
		}
		if x >= p.w {
			return x
		}
		if x >= 0 {
			p.s.Put(p.x+x, p.y+y, str[i:i+n], st)
		}
		i += n
		x++
	}
	return x
}

// fits writes a text only when all of it fits before column end.
func (p pane) fits(x, y, end int, str string, st tcell.Style) (int, bool) {
	if x+utf8.RuneCountInString(str) > min(end, p.w) {
		return x, false
	}
	return p.text(x, y, str, st), true
}

// fill paints the whole pane.
func (p pane) fill(r rune, st tcell.Style) {
	for y := range p.h {
		for x := range p.w {
			p.put(x, y, r, st)
		}
	}
}

// title draws a rule with a name in it and returns what lies below.
func (p pane) title(name string) pane {
	for x := range p.w {
		p.put(x, 0, p.look.rule, p.look.plain)
	}
	if p.w > 4 {
		p.sub(0, 0, p.w-1, 1).text(1, 0, " "+name+" ", p.look.bold)
	}
	_, rest := p.cut(1)
	return rest
}

// A gauge is a bar with a mark: the share of it that is filled and where the
// limit stands. mark 0 means none. What lies beyond the mark has its own
// pattern and style.
type gauge struct {
	share, mark float64
	over        tcell.Style
}

func (p pane) gauge(x, y, w int, g gauge) {
	l := p.look
	if w <= 0 {
		return
	}
	share := g.share
	if math.IsNaN(share) || share < 0 {
		share = 0
	}
	eighths := int(math.Min(share, 1)*float64(w)*8 + 0.5)
	mark := -1
	if g.mark > 0 && g.mark < 1 {
		mark = int(g.mark * float64(w))
	}
	for i := range w {
		r, st := l.track, l.plain
		part := eighths - i*8
		switch {
		case part >= 8 || part >= 4 && l.part == nil:
			r = l.full
		case part > 0 && l.part != nil:
			r = l.part[part-1]
		}
		if mark >= 0 && i > mark && part > 0 {
			r, st = l.beyond, g.over
		}
		if i == mark {
			r, st = l.limit, l.bold
			if part > 0 {
				st = g.over
			}
		}
		p.put(x+i, y, r, st)
	}
	if share > 1 {
		p.put(x+w-1, y, '>', g.over)
	}
}
