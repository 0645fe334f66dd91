package detect

import (
	"math"

	"tetherbell/decode"
)

const (
	linePast  = 64             // speeds kept of each rotor
	lineEvery = Second / 20    // between two of them: 3.2 s in all, the longest window
	lineFresh = 3 * Second / 2 // speeds older than this say nothing
	// lineError is how far a reported speed may be off, as a share: real
	// machines agree with their reports within 2 %, a rotor's own report is far
	// better (it counts turns); half a percent covers its lateness too.
	lineError = 0.005
	// lineSweep: a line that moved by more than this many resolution cells of
	// the window cannot stand in it as one narrow tone.
	lineSweep = 3.0
	// lineLeast is the slowest rotor that is looked at, turns a second.
	lineLeast = 1.0
)

// rotorLines knows at which frequencies the rotors shake the craft, now and
// in the last seconds.
type rotorLines struct {
	hz     [linePast][decode.MaxMotors]float64 // turns a second, 0 unknown
	at     [linePast]int64
	n      int
	motors int
	blades float64
}

// set notes the speeds of the rotors.
func (l *rotorLines) set(b *Bench) {
	if l.n > 0 && b.Now-l.at[(l.n-1)%linePast] < lineEvery {
		return
	}
	l.motors, l.blades = min(b.Motors, decode.MaxMotors), float64(max(b.Craft.Blades, 2))
	row := &l.hz[l.n%linePast]
	for i := range row {
		row[i] = 0
		if r := b.RPM[i]; i < l.motors && r.OK && r.V > 60*lineLeast {
			row[i] = r.V / 60
		}
	}
	l.at[l.n%linePast] = b.Now
	l.n++
}

// near reports whether f may be a rotor line (once, twice and blade pass) or
// the fold of one at the stream's rate, in a window of the given length that
// ends at now. A rotor whose speed moved too much to stand in the window as
// one tone is not suspected.
func (l *rotorLines) near(f, rate float64, now int64, window float64) bool {
	if l.n == 0 || now-l.at[(l.n-1)%linePast] > lineFresh {
		return false
	}
	cell := 1 / window
	for m := range l.motors {
		low, high := math.Inf(1), 0.0
		for i := range min(l.n, linePast) {
			k := (l.n - 1 - i) % linePast
			if seconds(now-l.at[k]) > window+seconds(lineEvery) {
				break
			}
			if v := l.hz[k][m]; v > 0 {
				low, high = min(low, v), max(high, v)
			}
		}
		if high == 0 {
			continue
		}
		for _, order := range [...]float64{1, 2, l.blades} {
			if order*(high-low) > lineSweep*cell {
				continue
			}
			room := cell + lineError*order*high
			if math.Abs(fold(order*low, rate)-f) < room || math.Abs(fold(order*high, rate)-f) < room {
				return true
			}
		}
	}
	return false
}

// fold is where a frequency appears in a stream of the given rate that was
// sampled without a filter.
func fold(hz, rate float64) float64 { return math.Abs(hz - rate*math.Round(hz/rate)) }
