package sound

import (
	"math"

	"tetherbell/alarms/detect"
)

// What the noise of rotors is taken to be. A propeller hums at the pace at
// which its blades pass and at multiples of it, each weaker than the one
// before, on a carpet of turbulence (common practice, no source). Only the
// shape counts: the level is the same for every pitch that is compared.
const (
	// lineFall is how much weaker a blade-pass line is at twice its number.
	lineFall = 6 // dB
	// shaftLevel is the line at the rotor's own speed against the first
	// blade-pass line: what an unlike pair of blades makes.
	shaftLevel = -10 // dB
	// carpetLevel is the carpet in 1 Hz against the first blade-pass line of
	// one rotor. Without it the margin between two lines would have no end.
	carpetLevel = -49 // dB
	// reach is how far from a tone lines still mask it, in critical bands.
	reach = 4
	// leastRotor is the speed under which a rotor counts as standing, Hz.
	leastRotor = 5
)

// erb is the width in Hz of the ear's critical band around f: Glasberg and
// Moore 1990, 24.7 (4.37 f/1000 + 1) (from memory).
func erb(f float64) float64 { return 24.7 * (4.37*f/1000 + 1) }

// roex is how much of the power at f+df a critical band around f lets in: the
// rounded exponential of Patterson 1982 with p = 4 f/ERB, (1+pg) exp(-pg)
// (from memory). Its area over both sides is the ERB.
func roex(df, width float64) float64 {
	x := 4 * math.Abs(df) / width
	return (1 + x) * math.Exp(-x)
}

// A rotorNoise is what the rotors of the moment sound like.
type rotorNoise struct {
	hz     [maxRotors]float64
	n      int
	blades int // of a propeller; 0 where nobody counted them
}

// running counts the rotors that turn.
func (r *rotorNoise) running() int {
	n := 0
	for _, hz := range r.hz[:r.n] {
		if hz >= leastRotor {
			n++
		}
	}
	return n
}

// around is the power of the noise in the critical band around f, against the
// first blade-pass line of one rotor.
func (r *rotorNoise) around(f float64) float64 {
	width := erb(f)
	var sum float64
	for _, hz := range r.hz[:r.n] {
		if hz < leastRotor {
			continue
		}
		sum += dB(shaftLevel) * roex(hz-f, width)
		if r.blades > 0 {
			sum += passing(hz*float64(r.blades), f, width)
		} else { // two or three, the usual counts: half of each
			sum += (passing(2*hz, f, width) + passing(3*hz, f, width)) / 2
		}
	}
	return sum + float64(r.running())*dB(carpetLevel)*width
}

// passing is the power that the multiples of one blade-pass line bring into
// the critical band around f.
func passing(pass, f, width float64) float64 {
	var sum float64
	first := max(1, math.Ceil((f-reach*width)/pass))
	for k := first; k*pass <= f+reach*width; k++ {
		sum += dB(-lineFall*math.Log2(k)) * roex(k*pass-f, width)
	}
	return sum
}

// dB turns a level into a power.
func dB(level float64) float64 { return math.Pow(10, level/10) }

// worth is how well the ear finds a tone of this pitch in the noise, in dB:
// the margins of its components, level over noise in each critical band, put
// together as independent chances to hear it add up: the root of the sum of
// the squared ratios of power (Green and Swets 1966, from memory). One
// component that stands clear is enough, more of them help a little. Only
// differences between pitches mean anything.
func (r *rotorNoise) worth(pitch float64, levels []float64) float64 {
	var sum float64
	for i := -1; i < len(levels); i++ {
		level := 0.0
		if i >= 0 {
			level = levels[i]
		}
		ratio := dB(level) / r.around(pitch*float64(i+2))
		sum += ratio * ratio
	}
	return 5 * math.Log10(sum)
}

const (
	// keepGain is what another pitch must gain before an alarm that repeats
	// changes its own: a third of a change that is plainly heard as louder
	// (10 dB, common practice, no source), so that it is worth the unrest.
	keepGain = 3.0 // dB
	// habit is what another pitch must gain over the usual one for a first
	// burst: less is within what the noise model knows.
	habit = 0.5 // dB
)

// bestPitch picks from a priority's pitches the one that stands out best from
// the noise. kept is the pitch of a burst that repeats, -1 for a first one.
// Where nothing turns, or nobody knows, it is the usual pitch.
func bestPitch(p detect.Priority, r *rotorNoise, kept int) int {
	usual := usualPitch(p)
	if r.running() == 0 {
		return usual
	}
	set, pat := pitchesOf(p), patternAt(p)
	var worths [pitchCount]float64
	best := usual
	for i, hz := range set {
		worths[i] = r.worth(hz, pat.Harmonics)
	}
	for i := range set {
		if worths[i] >= worths[usual]+habit && worths[i] > worths[best] {
			best = i
		}
	}
	if kept >= 0 && worths[best] < worths[kept]+keepGain {
		return kept
	}
	return best
}

// A Choice is the pitch that a priority takes at given rotor speeds.
type Choice struct {
	Priority detect.Priority
	Usual    float64 // Hz, where no rotor turns
	Pitch    float64 // Hz
	Gain     float64 // dB: how much better it stands out, by the noise model
}

// Choices tells which pitch each priority takes, worst priority first, when
// rotors turn at these speeds in Hz with so many blades on a propeller, 0
// where that is not known.
func Choices(rotors []float64, blades int) []Choice {
	r := noiseOf(rotors, blades)
	out := make([]Choice, 0, len(patterns))
	for _, pat := range patterns {
		hz := pitchesOf(pat.Priority)[bestPitch(pat.Priority, &r, -1)]
		c := Choice{Priority: pat.Priority, Usual: pat.Fundamental, Pitch: hz}
		if r.running() > 0 {
			c.Gain = r.worth(hz, pat.Harmonics) - r.worth(c.Usual, pat.Harmonics)
		}
		out = append(out, c)
	}
	return out
}

// noiseOf takes over the speeds that make sense.
func noiseOf(rotors []float64, blades int) rotorNoise {
	r := rotorNoise{blades: blades}
	if blades < 1 || blades > 16 {
		r.blades = 0
	}
	for _, hz := range rotors {
		if hz >= leastRotor && hz < Rate/2 && r.n < maxRotors {
			r.hz[r.n] = hz
			r.n++
		}
	}
	return r
}
