package main

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// A style is how a cell looks; an empty colour is the terminal's own.
type style struct {
	fg, bg        string // "#rrggbb"
	bold, reverse bool
	underline     bool
}

// A cell is one character and its looks.
type cell struct {
	r rune
	style
}

// cellsOf reads what tmux prints of a screen with its colours: text, line
// ends, and SGR sequences after ECMA-48 (from memory) with the colours that
// xterm added. Anything else is an error: the picture would be wrong.
func cellsOf(text string, sz size) ([][]cell, error) {
	rows := make([][]cell, sz.h)
	for y := range rows {
		rows[y] = make([]cell, sz.w)
		for x := range rows[y] {
			rows[y][x].r = ' '
		}
	}
	var st style
	x, y := 0, 0
	for len(text) > 0 {
		switch {
		case strings.HasPrefix(text, "\x1b["):
			end := strings.IndexFunc(text[2:], func(r rune) bool { return r >= 0x40 })
			if end < 0 || text[2+end] != 'm' {
				return nil, fmt.Errorf("read screen: sequence %.12q is not of a style", text)
			}
			if err := st.take(text[2 : 2+end]); err != nil {
				return nil, err
			}
			text = text[end+3:]
			continue
		case text[0] == '\n':
			x, y, text = 0, y+1, text[1:]
			continue
		}
		r, n := utf8.DecodeRuneInString(text)
		if r < ' ' {
			return nil, fmt.Errorf("read screen: unknown control %.12q", text)
		}
		if y >= sz.h || x >= sz.w {
			return nil, fmt.Errorf("read screen: more than %d by %d cells", sz.w, sz.h)
		}
		rows[y][x] = cell{r, st}
		x, text = x+1, text[n:]
	}
	return rows, nil
}

// take changes the style by the numbers of one sequence.
func (s *style) take(args string) error {
	f := strings.FieldsFunc(args, func(r rune) bool { return r == ';' || r == ':' })
	if len(f) == 0 {
		*s = style{}
	}
	for i := 0; i < len(f); i++ {
		n, err := strconv.Atoi(f[i])
		if err != nil {
			return fmt.Errorf("read screen: style %q", args)
		}
		switch {
		case n == 0:
			*s = style{}
		case n == 1:
			s.bold = true
		case n == 4:
			s.underline = true
		case n == 7:
			s.reverse = true
		case n == 22:
			s.bold = false
		case n == 24:
			s.underline = false
		case n == 27:
			s.reverse = false
		case n >= 30 && n <= 37:
			s.fg = indexed(n - 30)
		case n == 39:
			s.fg = ""
		case n >= 40 && n <= 47:
			s.bg = indexed(n - 40)
		case n == 49:
			s.bg = ""
		case n >= 90 && n <= 97:
			s.fg = indexed(n - 90 + 8)
		case n >= 100 && n <= 107:
			s.bg = indexed(n - 100 + 8)
		case n == 38 || n == 48:
			colour, used, err := extended(f[i+1:])
			if err != nil {
				return fmt.Errorf("read screen: style %q", args)
			}
			i += used
			if n == 38 {
				s.fg = colour
			} else {
				s.bg = colour
			}
		default:
			return fmt.Errorf("read screen: style %q is not known", args)
		}
	}
	return nil
}

// extended reads 5;N or 2;R;G;B.
func extended(f []string) (colour string, used int, err error) {
	var v [4]int
	for i := range min(len(f), 4) {
		if v[i], err = strconv.Atoi(f[i]); err != nil {
			return "", 0, err
		}
	}
	switch {
	case len(f) >= 2 && v[0] == 5:
		return indexed(v[1]), 2, nil
	case len(f) >= 4 && v[0] == 2:
		return fmt.Sprintf("#%02x%02x%02x", v[1], v[2], v[3]), 4, nil
	}
	return "", 0, strconv.ErrSyntax
}

// indexed is xterm's table of 256 colours: 16 named ones (here after its own
// defaults, from memory), a cube of 6 levels, and 24 greys.
func indexed(n int) string {
	named := [16]string{"#000000", "#cd0000", "#00cd00", "#cdcd00", "#0000ee", "#cd00cd", "#00cdcd", "#e5e5e5",
		"#7f7f7f", "#ff0000", "#00ff00", "#ffff00", "#5c5cff", "#ff00ff", "#00ffff", "#ffffff"}
	level := func(v int) int {
		if v == 0 {
			return 0
		}
		return 55 + 40*v
	}
	switch {
	case n < 16:
		return named[max(n, 0)]
	case n < 232:
		n -= 16
		return fmt.Sprintf("#%02x%02x%02x", level(n/36), level(n/6%6), level(n%6))
	}
	grey := 8 + 10*(min(n, 255)-232)
	return fmt.Sprintf("#%02x%02x%02x", grey, grey, grey)
}
