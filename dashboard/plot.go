package dashboard

import (
	"math"

	"github.com/gdamore/tcell/v2"
)

// A plot is a small picture of dots: two by four to a cell where braille can
// be shown, one to a cell elsewhere. Dots are counted from the top left.
type plot struct {
	look *look
	w, h int // cells
	bits []uint8
}

// brailleBase is the empty braille pattern; its low eight bits are the dots
// (Unicode, block U+2800).
const brailleBase = 0x2800

// brailleBit is the bit of each dot of a cell, by row and column (Unicode,
// block U+2800: dots 1 2 3 7 in the left column, 4 5 6 8 in the right one).
var brailleBit = [4][2]uint8{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

func newPlot(l *look, w, h int) *plot {
	return &plot{look: l, w: max(w, 0), h: max(h, 0), bits: make([]uint8, max(w, 0)*max(h, 0))}
}

// across and down are how many dots there are.
func (q *plot) across() int {
	if q.look.ascii {
		return q.w
	}
	return 2 * q.w
}

func (q *plot) down() int {
	if q.look.ascii {
		return q.h
	}
	return 4 * q.h
}

// dot sets one dot; outside of the picture it does nothing.
func (q *plot) dot(x, y int) {
	if x < 0 || y < 0 || x >= q.across() || y >= q.down() {
		return
	}
	if q.look.ascii {
		q.bits[y*q.w+x] = 1
		return
	}
	q.bits[y/4*q.w+x/2] |= brailleBit[y%4][x%2]
}

// column fills column x from the bottom up to a share of the height. What is
// above nothing shows at least one dot.
func (q *plot) column(x int, share float64) {
	if !(share > 0) {
		return
	}
	n := int(math.Ceil(min(share, 1) * float64(q.down())))
	for i := range n {
		q.dot(x, q.down()-1-i)
	}
}

// show draws the dots of the picture; style gives that of each cell.
func (q *plot) show(p pane, style func(x, y int) tcell.Style) {
	for y := range q.h {
		for x := range q.w {
			v := q.bits[y*q.w+x]
			switch {
			case v == 0:
			case q.look.ascii:
				p.put(x, y, q.look.full, style(x, y))
			default:
				p.put(x, y, rune(brailleBase+int(v)), style(x, y))
			}
		}
	}
}
