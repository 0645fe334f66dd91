package sound

import (
	"math"
	"sync"
	"time"
)

const (
	// chimeLevel is the peak of a chime against that of an alarm.
	chimeLevel = -10 // dB
	// A chime is two notes a fourth apart, over every alarm's fundamental, and
	// pure where an alarm's pulse has five components; each dies away as a
	// struck bar does. Our choice, no source.
	chimeLow, chimeHigh = 988.0, 1318.5 // Hz
	chimeApart          = 130 * time.Millisecond
	chimeNote           = 260 * time.Millisecond
)

// chimes holds the falling and the rising one.
var chimes = sync.OnceValue(func() [2][]int16 {
	return [2][]int16{chime(chimeHigh, chimeLow), chime(chimeLow, chimeHigh)}
})

func chime(first, second float64) []int16 {
	out := make([]int16, int((chimeApart+chimeNote).Seconds()*Rate))
	for i, hz := range []float64{first, second} {
		begin := int(float64(i) * chimeApart.Seconds() * Rate)
		length := int(chimeNote.Seconds() * Rate)
		for n := range length {
			t := float64(n) / Rate
			const rise, fall, decay = 0.004, 0.030, 0.060 // seconds
			env := ramp(t/rise) * ramp((chimeNote.Seconds()-t)/fall) * math.Exp(-t/decay)
			// 0.85: where the notes overlap they stay under the peak.
			out[begin+n] += int16(math.Round(0.85 * softPeak(chimeLevel) * env * math.Sin(2*math.Pi*hz*t)))
		}
	}
	return out
}
