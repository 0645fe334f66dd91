package sound

import (
	"slices"
	"sync"

	"tetherbell/alarms/detect"
)

const (
	// pitchCount is how many pitches a priority has to choose from.
	pitchCount = 7
	// maxRotors bounds the speeds that are kept.
	maxRotors = 16
)

// pitches are those that each priority may take, in Hz, low to high. They lie
// in 500 to 800 Hz: ISO 7731 sets the lower end, and with the fifth multiple
// inside the 4000 Hz of IEC 60601-1-8 a pulse keeps four harmonics of the five
// components it has. Each priority has its own part, the worse the higher, and
// at least 4 % between the parts. Steps are near 2 %: half the width of a
// critical band there is 9 %, so two steps take a component off a line.
var pitches = map[detect.Priority][pitchCount]float64{
	detect.High:   {716, 729, 742, 756, 770, 783.99, 799},
	detect.Medium: {610, 622, 634, 646.5, 659.26, 672, 685},
	detect.Low:    {503, 513, 523.25, 537, 551, 565, 580},
}

func pitchesOf(p detect.Priority) []float64 {
	set := pitches[p]
	return set[:]
}

// patternAt is PatternOf for a priority that has a pattern.
func patternAt(p detect.Priority) Pattern {
	pat, _ := PatternOf(p)
	return pat
}

// usualPitch is the place of the pattern's own pitch among its pitches.
func usualPitch(p detect.Priority) int {
	return slices.Index(pitchesOf(p), patternAt(p).Fundamental)
}

// A library holds every priority's burst at each of its pitches: 3.5 MB.
type library map[detect.Priority][pitchCount][]int16

// pitched is the library, made at the first call: it takes a moment, so the
// player has it made off the alarm path.
var pitched = sync.OnceValue(func() *library {
	lib := make(library, len(patterns))
	for _, pat := range patterns {
		var set [pitchCount][]int16
		for i, hz := range pitchesOf(pat.Priority) {
			if hz == pat.Fundamental {
				set[i] = bursts()[pat.Priority]
				continue
			}
			at := pat
			at.Fundamental = hz
			set[i] = int16s(at.Samples())
		}
		lib[pat.Priority] = set
	}
	return &lib
})

// A tuner keeps the pitch that each priority took last.
type tuner struct {
	lib  *library // nil until it is made: the usual pitch until then
	last map[detect.Priority]int
}

// burst gives the samples of a burst that begins now. again says that it
// repeats the one before.
func (t *tuner) burst(p detect.Priority, r *rotorNoise, again bool) []int16 {
	if t.lib == nil {
		return bursts()[p]
	}
	kept := -1
	if i, ok := t.last[p]; ok && again {
		kept = i
	}
	best := bestPitch(p, r, kept)
	t.last[p] = best
	return (*t.lib)[p][best]
}
