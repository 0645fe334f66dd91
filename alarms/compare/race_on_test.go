//go:build race

package compare

const raceOn = true
