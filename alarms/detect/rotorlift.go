package detect

import (
	"math"

	"tetherbell/decode"
)

const (
	// A propeller that is gone leaves its motor's speed over output nearly as it
	// was where windings are strong (2 to 5 % more), but its lift is missing:
	// lift over the sum of speeds squared falls, at steady speeds.
	goneBin    = Second / 20
	goneBins   = 32
	goneNow    = 3  // newest bins, 0.15 s
	goneSkip   = 5  // before them not looked at: the fall itself
	goneBefore = 12 // and before these so many, 0.6 s
	// goneShare of the rotor's lift must be missing: by speed squared its speed
	// is then 1.6 times what its lift explains. goneMost: more than that is not
	// one rotor's, but the cells' or the hold's.
	goneShare = 0.6
	goneMost  = 1.6
	// goneSteady: speeds squared as a whole may change by this share over the
	// step, lift over them by goneCalm before it (common practice, no source).
	goneSteady = 0.15
	goneCalm   = 0.04
	// goneNamed: the loop drives the corner that sinks: the rotor's share of
	// speeds squared rises by this and more than any other's.
	goneNamed = 0.05
	goneTold  = 3 // looks, one a bin, that must say so
	// goneLift of the weight, or goneLiftN, is the least lift at which one rotor's
	// part stands out of gusts and of the cells' noise (common practice, no source).
	goneLift  = 0.20
	goneLiftN = 1.0
	// goneBack: the alarm ends when less of the lift is missing.
	goneBack = 0.4
	// goneWorth is the most that the value says: a rotor without any lift has no
	// finite speed that explains it.
	goneWorth = 10
)

// goneBinOf is a bin of lift and speeds.
type goneBinOf struct {
	slot       int64
	lift       float64
	n          int
	square     [decode.MaxMotors]float64
	squares    int
	liftMean   float64
	squareMean [decode.MaxMotors]float64
	sum        float64
	whole      bool
}

// rotorLift finds the rotor whose lift is gone.
type rotorLift struct {
	bins  [goneBins]goneBinOf
	cur   goneBinOf
	fresh bool
	up    int // motor found, -1 none
	law   float64
	sum   float64 // of speeds squared, before
	told  int
	cand  int
	lost  float64 // N
	share float64 // of the rotor's lift
}

func newRotorLift() rotorLift { r := rotorLift{}; r.clear(); return r }

func (r *rotorLift) clear() {
	*r = rotorLift{up: -1, cand: -1}
	r.cur.slot = -1
	for i := range r.bins {
		r.bins[i].slot = -1
	}
}

// end lets go of what was found, when motors stop.
func (r *rotorLift) end() { r.up, r.told, r.cand = -1, 0, -1 }

func (r *rotorLift) observe(b *Bench, in *Input) {
	if in.S.Tag != decode.Load && in.S.Tag != decode.ERPM {
		return
	}
	slot := in.At / goneBin
	if slot > r.cur.slot {
		r.close(b)
		r.cur = goneBinOf{slot: slot}
	}
	if in.S.Tag == decode.Load {
		if b.Load.OK {
			r.cur.lift += b.Load.V
			r.cur.n++
		}
		return
	}
	for i := range b.Motors {
		if !b.ERPM[i].OK {
			return
		}
	}
	for i := range b.Motors {
		n := b.ERPM[i].V / 1000
		r.cur.square[i] += n * n
	}
	r.cur.squares++
}

// close ends the bin that is being filled.
func (r *rotorLift) close(b *Bench) {
	c := &r.cur
	if c.slot < 0 {
		return
	}
	if c.n > 0 && c.squares > 0 {
		c.liftMean = c.lift / float64(c.n)
		for i := range b.Motors {
			c.squareMean[i] = c.square[i] / float64(c.squares)
			c.sum += c.squareMean[i]
		}
		c.whole = true
	}
	r.bins[c.slot%goneBins] = *c
	r.fresh = true
}

// stretch averages the bins from one slot up to another.
func (r *rotorLift) stretch(from, to int64, motors int) (lift float64, square [decode.MaxMotors]float64, sum, spread float64, n int) {
	low, high := math.Inf(1), math.Inf(-1)
	for s := from; s < to; s++ {
		if s < 0 {
			continue
		}
		b := &r.bins[s%goneBins]
		if b.slot != s || !b.whole || b.sum <= 0 {
			continue
		}
		lift += b.liftMean
		sum += b.sum
		for i := range motors {
			square[i] += b.squareMean[i]
		}
		q := b.liftMean / b.sum
		low, high = min(low, q), max(high, q)
		n++
	}
	if n == 0 {
		return
	}
	k := float64(n)
	for i := range motors {
		square[i] /= k
	}
	return lift / k, square, sum / k, (high - low) / (lift / sum), n
}

// judge returns the motor whose lift is gone, and its speed over what its
// lift explains.
func (r *rotorLift) judge(b *Bench) (motor int, value float64, ok bool) {
	if r.fresh {
		r.fresh = false
		r.look(b)
	}
	if r.up < 0 || r.told < goneTold {
		return 0, 0, false
	}
	left := 1 - min(r.share, 1)
	return r.up, min(goneWorth, 1/math.Sqrt(max(left, 1e-6))), true
}

// look weighs the newest bins against those before.
func (r *rotorLift) look(b *Bench) {
	end := r.cur.slot
	lift, square, sum, _, n := r.stretch(end-goneNow, end, b.Motors)
	if n < 2 || sum <= 0 || b.Motors < 3 {
		return
	}
	if r.up >= 0 {
		r.lost = r.law*sum - lift
		r.share = r.lost / max(r.law*square[r.up], hair)
		odd := r.share < goneShare || r.share > goneMost || math.Abs(sum/r.sum-1) > goneSteady
		if r.told < goneTold && odd || r.share < goneBack {
			r.end()
		} else {
			r.told++
		}
		return
	}
	oldEnd := end - goneNow - goneSkip
	was, wasSquare, wasSum, spread, m := r.stretch(oldEnd-goneBefore, oldEnd, b.Motors)
	if m < goneBefore/2 || was < max(goneLift*b.WeightN(), goneLiftN) || spread > 2*goneCalm || math.Abs(sum/wasSum-1) > goneSteady {
		return
	}
	law := was / wasSum
	best, most, next := -1, 0.0, 0.0
	for i := range b.Motors {
		rise := square[i]/sum - wasSquare[i]/wasSum
		rise /= max(wasSquare[i]/wasSum, hair)
		if rise > most {
			best, most, next = i, rise, most
		} else {
			next = max(next, rise)
		}
	}
	if best < 0 || most < goneNamed || most < 1.5*next {
		return
	}
	lost := law*sum - lift
	share := lost / (law * square[best])
	if share < goneShare || share > goneMost {
		return
	}
	r.up, r.law, r.sum, r.lost, r.share, r.told = best, law, wasSum, lost, share, 1
}
