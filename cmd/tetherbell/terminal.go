package main

import (
	"os"

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

// canDraw reports whether there is a terminal for the screen. Keys come from
// the terminal itself, so standard input may be anything.
func canDraw(con *console) bool {
	_, out := asTerminal(con.out)
	kind := os.Getenv("TERM")
	return out && kind != "dumb" && (kind != "" || os.PathSeparator == '\\')
}
