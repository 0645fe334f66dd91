package dashboard

import (
	"strings"

	"github.com/gdamore/tcell/v2"
)

// letterRows is the height of the big letters in dots.
const letterRows = 5

// letters are the big letters, drawn by hand for this screen: five rows of
// dots, split by '/'.
var letters = map[rune]string{
	'A': ".##./#..#/####/#..#/#..#", 'B': "###./#..#/###./#..#/###.",
	'C': ".###/#.../#.../#.../.###", 'D': "###./#..#/#..#/#..#/###.",
	'E': "####/#.../###./#.../####", 'F': "####/#.../###./#.../#...",
	'G': ".###/#.../#.##/#..#/.###", 'H': "#..#/#..#/####/#..#/#..#",
	'I': "###/.#./.#./.#./###", 'J': "..##/...#/...#/#..#/.##.",
	'K': "#..#/#.#./##../#.#./#..#", 'L': "#.../#.../#.../#.../####",
	'M': "#...#/##.##/#.#.#/#...#/#...#", 'N': "#..#/##.#/#.##/#..#/#..#",
	'O': ".##./#..#/#..#/#..#/.##.", 'P': "###./#..#/###./#.../#...",
	'Q': ".##./#..#/#..#/#.#./.#.#", 'R': "###./#..#/###./#.#./#..#",
	'S': ".###/#.../.##./...#/###.", 'T': "#####/..#../..#../..#../..#..",
	'U': "#..#/#..#/#..#/#..#/.##.", 'V': "#...#/#...#/.#.#./.#.#./..#..",
	'W': "#...#/#...#/#.#.#/##.##/#...#", 'X': "#..#/#..#/.##./#..#/#..#",
	'Y': "#...#/.#.#./..#../..#../..#..", 'Z': "####/...#/.##./#.../####",
	'0': ".##./#..#/#..#/#..#/.##.", '1': ".#./##./.#./.#./###",
	'2': "###./...#/.##./#.../####", '3': "###./...#/.##./...#/###.",
	'4': "#..#/#..#/####/...#/...#", '5': "####/#.../###./...#/###.",
	'6': ".##./#.../###./#..#/.##.", '7': "####/...#/..#./.#../.#..",
	'8': ".##./#..#/.##./#..#/.##.", '9': ".##./#..#/.###/...#/.##.",
	'+': ".../.#./###/.#./...", '-': ".../.../###/.../...", '?': "###./...#/.##./..../.#..",
	'.': "././././#", ',': "../../../.#/#.", ':': "./#/./#/.", '/': "..#/..#/.#./#../#..",
	'\'': "#/#/././.", '!': "#/#/#/./#", ' ': "../../../../..",
}

// dots tells how the text looks as rows of dots; ok is false when a letter
// has no picture.
func dots(text string) (rows [letterRows]string, ok bool) {
	var b [letterRows]strings.Builder
	for i, r := range text {
		shape, known := letters[r]
		if !known {
			return rows, false
		}
		for y := range letterRows {
			row, rest, _ := strings.Cut(shape, "/")
			shape = rest
			if i > 0 {
				b[y].WriteByte('.')
			}
			b[y].WriteString(row)
		}
	}
	for y := range rows {
		rows[y] = b[y].String()
	}
	return rows, true
}

// bigHeight is how many rows big letters of a scale need. Dots are half a row
// high where half blocks can be shown, a whole row elsewhere.
func bigHeight(l *look, scale int) int {
	if l.ascii {
		return letterRows * scale
	}
	return (letterRows*scale + 1) / 2
}

// big draws a text in big letters of the given scale, or smaller ones, into
// the pane; it returns how many columns it took, or 0 when even the smallest
// do not fit.
func (p pane) big(text string, scale int, st tcell.Style) int {
	rows, ok := dots(text)
	if !ok || len(rows[0]) == 0 {
		return 0
	}
	for scale > 0 && (len(rows[0])*scale > p.w || bigHeight(p.look, scale) > p.h) {
		scale--
	}
	if scale == 0 {
		return 0
	}
	width := len(rows[0]) * scale
	lit := func(x, y int) bool {
		return y/scale < letterRows && rows[y/scale][x/scale] == '#'
	}
	for y := range bigHeight(p.look, scale) {
		for x := range width {
			if p.look.ascii {
				if lit(x, y) {
					p.put(x, y, '#', st)
				}
				continue
			}
			up, down := lit(x, 2*y), lit(x, 2*y+1)
			switch {
			case up && down:
				p.put(x, y, p.look.full, st)
			case up:
				p.put(x, y, p.look.upper, st)
			case down:
				p.put(x, y, p.look.lower, st)
			}
		}
	}
	return width
}

// loud writes a text as large as the pane allows and returns its width.
func (p pane) loud(text string, scale int, st tcell.Style) int {
	if w := p.big(text, scale, st); w > 0 {
		return w
	}
	return p.text(0, (p.h-1)/2, text, st.Bold(true))
}
