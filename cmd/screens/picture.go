package main

import (
	"fmt"
	"html"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// pictured are the shots that the README shows.
var pictured = []shot{{states[2], sizes[0]}, {states[0], sizes[1]}}

func writePictures(root string) error {
	st, err := openStudio(root)
	if err != nil {
		return err
	}
	defer st.close()
	texts, err := st.all(pictured, true)
	if err != nil {
		return err
	}
	for i, text := range texts {
		cells, err := cellsOf(text, pictured[i].size)
		if err != nil {
			return err
		}
		file := filepath.Join(root, "testdata", "pictures", pictured[i].String()+".svg")
		if err := os.WriteFile(file, []byte(svgOf(cells, pictured[i].name)), 0o644); err != nil {
			return fmt.Errorf("write picture: %w", err)
		}
	}
	return nil
}

const (
	cellW, cellH = 8, 16 // pixels; both are multiples of 8, so eighths of a block are whole
	baseline     = 12    // of the letters, from the top of a cell
	edge         = 10    // around the screen
	// The terminal's own colours: dark, so that the picture brings its own
	// ground to a light page as to a dark one; contrast nearly 14 to 1 (WCAG, from memory).
	ink, paper = "#dfe5ea", "#14191f"
)

// A sheet gathers what is drawn: shapes by their colour, then letters.
type sheet struct {
	shapes  map[string]*strings.Builder
	letters strings.Builder
}

// box adds a rectangle in pixels.
func (s *sheet) box(colour string, x, y, w, h float64) {
	b := s.shapes[colour]
	if b == nil {
		b = &strings.Builder{}
		s.shapes[colour] = b
	}
	fmt.Fprintf(b, "M%g %gh%gv%gh%gz", x, y, w, h, -w)
}

// svgOf draws cells as a picture that needs no font but any monospaced one:
// letters are put in their places cell by cell, and what must touch its
// neighbours, blocks and lines, is drawn.
func svgOf(rows [][]cell, name string) string {
	grounds, fronts := sheet{shapes: map[string]*strings.Builder{}}, sheet{shapes: map[string]*strings.Builder{}}
	for y, row := range rows {
		for x := 0; x < len(row); {
			n := 1
			for x+n < len(row) && row[x+n].style == row[x].style && same(row[x].r, row[x+n].r) {
				n++
			}
			fg, bg := row[x].colours()
			px, py := float64(edge+x*cellW), float64(edge+y*cellH)
			if bg != paper {
				grounds.box(bg, px, py, float64(n*cellW), cellH)
			}
			if row[x].underline {
				fronts.box(fg, px, py+cellH-2, float64(n*cellW), 1)
			}
			if !fronts.drawn(row[x].r, fg, bg, px, py, n) {
				fronts.write(row[x:x+n], fg, px, py)
			}
			x += n
		}
	}
	w, h := len(rows[0])*cellW+2*edge, len(rows)*cellH+2*edge
	var out strings.Builder
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %d %d" role="img">`+"\n", w, h, w, h)
	fmt.Fprintf(&out, "<title>tetherbell, %s</title>\n", html.EscapeString(name))
	fmt.Fprintf(&out, `<rect width="%d" height="%d" rx="6" fill="%s"/>`+"\n", w, h, paper)
	grounds.flush(&out)
	fronts.flush(&out)
	out.WriteString("</svg>\n")
	return out.String()
}

func (s *sheet) flush(out *strings.Builder) {
	out.WriteString(`<g shape-rendering="crispEdges">` + "\n")
	for _, colour := range sortedKeys(s.shapes) {
		fmt.Fprintf(out, `<path fill="%s" d="%s"/>`+"\n", colour, s.shapes[colour])
	}
	out.WriteString("</g>\n")
	if s.letters.Len() > 0 {
		fmt.Fprintf(out, `<g font-family="ui-monospace,'DejaVu Sans Mono',Menlo,Consolas,'Liberation Mono',monospace" font-size="13" xml:space="preserve">`+"\n%s</g>\n", &s.letters)
	}
}

func sortedKeys(m map[string]*strings.Builder) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// same reports whether two characters can be drawn as one stretch.
func same(a, b rune) bool { return a == b && stretches(a) || letter(a) && letter(b) }

// stretches are the characters that are as wide as one makes them.
func stretches(r rune) bool { return strings.ContainsRune(" █▀▄─▒▓░", r) }

// letter reports whether a character is left to the font. Blanks are not:
// a word is put where it begins.
func letter(r rune) bool {
	return r != ' ' && !braille(r) && !strings.ContainsRune("█▀▄▏▎▍▌▋▊▉▐▖▗▘▝▚▞▙▛▜▟─│┃·░▒▓", r)
}

// braille reports whether a character is a pattern of dots (Unicode 2800 to
// 28FF).
func braille(r rune) bool { return r >= 0x2800 && r <= 0x28FF }

// dots draws a braille pattern: bits 0 to 2 and 6 are the left column from the
// top, 3 to 5 and 7 the right one (Unicode, block 2800, from memory).
func (s *sheet) dots(r rune, fg string, x, y float64) {
	for bit, at := range [8][2]float64{{0, 0}, {0, 1}, {0, 2}, {1, 0}, {1, 1}, {1, 2}, {0, 3}, {1, 3}} {
		if r&(1<<bit) != 0 {
			s.box(fg, x+1+at[0]*cellW/2, y+1+at[1]*cellH/4, 2, 2)
		}
	}
}

// colours are what is seen of a cell.
func (c *cell) colours() (fg, bg string) {
	fg, bg = ink, paper
	if c.fg != "" {
		fg = c.fg
	}
	if c.bg != "" {
		bg = c.bg
	}
	if c.reverse {
		fg, bg = bg, fg
	}
	return fg, bg
}

// drawn draws what is no letter, n cells of it.
func (s *sheet) drawn(r rune, fg, bg string, x, y float64, n int) bool {
	w, wide := float64(n*cellW), float64(cellW)
	quarter := func(right, low bool) {
		qx, qy := x, y
		if right {
			qx += wide / 2
		}
		if low {
			qy += cellH / 2
		}
		s.box(fg, qx, qy, wide/2, cellH/2)
	}
	if braille(r) {
		s.dots(r, fg, x, y)
		return true
	}
	switch r {
	case ' ':
	case '█':
		s.box(fg, x, y, w, cellH)
	case '▀':
		s.box(fg, x, y, w, cellH/2)
	case '▄':
		s.box(fg, x, y+cellH/2, w, cellH/2)
	case '▏', '▎', '▍', '▌', '▋', '▊', '▉': // U+258F to U+2589: an eighth to seven
		s.box(fg, x, y, wide*float64('▏'-r+1)/8, cellH)
	case '▐':
		s.box(fg, x+wide/2, y, wide/2, cellH)
	case '▖', '▗', '▘', '▝', '▙', '▚', '▛', '▜', '▞', '▟':
		for i, corner := range [4]string{"▘▙▚▛▜", "▝▛▜▞▟", "▖▙▛▞▟", "▗▙▚▜▟"} {
			if strings.ContainsRune(corner, r) {
				quarter(i%2 == 1, i >= 2)
			}
		}
	case '─':
		s.box(fg, x, y+cellH/2, w, 1)
	case '│':
		s.box(fg, x+wide/2, y, 1, cellH)
	case '┃':
		s.box(fg, x+wide/2-1, y, 2, cellH)
	case '·':
		s.box(mix(fg, bg, 0.55), x+wide/2-1, y+cellH/2, 1, 1)
	case '░':
		s.box(mix(fg, bg, 0.25), x, y, w, cellH)
	case '▒':
		s.box(mix(fg, bg, 0.5), x, y, w, cellH)
	case '▓':
		s.box(mix(fg, bg, 0.75), x, y, w, cellH)
	default:
		return false
	}
	return true
}

// write puts a word; its width is said, so that any font fills the cells.
func (s *sheet) write(word []cell, fg string, x, y float64) {
	text := make([]rune, len(word))
	for i := range word {
		text[i] = word[i].r
	}
	bold := ""
	if word[0].bold {
		bold = ` font-weight="bold"`
	}
	fmt.Fprintf(&s.letters, `<text x="%g" y="%g" textLength="%d" lengthAdjust="spacingAndGlyphs" fill="%s"%s>%s</text>`+"\n",
		x, y+baseline, len(word)*cellW, fg, bold, html.EscapeString(string(text)))
}

// mix is a colour between two, with a share of the first.
func mix(a, b string, share float64) string {
	var out [3]int
	for i := range out {
		var va, vb int
		fmt.Sscanf(a[1+2*i:3+2*i], "%02x", &va)
		fmt.Sscanf(b[1+2*i:3+2*i], "%02x", &vb)
		out[i] = int(share*float64(va) + (1-share)*float64(vb) + 0.5)
	}
	return fmt.Sprintf("#%02x%02x%02x", out[0], out[1], out[2])
}
