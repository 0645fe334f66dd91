//go:build linux

package main

import (
	"bytes"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode/utf8"
)

// A glassPane is as much of a terminal as our screen uses: what is sent to it
// stands in cells, as a person would see it. Control sequences after ECMA-48
// (from memory): CUP places the cursor, ED and EL erase, the rest only colours
// or switches and moves nothing.
type glassPane struct {
	mu     sync.Mutex
	w, h   int
	cells  [][]rune
	x, y   int
	rest   []byte // an unfinished sequence
	frames int    // pictures drawn: each begins with a synchronized update
	bytes  int
	bell   int
	asked  int                         // questions whether it is there, CSI 5 n
	seen   func(*glassPane, time.Time) // called after every read, locked
}

func newGlassPane(w, h int) *glassPane {
	g := &glassPane{w: w, h: h, cells: make([][]rune, h)}
	for y := range g.cells {
		g.cells[y] = []rune(strings.Repeat(" ", w))
	}
	return g
}

// take takes what was read at a moment.
func (g *glassPane) take(p []byte, at time.Time) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.bytes += len(p)
	b := append(g.rest, p...)
	for len(b) > 0 {
		n := g.one(b)
		if n == 0 {
			break
		}
		b = b[n:]
	}
	g.rest = append([]byte(nil), b...)
	if g.seen != nil {
		g.seen(g, at)
	}
}

// one takes one character or sequence and tells its length, 0 when it is not
// whole yet.
func (g *glassPane) one(b []byte) int {
	switch c := b[0]; {
	case c == 0x1b:
		return g.escape(b)
	case c == '\a':
		g.bell++
		return 1
	case c == '\r':
		g.x = 0
		return 1
	case c == '\n':
		g.y++
		return 1
	case c == '\b':
		g.x--
		return 1
	case c < 0x20:
		return 1
	case !utf8.FullRune(b):
		return 0
	}
	r, n := utf8.DecodeRune(b)
	if g.y >= 0 && g.y < g.h && g.x >= 0 && g.x < g.w {
		g.cells[g.y][g.x] = r
	}
	g.x++
	return n
}

func (g *glassPane) escape(b []byte) int {
	if len(b) < 2 {
		return 0
	}
	switch b[1] {
	case '[':
		end := bytes.IndexFunc(b[2:], func(r rune) bool { return r >= 0x40 && r <= 0x7e })
		if end < 0 {
			return 0
		}
		g.control(string(b[2:2+end]), b[2+end])
		return end + 3
	case ']', 'P': // a string, up to its end
		for i := 2; i < len(b); i++ {
			if b[i] == '\a' {
				return i + 1
			}
			if b[i] == 0x1b && i+1 < len(b) {
				return i + 2
			}
		}
		return 0
	case '(', ')':
		if len(b) < 3 {
			return 0
		}
		return 3
	}
	return 2
}

func (g *glassPane) control(args string, final byte) {
	number := func(i int) int {
		f := strings.Split(args, ";")
		if i >= len(f) {
			return 0
		}
		n, _ := strconv.Atoi(f[i])
		return n
	}
	switch final {
	case 'H':
		g.y, g.x = max(number(0), 1)-1, max(number(1), 1)-1
	case 'C':
		g.x += max(number(0), 1)
	case 'J':
		for y := range g.cells {
			g.erase(y, 0)
		}
	case 'K':
		g.erase(g.y, g.x)
	case 'n':
		if args == "5" {
			g.asked++
		}
	case 'h':
		if args == "?2026" {
			g.frames++
		}
	}
}

func (g *glassPane) erase(y, from int) {
	for x := from; x < g.w && y >= 0 && y < g.h; x++ {
		g.cells[y][x] = ' '
	}
}

// has reports whether a row holds a text; locked by the caller.
func (g *glassPane) has(text string) bool {
	for _, row := range g.cells {
		if strings.Contains(string(row), text) {
			return true
		}
	}
	return false
}

// picture is what stands on it.
func (g *glassPane) picture() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	var b strings.Builder
	for _, row := range g.cells {
		b.WriteString(strings.TrimRight(string(row), " "))
		b.WriteByte('\n')
	}
	return b.String()
}

func (g *glassPane) shows(text string) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.has(text)
}

func (g *glassPane) drawn() (frames, bytes int) {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.frames, g.bytes
}

// answers are those that it owes by now, as the keyboard's end sends them.
func (g *glassPane) answers() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	n := g.asked
	g.asked = 0
	return strings.Repeat("\x1b[0n", n)
}

// bells is how often the bell was struck.
func (g *glassPane) bells() int {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.bell
}
