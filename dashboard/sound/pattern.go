package sound

import (
	"time"

	"tetherbell/alarms/detect"
)

// A Pattern is one burst of pulses and how it is repeated.
//
// The figures follow IEC 60601-1-8, the standard for alarm signals of medical
// equipment, as a published design pattern and no more: this program claims no
// conformity. The standard itself was not at hand; each number below says how
// well its range is known: "secondary source" is a data sheet or code that
// quotes the standard, "from memory" was not found anywhere.
type Pattern struct {
	Priority detect.Priority
	// Pulse is the length of a pulse between the points where its envelope
	// passes 90 %. High 75 to 200 ms, medium and low 125 to 250 ms
	// (secondary source).
	Pulse time.Duration
	// Gaps are the pauses between pulses, from the 90 % point where one ends
	// to the 90 % point where the next begins; one fewer than pulses.
	Gaps []time.Duration
	// Rise and Fall are the times from 10 to 90 % of the envelope and back.
	// Rise is 10 to 20 % of the pulse, and Rise plus Fall fit into a gap
	// (secondary source).
	Rise, Fall time.Duration
	// Interval is the silence between the last pulse of a burst and the first
	// of the next. High 2.5 to 15 s (secondary source), medium 2.5 to 30 s,
	// low over 15 s (both from memory; a sounder's data sheet agrees with
	// 2.60 to 4.00 s and 16 s).
	Interval time.Duration
	// Fundamental is the pitch in Hz. IEC 60601-1-8 wants 150 to 1000 Hz (a
	// transducer maker's text), ISO 7731 wants a danger signal in 500 to
	// 2500 Hz (secondary source): so all lie between 500 and 1000 Hz.
	Fundamental float64
	// Harmonics are the levels of the second harmonic and those after it, in
	// dB against the fundamental. At least four of them in 300 to 4000 Hz,
	// within 15 dB of it (a transducer maker's text).
	Harmonics []float64
}

const (
	// highSpacing is the pause between pulses of a high burst: 50 to 125 ms
	// (secondary source). With the pulse it makes 4 pulses a second, the top
	// of the 0.5 to 4 Hz of ISO 7731 (from memory).
	highSpacing = 100 * time.Millisecond
	highPulse   = 150 * time.Millisecond
	// highStep parts pulse 3 from 4, and 8 from 9: twice the spacing and a
	// pulse (from memory), so that three and two are heard apart.
	highStep = 2*highSpacing + highPulse
	// highHalves parts the two groups of five: 0.35 to 1.30 s (secondary
	// source); well over highStep, or the groups would run into one.
	highHalves = 600 * time.Millisecond

	// calmSpacing is the pause inside medium and low bursts: 125 to 250 ms
	// (secondary source).
	calmSpacing = 200 * time.Millisecond
	calmPulse   = 200 * time.Millisecond
)

// harmonics fall by 3 dB each: rich enough to be placed by ear and to pass a
// narrow loudspeaker, and still with most of the energy low, for those who
// hear the upper octaves badly.
var harmonics = []float64{-3, -6, -9, -12}

// patterns stand worst first. The pitch rises with the priority; that the
// worse alarm is the higher one is our choice, the rhythm alone tells them
// apart as well. Pitches are those of the equal-tempered scale with A at
// 440 Hz: G5, E5, C5.
var patterns = []Pattern{
	{
		Priority: detect.High, // 10 pulses, 3+2+3+2 (secondary source, four of them)
		Pulse:    highPulse,
		Gaps: []time.Duration{
			highSpacing, highSpacing, highStep, highSpacing, highHalves,
			highSpacing, highSpacing, highStep, highSpacing,
		},
		Rise: 24 * time.Millisecond, Fall: 24 * time.Millisecond,
		Interval:    2600 * time.Millisecond,
		Fundamental: 783.99, Harmonics: harmonics,
	},
	{
		Priority: detect.Medium, // 3 pulses (secondary source)
		Pulse:    calmPulse,
		Gaps:     []time.Duration{calmSpacing, calmSpacing},
		Rise:     34 * time.Millisecond, Fall: 34 * time.Millisecond,
		Interval:    4 * time.Second,
		Fundamental: 659.26, Harmonics: harmonics,
	},
	{
		Priority: detect.Low, // 1 or 2 pulses (secondary source)
		Pulse:    calmPulse,
		Gaps:     []time.Duration{calmSpacing},
		Rise:     34 * time.Millisecond, Fall: 34 * time.Millisecond,
		Interval:    16 * time.Second,
		Fundamental: 523.25, Harmonics: harmonics,
	},
}

// Patterns returns the pattern of each priority that is heard, worst first.
// The caller must not change them.
func Patterns() []Pattern { return patterns }

// PatternOf returns the pattern of a priority; false for those without sound.
func PatternOf(p detect.Priority) (Pattern, bool) {
	for _, pat := range patterns {
		if pat.Priority == p {
			return pat, true
		}
	}
	return Pattern{}, false
}

// Pulses is the number of pulses in a burst.
func (p Pattern) Pulses() int { return len(p.Gaps) + 1 }

// Length is the time from the first sound of a burst to its last.
func (p Pattern) Length() time.Duration {
	d := p.attack() + time.Duration(p.Pulses())*p.Pulse + p.release()
	for _, g := range p.Gaps {
		d += g
	}
	return d
}
