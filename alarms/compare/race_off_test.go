//go:build !race

package compare

const raceOn = false
