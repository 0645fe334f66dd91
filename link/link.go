// Package link turns bytes into lines and keeps them.
//
// In come bytes: from a serial port, standard input, a file, or a recording
// that is still being written. Out go whole lines, cut at the line feed and
// otherwise untouched ([Splitter]), and recordings: every line as it was
// heard with the host's own lines between ([Recorder], [Session]).
//
// What a line means is unknown here. A damaged line, a line of another
// protocol and a perfect one are all the same: evidence of what was heard.
package link

import "errors"

// MaxLine is the most bytes of one line that are kept, the line feed not
// counted. The longest good line has 240; the rest of the room is for lines
// that begin with '#', and so that a recording shows what a fault looked
// like. What lies beyond is dropped and counted.
const MaxLine = 64 << 10

// What a source says between bytes. Neither ends it: the next Read goes on.
var (
	// ErrLost says that the port went away. The line that was being heard
	// ends here; the bytes to come belong to another.
	ErrLost = errors.New("port lost")
	// ErrBack says that the port is open again.
	ErrBack = errors.New("port back")
)
