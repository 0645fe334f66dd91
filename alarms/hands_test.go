package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestKeepOff(t *testing.T) {
	for in, want := range map[string]string{
		"":                              "",
		"cut throttle":                  "cut throttle",
		"press stop; keep clear":        "press stop; keep clear",
		"check m3":                      "disarm; once rotors stand, check m3",
		"ease off; check propeller":     "ease off; once rotors stand, check propeller",
		"checkered; move weight":        "checkered; once rotors stand, move weight",
		"stop; check it; move that":     "stop; once rotors stand, check it; once rotors stand, move that",
		"lower the gains before you go": "lower the gains before you go",
	} {
		assert.Equal(t, want, keepOff(in), in)
	}
}
