package detect

import (
	"cmp"
	"math"
	"strings"

	"tetherbell/decode"
)

const (
	// Whether lift rises as the rotors turn faster is told from means over
	// doubtBin, doubtBins of them: load lines come ten times a second or more, and
	// over a longer time than ten seconds cells drift by more than slow rotors lift.
	doubtBin  = Second / 4
	doubtBins = 40
	doubtFew  = 10 // fewer bins have no scatter to speak of
	// Cells that are read ten times a second lag by up to 0.4 s (four readings to
	// settle; common practice, no source): where the throttle goes to and fro, lift
	// would fall as it opens. So bins count in which, and in doubtSettle before,
	// thrust has moved by doubtMoved of its range at most, and they must reach over
	// doubtReach of it.
	doubtSettle = 2
	doubtMoved  = 0.20
	doubtReach  = 0.50
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
	// doubtLittle of what the rotor speeds mean by the published law (staticCT) is
	// less than any propeller lifts: those of the tests lie within 0.7 and 1.3 of it,
	// blades of little pitch make half, a pole count that is one pair wrong 0.7. In
	// kilograms lift is a tenth; on a plate that takes the rotors' wash nothing is
	// left. It is judged where the speeds mean doubtOwed times the least change.
	doubtLittle = 1.0 / 6
	doubtOwed   = 3
	// doubtMuch times what the speeds mean is more than any propeller lifts, on twice
	// the poles and at half of its diameter's fourth power besides: speeds are over
	// three times too slow. The shaft's own, with seven pole pairs, make it 49.
	doubtMuch = 10
	// doubtFresh: speeds not heard for so long leave it to the outputs.
	doubtFresh = 1 * Second
)

// liftFalls is why lift is not to be believed. It asks which it is, for all of
// these look alike from here, and near-lift is blind with any of them.
const liftFalls = "lift falls as the rotors turn faster: are the load cells' wires swapped, or craft or propellers upside down?"

// liftLittle too.
const liftLittle = "lift is under a sixth of what the rotors make at their speed: is load in newtons, do the cells bear all of the craft, are poles and propeller right?"

// speedLittle is why speeds are not to be believed: then lift is.
const speedLittle = "lift is over ten times what the rotors make at their speed: is erpm in electrical turns a minute, are load in newtons, poles and propeller right?"

// doubtActs are the first actions on what is in doubt. The order is that of hands:
// thrust away first, for whoever is blind to lift must not lift.
var doubtActs = map[string]string{
	liftFalls:   "ease off, disarm; check load's sign, cell wires, propellers",
	liftLittle:  "ease off, disarm; check load's unit, cells, poles, propellers",
	offLight:    "ease off, disarm; check mass_g, load's unit, tare, ground flag",
	gyroStill:   "ease off, disarm; check the gyro, and how the bridge reads it",
	offOpen:     "ease off, disarm; check the hold, mass_g, load's unit, poles, propellers",
	speedLittle: "ease off, disarm; check erpm's unit, load's unit, poles, propellers",
}

// OtherFile, OtherCraft and WrongLine end why a craft is in doubt.
const (
	OtherFile  = ": is the craft file this craft's?"
	OtherCraft = ": is this the craft that you mean?"
	WrongLine  = ": is the line right?"
)

// ActOn is the first action where a detector is Missing something because values
// contradict physics, or each other; "" for any other reason.
func ActOn(why string) string {
	switch {
	case strings.HasSuffix(why, OtherFile):
		return "ease off, disarm; name this craft's file, or correct it"
	case strings.HasSuffix(why, WrongLine): // a watch that starts anew would hear the same
		return "ease off, disarm; set the number of motors in the craft or its bridge"
	case strings.HasSuffix(why, OtherCraft):
		return "ease off, disarm; start the watch anew for it"
	case ofRest(why):
		return tareAct
	case ofHold(why):
		return holdAct
	}
	return doubtActs[why]
}

// Doubts hold what the streams tell against what must be so on any bench, and
// keep Bench.Doubt. The owner of the bench feeds them.
type Doubts struct {
	lift  liftSense
	force forceSense
	rest  restSense
	off   offSense
	gyro  gyroSense
}

// See takes a line of a tag; the bench already reflects it.
func (d *Doubts) See(b *Bench, tag decode.Tag, at int64) {
	d.lift.see(b, tag, at)
	d.force.see(b, tag, at)
	d.rest.see(b, tag, at)
	d.off.see(b, tag, at)
	d.gyro.see(b, tag, at)
	if tag == decode.Load || tag == decode.Out || tag == decode.ERPM { // that is when they say something
		// What the cells show at rest is measured, and may be why it seems off the ground.
		b.Doubt[decode.Load] = cmp.Or(d.lift.why, d.rest.why, d.off.why)
	}
}

// Restart drops what must not be joined over a restart of a bridge that sends
// lines of these tags, a bit each. What was found stands until the lines show
// otherwise: a restart in mid-run is no reason to say that lift is watched again.
func (d *Doubts) Restart(tags uint32) {
	if tags&(ofAxes|ofLoad|ofOut|ofERPM|1<<decode.State) != 0 {
		d.lift.end()
		d.lift.bySpeed = false
		d.rest.off, d.rest.well, d.rest.spoilt = 0, 0, true
		d.off.disarm()
	}
	if tags&(ofAccel|ofOut|ofAxes|1<<decode.State) != 0 {
		d.force = forceSense{level: d.force.level}
	}
	if tags&ofAxes != 0 {
		d.gyro.restart()
	}
}

// A thrustLift is a bin of thrust, by speeds or outputs squared, and of lift.
type thrustLift struct {
	slot         int64
	thrust, lift float64 // sums, means in a bin that has ended
	of, lines    int
	moved        float64 // how far thrust went in it and doubtSettle before
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
	n       int     // bins taken in this run
	says    liftWay // the newest look
	looks   int     // looks running that say so
	told    bool
	why     string // of Bench.Doubt
}

