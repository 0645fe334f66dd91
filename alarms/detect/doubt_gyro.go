package detect

import "tetherbell/decode"

const (
	// gyroStands: all three rates stand for so long, in over frozenLearn lines. It is
	// twice what frozen-sensor takes: this gyro need not have been seen alive.
	gyroStands = 2 * Second
	// gyroOverIdle, or gyroThrust where armed idle is not known, is thrust at which
	// rotors shake any craft by more than a gyro's last digit (common practice, no
	// source): at idle a coarse gyro on a rigid stand may well show three noughts.
	gyroOverIdle = 0.05
	gyroThrust   = 0.15
)

// gyroStill is why rates are not to be believed. A gyro that hung before it was ever
// seen under thrust looks like the calmest of crafts, and the loop is blind with it.
const gyroStill = "the three rates repeat to the last digit while the rotors thrust: does the gyro hang?"

// gyroSense finds rates that stand still under thrust. They are believed again as
// soon as one of them moves, and not by a stop alone.
type gyroSense struct {
	known bool
	last  [3]float64
	lines int
	since int64
	why   string // of Bench.Doubt
}

func (s *gyroSense) see(b *Bench, tag decode.Tag, at int64) {
	if tag != decode.Axes {
		return
	}
	moved, was := false, s.known
	s.known = true
	for i := range b.Rate {
		if !b.Rate[i].OK {
			s.restart()
			return
		}
		moved = moved || b.Rate[i].V != s.last[i]
		s.last[i] = b.Rate[i].V
	}
	switch {
	case !was:
		s.lines = 0
	case moved:
		s.lines, s.why = 0, ""
	case !frozenState(b) || !thrustOver(b, gyroOverIdle, gyroThrust):
		s.lines = 0
	default:
		s.lines++
	}
	if s.lines == 0 {
		s.since = at
	}
	if s.lines > frozenLearn && at-s.since >= gyroStands {
		s.why = gyroStill
	}
	b.Doubt[decode.Axes] = s.why
}

// restart forgets the last line, and keeps what was found.
func (s *gyroSense) restart() { *s = gyroSense{why: s.why} }
