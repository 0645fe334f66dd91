package detect

import (
	"math"

	"tetherbell/decode"
)

const (
	// Whether lift rises as the rotors turn faster is told from means over
	// doubtBin, doubtBins of them: load lines come ten times a second or more, and
	// over a longer time than ten seconds cells drift by more than slow rotors lift.
	doubtBin  = Second / 4
	doubtBins = 40
	doubtFew  = 10 // fewer bins have no scatter to speak of
	// doubtSteady: over a bin that counts, thrust may change by this share of its
	// most. Cells that are read ten times a second lag by up to 0.4 s (four
	// readings to settle; common practice, no source): in blips of the throttle
	// lift would fall as it opens. So doubtLooks bins running must be such ones.
	doubtSteady = 0.25
	// doubtRise: thrust must differ by this factor. doubtShare of the weight, or
	// doubtLiftN where that is not known, is the least change of lift: cells
	// tremble and drift, and gusts pull, by less in ten seconds. near-lift first
	// rings at seven times as much (common practice, no source).
	doubtRise  = 1.5
	doubtShare = 0.10
	doubtLiftN = 1.0
	// doubtSure standard errors of the slope, doubtLooks bins running: of noise
	// alone one in 40 000 is so far off one way (Student's t, ten bins).
	doubtSure  = 8
	doubtLooks = 3
	// doubtFresh: speeds not heard for so long leave it to the outputs.
	doubtFresh = 1 * Second
)

// liftFalls is why lift is not to be believed. It asks which it is, for all of
// these look alike from here, and near-lift is blind with any of them.
const liftFalls = "lift falls as the rotors turn faster: are the load cells' wires swapped, or craft or propellers upside down?"

// Doubts hold what the streams tell against what must be so on any bench, and
// keep Bench.Doubt. The owner of the bench feeds them.
type Doubts struct {
	lift  liftSense
	force forceSense
}

// See takes a line of a tag; the bench already reflects it.
func (d *Doubts) See(b *Bench, tag decode.Tag, at int64) {
	d.lift.see(b, tag, at)
	d.force.see(b, tag, at)
}

// Restart drops what must not be joined over a restart of a bridge that sends
// lines of these tags, a bit each. What was found stands until the lines show
// otherwise: a restart in mid-run is no reason to say that lift is watched again.
func (d *Doubts) Restart(tags uint32) {
	if tags&(ofLoad|ofOut|ofERPM|1<<decode.State) != 0 {
		d.lift.end()
		d.lift.bySpeed = false
	}
	if tags&(ofAccel|ofOut|ofAxes|1<<decode.State) != 0 {
		d.force = forceSense{level: d.force.level}
	}
}

// A thrustLift is a bin of thrust, by speeds or outputs squared, and of lift.
type thrustLift struct {
	slot         int64
	thrust, lift float64 // sums, means in a bin that has ended
	of, lines    int
	least, most  float64 // thrust
	idle         bool    // at some time in it the motors were at armed idle or under it
}

// liftSense finds whether lift rises with thrust, once in each run of the
// rotors: what comes later may be a craft that has turned over.
type liftSense struct {
	bySpeed bool
	speedAt int64
	begun   bool // cur is being filled
	cur     thrustLift
	bins    [doubtBins]thrustLift
	n       int // bins taken in this run
	votes   int // looks running that say so: over 0 it rises, under 0 it falls
	told    bool
}

// end closes a run.
func (s *liftSense) end() { s.begun, s.n, s.votes, s.told = false, 0, 0, false }

