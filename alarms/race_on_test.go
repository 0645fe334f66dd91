//go:build race

package alarms_test

// quick: under the race detector everything takes ten times as long, and the
// figures are the same.
const quick = true
