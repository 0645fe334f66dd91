// Package bridge sends lines of the bench line protocol from a single-board
// computer: what was measured goes in, lines go out on any io.Writer. It counts
// the lines, stamps and checks them, says who it is every second and what is on
// the bench every ten, and repeats the settings. It knows no port, no sensor
// and no clock of the system; those are given to it. The lines themselves are
// written by package decode.
//
// Beside it lies the same for microcontrollers in C: benchline.h, benchring.h
// and an example in the folder firmware. README.md is the way in to both.
package bridge