func (s *liftSense) see(b *Bench, tag decode.Tag, at int64) {
	switch tag {
	case decode.State:
		if b.Armed == No {
			s.end() // hands may be at the craft
		}
	case decode.ERPM:
		sum, n := sumSquares(&b.ERPM, b.Motors)
		if n == 0 || n < b.Motors || !s.bySpeed && sum <= 0 {
			return
		}
		s.speedAt = at
		if !s.bySpeed {
			s.begun, s.n, s.votes, s.bySpeed = false, 0, 0, true
		}
		s.drive(b, sum*1e-8, at)
	case decode.Out:
		if s.bySpeed && at-s.speedAt > doubtFresh {
			s.begun, s.n, s.votes, s.bySpeed = false, 0, 0, false
		}
		if sum, n := sumSquares(&b.Out, b.Motors); !s.bySpeed && n > 0 && n == b.Motors {
			s.drive(b, sum, at)
		}
	case decode.Load:
		if b.Load.OK && s.turn(b, at) {
			s.cur.lift += b.Load.V
			s.cur.lines++
		}
	}
}

// drive takes a measure of thrust.
func (s *liftSense) drive(b *Bench, thrust float64, at int64) {
	if b.Armed == Unknown && thrust <= 0 {
		s.end()
	}
	if !s.turn(b, at) {
		return
	}
	c := &s.cur
	if c.of == 0 {
		c.least, c.most = thrust, thrust
	}
	c.least, c.most = min(c.least, thrust), max(c.most, thrust)
	c.thrust += thrust
	c.of++
	c.idle = c.idle || !thrustOver(b, flyOverIdle, flyBare)
}

// turn ends the bin whose time is over, and reports whether to fill one.
func (s *liftSense) turn(b *Bench, at int64) bool {
	if b.Armed == No || s.told {
		return false
	}
	slot := at / doubtBin
	if s.begun && slot <= s.cur.slot {
		return true
	}
	switch c := &s.cur; {
	case !s.begun || c.of == 0 || c.lines == 0:
	case c.most-c.least > doubtSteady*c.most:
		s.votes = 0
	default:
		c.thrust /= float64(c.of)
		c.lift /= float64(c.lines)
		s.bins[s.n%doubtBins] = *c
		s.n++
		s.look(b)
	}
	s.cur, s.begun = thrustLift{slot: slot}, true
	return !s.told
}

// look says which way lift goes, by a line through the bins.
func (s *liftSense) look(b *Bench) {
	kept := s.bins[:min(s.n, doubtBins)]
	now := s.cur.slot
	n, x, y := 0.0, 0.0, 0.0
	low, high := math.Inf(1), 0.0
	for i := range kept {
		if c := &kept[i]; now-c.slot < doubtBins {
			n, x, y = n+1, x+c.thrust, y+c.lift
			low, high = min(low, c.thrust), max(high, c.thrust)
		}
	}
	if n < doubtFew || high <= doubtRise*low || s.cur.idle {
		s.votes = 0
		return
	}
	x, y = x/n, y/n
	xx, xy, yy := 0.0, 0.0, 0.0
	for i := range kept {
		if c := &kept[i]; now-c.slot < doubtBins {
			u, v := c.thrust-x, c.lift-y
			xx, xy, yy = xx+u*u, xy+u*v, yy+v*v
		}
	}
	least := doubtLiftN
	if w := b.WeightN(); w > 0 {
		least = doubtShare * w
	}
	slope := xy / xx
	scatter := max((yy-slope*xy)/(n-2), 0)
	change := slope * (high - low)
	switch sure := math.Abs(slope) >= doubtSure*math.Sqrt(scatter/xx); {
	case !sure || math.Abs(change) < least:
		s.votes = 0
	case change < 0:
		s.votes = min(s.votes, 0) - 1
	default:
		s.votes = max(s.votes, 0) + 1
	}
	if s.votes <= -doubtLooks {
		s.told, b.Doubt[decode.Load] = true, liftFalls
	} else if s.votes >= doubtLooks {
		s.told, b.Doubt[decode.Load] = true, ""
	}
}

// liftLacks returns why there is no lift to go by, "" where there is.
func liftLacks(b *Bench) string {
	if !b.Load.OK {
		return noLift(b)
	}
	return b.Doubt[decode.Load]
}
