// Package spoil spoils what a bench bridge sends, as cables, adapters and
// tired bridges do, so that the monitor can be tried under fire.
//
// In come a source's pieces of bytes, each with the time at which it is due in
// microseconds since the start; out come such pieces. Three stages stand behind
// each other, as on the way from a real bridge:
//
//	bridge  clock drift and steps, restarts, filler lines: good lines, told anew
//	cable   lines doubled or run together; bytes lost, doubled, flipped, or heard
//	        at another rate
//	way     bytes that dribble, are held up, or never come
//
// All chance comes from the seed, and each fault has chance of its own: one
// more does not change the others. The package knows no clock, no port and no
// monitor.
package spoil
