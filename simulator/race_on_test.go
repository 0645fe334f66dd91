//go:build race

package simulator

// quick: under the race detector everything takes ten times as long, and the
// figures are the same.
const quick = true
