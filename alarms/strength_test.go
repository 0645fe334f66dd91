package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestStrength(t *testing.T) {
	order := []string{
		"",
		"disarm; once rotors stand, check m3",
		"ease the throttle",
		"cut throttle",
		"cut throttle; keep clear",
		"press stop; once rotors stand, take the pack off",
		"press stop; keep clear",
		"keep clear; cut power only from outside the propellers' reach",
	}
	for i, a := range order[1:] {
		assert.Greater(t, Strength(a), Strength(order[i]), "%s over %s", a, order[i])
	}
	for _, same := range [][2]string{
		{"do not arm; correct idle_ready", "disarm; set idle_least nearer to idle_ready"},
		{"keep clear; once rotors stand, check m3", "disarm; once rotors stand, check m3"},
		{"lower the gains before you go on", "ease off; once rotors stand, check m3"},
		{"throttle to zero; slack the tether", "cut throttle: the monitor is blind"},
	} {
		assert.Equal(t, Strength(same[0]), Strength(same[1]), same)
	}
}
