package detect

import (
	"fmt"
	"math"
	"strings"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

const (
	// What the cells show with all rotors standing is no lift. It counts from
	// doubtShare of the weight on: near-lift, high at 0.90, would come when the craft
	// has gone, or ground-thrust rings as the craft is armed. A mean over restBin of
	// restFew lines or more, restLooks running that lie within half of that: a craft
	// that is carried, set down or leant on does not show the same for so long
	// (common practice, no source).
	restBin   = Second / 2
	restFew   = 4
	restLooks = 3
	// A craft that is off the ground may be in somebody's hands, and set down on a
	// bench beside: more than its share counts only after restAway of them, five
	// seconds, in which it does not turn. One that has been off the ground, its cells
	// showing a lift, since it was disarmed has not been in hands: restLooks will do,
	// and it may turn.
	restAway = 10
	// restWell running within restBack of it, and the cells are believed again.
	restWell = 2
	restBack = 0.8
)

// notTared begins why cells that show too little are not to be believed; notAlone
// ends it where they show too much: who has the craft in hand, or its tether drawn
// tight, has tared the stand well.
const (
	notTared = "load is not tared: "
	notAlone = " N with all rotors standing: is it tared, craft on it, tether slack?"
	tareAct  = "ease off, disarm; once rotors stand, tare the stand with the craft on it"
	// notHeld ends it where the craft is off the ground: it may have come off its hold.
	notHeld = " N with all rotors standing: off the ground or cells not tared"
	holdAct = "ease off, disarm; once rotors stand, look at the hold, tare anew"
)

func ofRest(why string) bool {
	return strings.HasPrefix(why, notTared) || strings.HasSuffix(why, notAlone)
}

// ofHold is a question about the hold before it is one about the cells.
func ofHold(why string) bool { return strings.HasSuffix(why, notHeld) }

// restSense finds cells that show a lift while nothing turns.
type restSense struct {
	why    string
	slot   int64
	sum    float64
	sumSq  float64
	lines  int
	spoilt bool    // something turned, or nobody knows
	first  float64 // mean of the first bin of those running
	off    int     // bins running that show it
	well   int     // bins running that show nought
	gone   bool    // armed, or off the ground and lifting ever since
}

func (s *restSense) see(b *Bench, tag decode.Tag, at int64) {
	if tag != decode.Load {
		return
	}
	if slot := at / restBin; slot > s.slot {
		s.look(b)
		s.slot, s.sum, s.sumSq, s.lines, s.spoilt = slot, 0, 0, 0, false
	}
	switch {
	case b.Armed == Yes:
		s.gone = true
	case b.Armed == Unknown || b.Ground != No || b.Load.OK && b.Load.V <= s.least(b):
		s.gone = false
	}
	s.spoilt = s.spoilt || !b.Load.OK || !allStand(b, at) || !s.gone && handled(b)
	s.sum += b.Load.V
	s.sumSq += b.Load.V * b.Load.V
	s.lines++
}

// handled reports whether somebody moves the craft.
func handled(b *Bench) bool {
	for _, r := range b.Rate {
		if r.OK && math.Abs(r.V) > windTurn {
			return true
		}
	}
	return false
}

// allStand reports whether all rotors stand.
func allStand(b *Bench, at int64) bool {
	if b.Armed != No || anyOutput(b) || b.Craft.Hold == craft.Free {
		return false
	}
	outs, speeds := 0, 0
	for i := range b.Out {
		if b.Out[i].OK && at-b.OutAt <= doubtFresh {
			outs++
		}
		if b.ERPM[i].OK && at-b.RPMAt <= doubtFresh {
			if over(b.ERPM[i].V, spinLeast*polePairs(b)) {
				return false
			}
			speeds++
		}
	}
	return b.Motors > 0 && (speeds >= b.Motors || outs >= b.Motors && at-b.DisarmedAt >= b.Coast())
}

// least is what counts.
func (s *restSense) least(b *Bench) float64 {
	w := b.WeightN()
	if w <= 0 {
		w = bears(b)
	}
	if w <= 0 {
		return doubtLiftN
	}
	return doubtShare * w
}

// unsure is the standard error of the mean of the bin that has ended: cells that
// tremble by a good part of a small craft's weight are not off for that.
func (s *restSense) unsure() float64 {
	n := float64(s.lines)
	return math.Sqrt(max(0, s.sumSq-s.sum*s.sum/n) / (n * (n - 1)))
}

// look weighs the bin that has ended.
func (s *restSense) look(b *Bench) {
	if s.spoilt || s.lines < restFew {
		s.off, s.well = 0, 0
		return
	}
	mean, least := s.sum/float64(s.lines), s.least(b)
	if math.Abs(mean-b.Rest) > least/2 {
		b.Rest = 0 // something was put on the stand, or taken off it
	}
	if math.Abs(mean) <= restBack*least {
		s.off = 0
		if s.well++; s.well >= restWell {
			s.why, b.Rest = "", 0
		}
		return
	}
	s.well = 0
	looks, ends := restLooks, notAlone
	if b.Ground == No && mean > 0 { // it is not on the stand
		if ends = notHeld; !s.gone {
			looks = restAway
		}
	}
	switch {
	case math.Abs(mean)-s.unsure() <= least:
		s.off = 0
		return
	case s.off == 0 || math.Abs(mean-s.first) > least/2:
		s.first, s.off = mean, 0
	}
	if s.off++; s.off < looks {
		return
	}
	b.Rest = mean
	switch {
	case mean < 0 && !strings.HasPrefix(s.why, notTared):
		s.why = fmt.Sprintf("%s%.1f N with all rotors standing", notTared, mean)
	case mean > 0 && !strings.HasSuffix(s.why, ends):
		s.why = fmt.Sprintf("load is +%.1f", mean) + ends
	}
}

// Lift is what the load cells show, and what they are known to show too little:
// never less than they do.
func (b *Bench) Lift() float64 { return b.Load.V - min(b.Rest, 0) }

const (
	// A craft that has left the ground lifts all of its weight: where near-lift has
	// not rung by far, doubtShare under its first limit for offFor, weight or lift is
	// not what it is taken for (common practice, no source).
	offFor = 3 * Second / 10
	// offSure lines running of more lift, and the two agree.
	offSure = 3
)

// offLight is why lift is not to be believed. The field is the craft's own opinion,
// and one that goes by throttle alone is wrong: it is named with the others.
const offLight = "OFF GROUND, far from lifting its weight: are mass, load, tare or ground right?"

// offOpen is the same on a stand whose cells show just the weight: hold-lost tells of
// it by the lift that it has learned from. Where that came too fast to learn, the
// published law must mean openOwed times the weight: blades of little pitch make half.
const (
	offOpen  = "OFF GROUND, and lift is just the weight though rotors at their speed make twice that: has the stand let go?"
	openOwed = 2
)

// offSense holds the craft's own word of the ground against its lift.
type offSense struct {
	why    string
	stood  bool    // in this arming, on the ground with the motors over idle
	lifted int     // lines running of lift enough
	done   bool    // in this arming it has lifted enough: what falls then falls
	found  bool    // in this arming the two contradicted each other
	weight float64 // that why was held against
	away   bool    // it is off the ground, lifting little
	since  int64   // since when
	lines  int
	learnt int // lines from which hold-lost learns, of all armings
}

// disarm ends an arming: what was found stands, and what the cells have shown.
func (s *offSense) disarm() { *s = offSense{why: s.why, weight: s.weight, learnt: s.learnt} }

func (s *offSense) see(b *Bench, tag decode.Tag, at int64) {
	if s.why != "" && (s.weight < b.WeightN() || s.weight > b.WeightN()) { // another mass is said: mended, or to be found again
		*s = offSense{stood: s.stood}
	}
	switch tag {
	case decode.State:
		driven := thrustOver(b, flyOverIdle, flyBare)
		if v, ok := b.mostOut(); ok && over(v, dangerousIdle) {
			driven = true // an idle set far too high is no measure
		}
		switch {
		case b.Armed != Yes:
			s.disarm()
		case b.Ground == Yes && driven:
			s.stood = true
		}
		// Where it fell at armed idle or before, it says nothing: it goes by the arming,
		// or the craft hangs on its tether. On a stand weight is no limit: see offOpen.
		if !s.stood || s.done || !driven || b.Ground != No || b.Craft.Hold == craft.Free {
			s.away, s.lines = false, 0
		} else if !s.away {
			s.away, s.since = true, at
		}
	case decode.Load:
		w := b.WeightN()
		if !b.Load.OK || w <= 0 {
			s.away, s.lines = false, 0
			return
		}
		if b.Craft.Hold == craft.Stand {
			s.open(b, b.Lift(), at)
			return
		}
		if over(b.Lift()/w, b.Limits.NearLiftMedium-doubtShare) {
			s.away, s.lines = false, 0
			if s.lifted++; s.lifted >= offSure && b.Armed == Yes {
				if s.done = true; !s.found {
					s.why = ""
				}
			}
			return
		}
		s.lifted = 0
		if !s.away {
			return
		}
		if s.lines++; s.lines >= restFew && at-s.since >= offFor {
			s.why, s.found, s.weight = offLight, true, w
		}
	}
}

// open judges a line of a stand's lift.
func (s *offSense) open(b *Bench, lift float64, at int64) {
	w := b.WeightN()
	if b.Armed == Yes && !atWeight(b, lift) {
		if lift >= max(holdLearn*w, holdLearnN) {
			s.learnt++
		}
		if s.lifted++; lift < w {
			s.lifted = 0
		}
		if s.lifted >= offSure && !s.found {
			s.why = "" // it bears more than the weight
		}
	}
	sum, n := sumSquares(&b.ERPM, b.Motors)
	turn, law := 60*polePairs(b), thrustLaw{}
	owed := law.published(b) * sum / (turn * turn)
	known := b.Craft.Poles >= 2 && n > 0 && n == b.Motors && at-b.RPMAt <= holdFresh
	switch {
	case !s.away || s.learnt >= holdLines || !known || !atWeight(b, lift) || owed < openOwed*w:
		s.since, s.lines = at, 0
	default:
		if s.lines++; s.lines >= restFew && at-s.since >= offFor {
			s.why, s.found, s.weight = offOpen, true, w
		}
	}
}