// liftWay is how lift goes as thrust rises.
type liftWay uint8

const (
	unclear liftWay = iota
	rises
	falls
	little // it hardly does
	much   // as it can not at these speeds
)

// doubtOf is what is wrong with lift then.
var doubtOf = [...]string{falls: liftFalls, little: liftLittle, much: ""}

// end closes a run.
func (s *liftSense) end() { s.forget(); s.told = false }

// forget drops what is not to be joined.
func (s *liftSense) forget() { s.begun, s.n, s.says, s.looks = false, 0, unclear, 0 }

func (s *liftSense) see(b *Bench, tag decode.Tag, at int64) {
	switch tag {
	case decode.State:
		if b.Armed == No {
			s.end() // hands may be at the craft
		}
	case decode.Axes:
		for _, r := range b.Rate[:2] {
			if r.OK && math.Abs(r.V) > b.Limits.TipRate && b.Armed != No {
				s.told = true // it may lie on its back from now on: this run tells nothing
			}
		}
	case decode.ERPM:
		sum, n := sumSquares(&b.ERPM, b.Motors)
		if n == 0 || n < b.Motors || !s.bySpeed && sum <= 0 {
			return
		}
		s.speedAt = at
		if !s.bySpeed {
			s.forget()
			s.bySpeed = true
		}
		s.drive(b, sum*1e-8, at)
	case decode.Out:
		if s.bySpeed && at-s.speedAt > doubtFresh {
			s.forget()
			s.bySpeed = false
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
	if c := &s.cur; s.begun && c.of > 0 && c.lines > 0 {
		c.thrust /= float64(c.of)
		c.lift /= float64(c.lines)
		c.moved = s.moved(c)
		s.bins[s.n%doubtBins] = *c
		s.n++
		s.look(b)
	}
	s.cur, s.begun = thrustLift{slot: slot}, true
	return !s.told
}

// moved is how far thrust went in a bin that ends and those before it.
func (s *liftSense) moved(c *thrustLift) float64 {
	low, high := c.thrust, c.thrust
	for back := 1; back <= doubtSettle; back++ {
		if s.n < back {
			return math.Inf(1)
		}
		was := &s.bins[(s.n-back)%doubtBins]
		if c.slot-was.slot != int64(back) {
			return math.Inf(1) // nobody knows what was between
		}
		low, high = min(low, was.thrust), max(high, was.thrust)
	}
	return high - low
}

// look asks which way lift goes, and believes what it hears again and again.
func (s *liftSense) look(b *Bench) {
	way := s.way(b)
	if way != s.says {
		s.says, s.looks = way, 0
	}
	if s.looks++; way == unclear || s.looks < doubtLooks {
		return
	}
	s.told, s.why = true, doubtOf[way]
	if b.Doubt[decode.ERPM] = ""; way == much {
		b.Doubt[decode.ERPM] = speedLittle
	}
}

// way lays a line through the bins.
func (s *liftSense) way(b *Bench) liftWay {
	kept := s.bins[:min(s.n, doubtBins)]
	now := s.cur.slot
	low, high := math.Inf(1), 0.0
	for i := range kept {
		if c := &kept[i]; now-c.slot < doubtBins {
			low, high = min(low, c.thrust), max(high, c.thrust)
		}
	}
	still := doubtMoved * (high - low)
	counts := func(c *thrustLift) bool { return now-c.slot < doubtBins && c.moved <= still }
	if high <= doubtRise*low || s.cur.idle || !counts(&s.cur) {
		return unclear
	}
	n, x, y, all := 0.0, 0.0, 0.0, high-low
	low, high = math.Inf(1), 0
	for i := range kept {
		if c := &kept[i]; counts(c) {
			n, x, y = n+1, x+c.thrust, y+c.lift
			low, high = min(low, c.thrust), max(high, c.thrust)
		}
	}
	if n < doubtFew || high-low < doubtReach*all || high <= doubtRise*low {
		return unclear
	}
	x, y = x/n, y/n
	xx, xy, yy := 0.0, 0.0, 0.0
	for i := range kept {
		if c := &kept[i]; counts(c) {
			u, v := c.thrust-x, c.lift-y
			xx, xy, yy = xx+u*u, xy+u*v, yy+v*v
		}
	}
	least := doubtLiftN
	if w := b.WeightN(); w > 0 {
		least = doubtShare * w
	}
	slope := xy / xx
	sure := doubtSure * math.Sqrt(max((yy-slope*xy)/(n-2), 0)/xx)
	owed := s.owed(b)
	switch change := high - low; {
	case -slope >= sure && -slope*change >= least:
		return falls
	case owed*change >= doubtOwed*least && slope+sure < doubtLittle*owed:
		return little
	case slope < sure || slope*change < least:
		return unclear
	case owed > 0 && slope-sure > doubtMuch*owed:
		return much
	}
	return rises
}

// owed is the lift for a unit of thrust that the speeds mean by the published
// law, 0 where it does not apply.
func (s *liftSense) owed(b *Bench) float64 {
	if !s.bySpeed || b.Craft.Poles < 2 {
		return 0
	}
	var law thrustLaw
	turn := 60 * polePairs(b) // of the thrust's 10^4 electrical turns a minute
	return law.published(b) * 1e8 / (turn * turn)
}

// liftLacks returns why there is no lift to go by, "" where there is.
func liftLacks(b *Bench) string {
	if !b.Load.OK {
		return noLift(b)
	}
	return b.Doubt[decode.Load]
}

// OffLight reports whether lift is in doubt by the craft's own word of the ground.
func OffLight(why string) bool { return why == offLight }
