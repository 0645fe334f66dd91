// Package cable says what ails the line between the bridge and the monitor, by
// what it does to the lines.
//
// In come the lines, good ones as samples and bad ones as bytes, and the ticks
// of the host's clock; nothing else, so that a recording tells the same as the
// day itself. Out come sights: which fault was seen, how often, from when to
// when, in a sentence with figures, and what to do first.
//
// It claims what the evidence carries. Whether one byte of a line was turned,
// lost or doubled, the line's own checksum proves: among all lines that could
// have become the bad one in that way, one has the checksum that came with it,
// and by chance that happens once in some hundred thousand bad lines. Clocks are
// judged by the smallest difference between host and bridge over a while, for
// delays only ever make it larger. What fits nothing is of no clear kind.
//
// It never repairs a line: no value comes out of here. It knows nothing of
// ports, alarms or screens.
package cable
