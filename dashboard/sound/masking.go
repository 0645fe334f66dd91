package sound

import (
	"math"

	"tetherbell/alarms/detect"
)

// What the noise of rotors is taken to be. A propeller hums at the pace at
// which its blades pass and at multiples of it, each weaker than the one
// before, softly at every multiple of its own speed, on a carpet of turbulence
// (common practice, no source). Only the shape counts: the level is the same
// for every pitch that is compared.
const (
	// lineFall is how much weaker a blade-pass line is at twice its number.
	lineFall = 6 // dB
	// shaftLevel is the line at the rotor's own speed against the first
	// blade-pass line: blades are never quite alike.
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
	hz     [maxRotors]float64 // of those that turn
	n      int
	blades int // of a propeller; 0 where nobody counted them
}

// A heard is a power of the noise as two rulers see it around a tone.
type heard struct{ ear, third float64 }

func (h *heard) add(power, df, width, third float64) {
	h.ear += power * roex(df, width)
	if math.Abs(df) <= third/2 {
		h.third += power
	}
}

// around is the power of the noise around f, against the first blade-pass line
// of one rotor: in the ear's critical band, and in the third of an octave that
// ISO 7731 reckons with.
func (r *rotorNoise) around(f float64) heard {
	width, third := erb(f), f*thirdOctave
	var h heard
	for _, hz := range r.hz[:r.n] {
		for k := max(1, int(math.Ceil((f-reach*width)/hz))); float64(k)*hz <= f+reach*width; k++ {
			h.add(r.line(k), float64(k)*hz-f, width, third)
		}
	}
	carpet := float64(r.n) * dB(carpetLevel)
	h.ear += carpet * width
	h.third += carpet * third
	return h
}

// line is the power of a rotor's line at k times its speed: the shaft's own,
// and that of the blades where they pass so often.
func (r *rotorNoise) line(k int) float64 {
	power := dB(shaftLevel) * fallen(k)
	switch {
	case r.blades == 0: // two or three, the usual counts: half of each
		if k%2 == 0 {
			power += fallen(k/2) / 2
		}
		if k%3 == 0 {
			power += fallen(k/3) / 2
		}
	case k%r.blades == 0:
		power += fallen(k / r.blades)
	}
	return power
}

// fallen is the power of the k-th line of a row against the first. A table:
// a burst's pitch takes some ten thousand lines.
func fallen(k int) float64 { return falls[min(k, len(falls)-1)] }

var falls = func() (t [512]float64) {
	for k := 1; k < len(t); k++ {
		t[k] = dB(-lineFall * math.Log2(float64(k)))
	}
	return t
}()

// thirdOctave is the width of a third of an octave around its middle.
var thirdOctave = math.Pow(2, 1.0/6) - math.Pow(2, -1.0/6)

// dB turns a level into a power.
func dB(level float64) float64 { return math.Pow(10, level/10) }

// A worth is how well a tone stands out from the noise, in dB, in two ways.
// Only differences between pitches mean anything.
//
// all puts together the margins of the components in the ear's critical bands
// as independent chances to hear them add up: the root of the sum of the
// squared ratios of power (Green and Swets 1966, from memory). One component
// that stands clear is enough, more of them help a little.
//
// best is the margin of the best component in its third of an octave: the
// figure that ISO 7731 wants at 13 dB in one band (secondary source).
type worth struct{ all, best float64 }

func (r *rotorNoise) worth(pitch float64, levels []float64) worth {
	var sum, best float64
	for i := -1; i < len(levels); i++ {
		level := 0.0
		if i >= 0 {
			level = levels[i]
		}
		noise := r.around(pitch * float64(i+2))
		ratio := dB(level) / noise.ear
		sum += ratio * ratio
		best = max(best, dB(level)/noise.third)
	}
	return worth{5 * math.Log10(sum), 10 * math.Log10(best)}
}

// over is what is gained against another pitch: the mean of both ways of
// judging, unless one of them loses.
func (w worth) over(other worth) float64 {
	all, best := w.all-other.all, w.best-other.best
	if least := min(all, best); least < -allowed {
		return least
	}
	return (all + best) / 2
}

const (
	// keepGain is what another pitch must gain before an alarm that repeats
	// changes its own: a third of a change that is plainly heard as louder
	// (10 dB, common practice, no source), so that it is worth the unrest.
	keepGain = 3.0 // dB
	// habit is what another pitch must gain over the usual one for a first
	// burst: less is within what the noise model knows, as tests with other
	// noise show.
	habit = 1.5 // dB
	// allowed is what one way of judging may lose where the other gains.
	allowed = 0.25 // dB
)

// bestPitch picks from a priority's pitches the one that stands out best from
// the noise. kept is the pitch of a burst that repeats, -1 for a first one.
// Where nothing turns, or nobody knows, it is the usual pitch.
func bestPitch(p detect.Priority, r *rotorNoise, kept int) int {
	usual := usualPitch(p)
	if r.n == 0 {
		return usual
	}
	set, pat := pitchesOf(p), patternAt(p)
	var worths [pitchCount]worth
	for i, hz := range set {
		worths[i] = r.worth(hz, pat.Harmonics)
	}
	from, least := usual, habit
	if kept >= 0 {
		from, least = kept, keepGain
	}
	best := from
	for i := range set {
		if gain := worths[i].over(worths[from]); gain >= least {
			best, least = i, gain
		}
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
		if r.n > 0 {
			c.Gain = r.worth(hz, pat.Harmonics).over(r.worth(c.Usual, pat.Harmonics))
		}
		out = append(out, c)
	}
	return out
}

// noiseOf takes over the speeds that make a sound.
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
