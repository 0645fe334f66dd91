package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"
)

// asTerminal returns the file behind a stream of the process when it is a
// terminal.
func asTerminal(stream any) (*os.File, bool) {
	f, ok := stream.(*os.File)
	if !ok || f == nil || !term.IsTerminal(int(f.Fd())) {
		return nil, false
	}
	return f, true
}

// columns returns how wide the terminal behind a stream is, 0 where there is none.
func columns(stream any) int {
	w, _ := sizeOf(stream)
	return w
}

// sizeOf returns how wide and how high it is.
func sizeOf(stream any) (w, h int) {
	f, ok := asTerminal(stream)
	if !ok {
		return 0, 0
	}
	w, h, err := term.GetSize(int(f.Fd()))
	if err != nil {
		return 0, 0
	}
	return w, h
}

// inSight says the first line of a verdict once more at its end, where the rest has
// more rows than a terminal shows, its prompt among them: what was worst and the
// first action would else have scrolled away. h is 0 where there is no terminal.
func inSight(lines []string, w, h int) []string {
	rows := 1
	for _, s := range lines {
		rows += len(fold(printable(s), w))
	}
	if h == 0 || rows <= h {
		return lines
	}
	return append(lines[:len(lines):len(lines)], "in short, "+lines[0])
}

// tellFolded writes a line over as many rows of a terminal as it takes; w is 0 where
// there is none.
func tellFolded(to io.Writer, line string, w int) {
	for _, part := range fold(line, w) {
		fmt.Fprintln(to, part)
	}
}

// foldLeast is the fewest columns that a line is folded to.
const foldLeast = 30

// fold cuts a line at blanks so that it fits w columns, what goes on being set in
// by two; a word that would fit no line stays where it is. Without a width the
// line stays whole, for programs.
func fold(line string, w int) []string {
	if w < foldLeast || utf8.RuneCountInString(line) <= w {
		return []string{line}
	}
	in := line[:len(line)-len(strings.TrimLeft(line, " "))]
	out, now := []string(nil), in
	for rest := line[len(in):]; rest != ""; {
		gap := rest[:len(rest)-len(strings.TrimLeft(rest, " "))]
		word, _, _ := strings.Cut(rest[len(gap):], " ")
		rest = rest[len(gap)+len(word):]
		n := utf8.RuneCountInString(word)
		switch used := utf8.RuneCountInString(now); {
		case word == "":
		case used+len(gap)+n <= w || len(in)+2+n > w:
			now += gap + word // columns stay as they are
		default:
			out, now = append(out, now), in+"  "+word
		}
	}
	return append(out, now)
}

// canDraw reports whether there is a terminal for the screen. Keys come from
// the terminal itself, so standard input may be anything.
func canDraw(con *console) bool {
	_, out := asTerminal(con.out)
	kind := os.Getenv("TERM")
	return out && kind != "dumb" && (kind != "" || os.PathSeparator == '\\')
}
