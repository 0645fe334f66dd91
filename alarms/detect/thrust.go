package detect

import "math"

const (
	// staticCT is the thrust coefficient of a standing two-blade propeller, C_T
	// = T/(rho n^2 D^4), n in rev/s: the middle of the medians of 13 propellers
	// of 4 to 10 inch (0.08 to 0.15) in Brandt, Deters, Ananda, Dantsker and
	// Selig, UIUC Propeller Database, volumes 1 to 3, static tests. Confidence:
	// page seen, as a compiled copy. One propeller may be 30 % off either way.
	staticCT = 0.115
	// bladeGain: each blade over two adds this share of thrust at the same speed
	// (common practice, no source; the one three-blade propeller of those tests
	// gives 1.2 times its two-blade sister: 0.149 against 0.125).
	bladeGain = 0.20

	// A thrust law is learned from lift and speeds that belong together.
	lawLeast = 40     // samples of lift before it is believed: a second or two
	lawLift  = 0.10   // of weight: less lift than that is lost in the cells' noise
	lawFresh = 50_000 // microseconds between the lift and the speeds it is held against
	// lawRange: a learned law further off the published one than this factor is
	// not believed: a wrong pole count or a cell that is not tared.
	lawRange = 4
	lawKeep  = 0.999 // weight left to older samples at each new one
)

// thrustLaw gives thrust by speed squared: from published tests, or learned
// on this bench from the load cells against the rotor speeds.
type thrustLaw struct {
	liftSquare, squareSquare float64 // running sums of lift*q and q*q, q the sum of n^2
	count                    int
}

// published returns newtons for one (rev/s)^2 of one rotor, 0 when the
// propeller is not known.
func (l *thrustLaw) published(b *Bench) float64 {
	d := b.Craft.DiameterMM / 1000
	extra := float64(max(b.Craft.Blades-2, 0))
	return airDensity * staticCT * (1 + bladeGain*extra) * math.Pow(d, 4)
}

// factor returns newtons for one (rev/s)^2 of one rotor, and whether it was
// learned here.
func (l *thrustLaw) factor(b *Bench) (k float64, learned bool) {
	k = l.published(b)
	if l.count < lawLeast || l.squareSquare <= 0 {
		return k, false
	}
	own := l.liftSquare / l.squareSquare
	if k > 0 && (own > k*lawRange || own < k/lawRange) {
		return k, false
	}
	return own, true
}

// learn takes the lift of this moment with the speeds that belong to it.
func (l *thrustLaw) learn(b *Bench, at int64) {
	if !b.Load.OK || b.Load.V < max(lawLift*b.WeightN(), 1) || b.Armed == No {
		return
	}
	q, measured := squares(b)
	if measured == 0 || measured < b.Motors || abs64(at-b.RPM[0].At) > lawFresh {
		return
	}
	l.liftSquare = l.liftSquare*lawKeep + b.Load.V*q
	l.squareSquare = l.squareSquare*lawKeep + q*q
	l.count++
}

// lift returns the thrust that the rotor speeds mean, in newtons.
func (l *thrustLaw) lift(b *Bench) (float64, bool) {
	k, _ := l.factor(b)
	q, measured := squares(b)
	// Half of the rotors must be measured: the others are taken as alike.
	if k <= 0 || measured == 0 || 2*measured < b.Motors {
		return 0, false
	}
	return k * q * float64(b.Motors) / float64(measured), true
}

// squares sums the measured rotor speeds squared, in (rev/s)^2.
func squares(b *Bench) (sum float64, measured int) {
	for i := range b.Motors {
		if b.RPM[i].OK {
			n := b.RPM[i].V / 60
			sum += n * n
			measured++
		}
	}
	return sum, measured
}

func abs64(v int64) int64 { return max(v, -v) }
