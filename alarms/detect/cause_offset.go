package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// Where the centre of gravity lies follows from a balance of moments. About
// the motors' middle, x forward: the rotors lift sum(T_i x_i), the weight pulls
// m g X down at X, and the feet carry the rest.
//
//   - Free in the air nothing else holds it, and sum(T_i) = m g:
//     X = sum(T_i x_i) / sum(T_i). It need not be level, for thrust turns with
//     the craft; nor must its lift be measured.
//   - On its feet under a slack tether the feet carry m g - sum(T_i). Where the
//     craft is level, and its feet stand on alike ground in the middle under the
//     motors, that force has no moment, and X = sum(T_i x_i) / (m g): by weight,
//     not by lift. A lean of t degrees adds the feet's stiffness times t. That
//     stiffness is known from the craft's own lean before it was armed, when the
//     feet carried all: sum(T_i x_i) is what brought it from there to here.
//   - On hard ground a weight off centre leans nothing; a controller that
//     holds an attitude has nothing to do, and the motors say nothing of it. A
//     craft that did not lean before and is pulled apart all the same has another
//     fault, most likely a motor that pulls less.
//   - A controller that asks for a rate alone lets the craft lean until the
//     feet carry the moment. So do a stand, and a taut tether at any lean.
const (
	// levelWithin, degrees: beyond that lean the feet carry too much (common
	// practice, no source).
	levelWithin = 2.0
	// levelWrong, degrees: bench and accelerometer are level within this, all
	// values being alike likely (common practice, no source).
	levelWrong = 0.3
	// leanLeast, degrees, is a lean before arming that tells something: three
	// times what levelWrong makes of a difference of two.
	leanLeast = 0.7
	// stiffest, mm/deg: feet on which a degree carries so much of the offset do
	// not let it be seen. Soft pads have 2 to 6 (simulated bench).
	stiffest = 25.0
	// nearMiddle, mm: motors that pull no more than this say nothing (common
	// practice, no source: what 2 % of thrust makes on arms of 160 mm).
	nearMiddle = 3.0
	// taut: with lift over this share of the weight lines may carry a part.
	taut = 0.97
	// settledBy: the controller's output moved by less than this in half a second
	// (common practice, no source: half of what windup's deadband is).
	settledBy = 0.01

	// How well thrusts are known, standard deviations as shares. Motors of one
	// make differ by 0.8 % in speed, propellers by 2 % in thrust; load cells and
	// scales are good for 1 % each; an arm that is guessed from the propeller, and
	// a thrust that is worked out from a published propeller, for 15 %; thrust by
	// outputs for 10 %, which goes by differences alone. A single second wanders
	// by 3 %. (All common practice, no source.)
	speedSpread  = 0.008
	propSpread   = 0.02
	scaleSpread  = 0.014
	guessSpread  = 0.15
	outputSpread = 0.10
	wander       = 0.03
	// rowsForScatter: fewer seconds have no scatter to speak of.
	rowsForScatter = 3
	normal95       = 1.96 // two-sided 95 % of a normal distribution
)

// student95 is Student's t, two-sided 95 %, by degrees of freedom less 1.
var student95 = [...]float64{12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228,
	2.201, 2.179, 2.160, 2.145, 2.131}

// leaning is which way is up, by the accelerometer of a craft that does not
// travel: now, and how it stood before it was armed.
type leaning struct {
	now, rest [3]trace
}

func newLeaning() (l leaning) {
	for i := range l.now {
		l.now[i], l.rest[i] = newTrace(), newTrace()
	}
	return l
}

func (l *leaning) clear() {
	for i := range l.now {
		l.now[i].clear()
		l.rest[i].clear()
	}
}

func (l *leaning) take(b *Bench, at int64) {
	to := &l.now
	if b.Armed == No {
		if anyOutput(b) {
			return
		}
		for _, r := range b.Rate {
			if r.OK && math.Abs(r.V) > windTurn {
				return // it is carried about
			}
		}
		to = &l.rest
	}
	for i := range to {
		to[i].take(b.Force[i], at)
	}
}

// leanLeastBins: so many bins of a second make a mean of the lean.
const leanLeastBins = 8

// lean works out degrees nose up and right side down from specific force,
// whose z is about -9.81 when level.
func lean(x, y, z float64) (pitch, roll float64) {
	return math.Atan2(x, -z) * 180 / math.Pi, math.Atan2(-y, -z) * 180 / math.Pi
}

// stood is the lean before arming.
func (l *leaning) stood() (pitch, roll float64, ok bool) {
	for i := range l.rest {
		if l.rest[i].ring.Count() < leanLeastBins {
			return 0, 0, false
		}
	}
	pitch, roll = lean(l.rest[0].ring.Mean(), l.rest[1].ring.Mean(), l.rest[2].ring.Mean())
	return pitch, roll, true
}

// leans is the lean of the last second.
func (l *leaning) leans(now int64) (pitch, roll float64, ok bool) {
	var f [3]float64
	for i := range l.now {
		v, there := l.now[i].mean(now, leanLeastBins)
		if !there {
			return 0, 0, false
		}
		f[i] = v
	}
	pitch, roll = lean(f[0], f[1], f[2])
	return pitch, roll, true
}

// place notes in a steady second where the centre of thrust lay, how much lift
// there was, and how the craft leant.
func (d *outputImbalance) place(b *Bench, row *second) {
	if v, ok := d.lift.mean(b.Now, leanLeastBins/2); ok {
		row.lift = Reading{V: v, OK: true}
	}
	if p, r, ok := d.lean.leans(b.Now); ok {
		row.pitch, row.roll = Reading{V: p, OK: true}, Reading{V: r, OK: true}
	}
	row.settled = d.settled()
	fr, ok := airframeOf(&b.Craft)
	if !ok || fr.count != b.Motors {
		return
	}
	speed, told := d.turns(b)
	row.bySpeed = told == allSpeeds
	sum := 0.0
	for i := range b.Motors {
		t := thrustOf(d.share[i])
		if row.bySpeed {
			t = speed[i] * speed[i]
		}
		sum += t
		row.forward += t * fr.arms[i].x
		row.right += t * fr.arms[i].y
	}
	if row.placed = sum > 0; row.placed {
		row.forward /= sum
		row.right /= sum
	}
}

// settled reports whether the controller's outputs in roll and pitch stand
// still, as far as they are measured.
func (d *outputImbalance) settled() bool {
	for i := range 2 {
		c := d.wind.ctrl[i]
		if n := c.Count(); n >= windSecond && math.Abs(meanOf(c, n-5, 5)-meanOf(c, n-10, 5)) > settledBy {
			return false
		}
	}
	return true
}

// An offset is where the centre of gravity lies from the motors' middle, in
// millimetres, with 95 % intervals; or why that cannot be told.
type offset struct {
	forward, right             float64
	forwardWithin, rightWithin float64
	guessed                    bool // the arms' length is
	hard                       bool // it did not lean on its feet before: no weight does this
	why                        string
	leans                      float64 // degrees, where that is why; it is put into words when they are asked for
}

// Reasons why an offset cannot be told.
const (
	whyLayout = "where the motors sit is not known (layout)"
	whySteady = "there was no steady throttle"
	whyLeans  = "it leans"
	whyMiddle = "neither did it lean on its feet, nor do the motors pull it: it lies near the middle, or the feet are hard"
)

// reason is why the offset cannot be told, in words, "" where it can.
func (o *offset) reason() string {
	if o.why == whyLeans {
		return fmt.Sprintf("it leans by %.0f degrees, so that its feet carry a part; a mode that holds it level would show it", o.leans)
	}
	return o.why
}

// size is the distance and half of its 95 % interval.
func (o *offset) size() (mm, within float64) {
	mm = math.Hypot(o.forward, o.right)
	if mm == 0 {
		return 0, max(o.forwardWithin, o.rightWithin)
	}
	return mm, math.Hypot(o.forward*o.forwardWithin, o.right*o.rightWithin) / mm
}

// centre works out the offset from the steady seconds of this run.
func (d *outputImbalance) centre(b *Bench, fr *airframe) offset {
	o := offset{}
	arm := fr.mm
	if arm == 0 {
		if arm, o.guessed = armMM(b); !o.guessed {
			o.why = "neither arms nor propeller size are known (arm_mm)"
			return o
		}
	}
	flies := b.Craft.Hold == craft.Free && b.Ground == No
	switch {
	case b.Craft.Hold == craft.Stand:
		o.why = "the stand carries a part"
	case !flies && b.WeightN() <= 0:
		o.why = "the mass is not known (mass_g)"
	}
	if o.why != "" {
		return o
	}
	var fit [2]fit
	scale := 0.0
	leanP, leanR, leant := 0.0, 0.0, 0
	for k := range d.past.rows() {
		row := d.past.row(k)
		if !row.placed || !row.settled {
			continue
		}
		part, spread, why := d.lifts(b, row, flies)
		if why != "" {
			o.why = why
			continue
		}
		scale = max(scale, spread)
		if !row.bySpeed {
			scale = max(scale, math.Hypot(spread, outputSpread))
		}
		fit[0].add(arm * row.forward * part)
		fit[1].add(arm * row.right * part)
		if row.pitch.OK && row.roll.OK {
			leanP, leanR, leant = leanP+row.pitch.V, leanR+row.roll.V, leant+1
		}
	}
	n := fit[0].n
	if n == 0 {
		if o.why == "" {
			o.why = "the controller has not settled yet"
		}
		return o
	}
	o.why = ""
	o.forward, o.right = fit[0].mean, fit[1].mean
	if o.guessed {
		scale = math.Hypot(scale, guessSpread)
	}
	stiff := [2]float64{}
	if !flies {
		if leant < n {
			o.why = "whether it stands level is not measured (accel)"
			return o
		}
		pitch, roll := leanP/float64(n), leanR/float64(n)
		stiff = d.feet(&o, pitch, roll)
		o.forward -= stiff[0] * pitch
		o.right += stiff[1] * roll
	}
	o.forwardWithin, o.rightWithin = d.within(b, fr, &fit, stiff, arm, scale, &o)
	return o
}

// lifts is the share of the weight that the rotors lifted in a second, with the
// standard deviation of its scale; or why the feet's part cannot be known.
func (d *outputImbalance) lifts(b *Bench, row *second, flies bool) (part, spread float64, why string) {
	if flies {
		return 1, 0, ""
	}
	spread = scaleSpread
	switch {
	case row.lift.OK && b.Doubt[decode.Load] == "": // else it would lie on the other side
		part = row.lift.V / b.WeightN()
	default:
		var law thrustLaw
		k := law.published(b)
		q, measured := squares(b)
		if k <= 0 || measured < b.Motors || !row.bySpeed {
			return 0, 0, "the lift is not known: no load cells, nor rotor speeds with poles and propeller size"
		}
		part, spread = k*q/b.WeightN(), guessSpread
	}
	if b.Craft.Hold != craft.Free && part > taut {
		return 0, 0, "the tether is taut and carries a part"
	}
	return part, spread, ""
}

// feet works out how many millimetres a degree of lean carries, forward and
// right, from how the craft stood before it was armed; and why nothing can be
// told where that does not show it.
func (d *outputImbalance) feet(o *offset, pitch, roll float64) (stiff [2]float64) {
	if o.leans = math.Hypot(pitch, roll); o.leans > levelWithin {
		o.why = whyLeans
		return stiff
	}
	stoodP, stoodR, ok := d.lean.stood()
	if !ok {
		o.why = "how it stood before arming was not seen, so how much its feet carry is not known"
		return stiff
	}
	moment := [2]float64{o.forward, o.right}
	moved := [2]float64{pitch - stoodP, stoodR - roll} // nose up, left side down: what a weight ahead, at right takes
	for i := range stiff {
		if moved[i]*moment[i] > 0 && math.Abs(moved[i]) >= leanLeast {
			stiff[i] = moment[i] / moved[i]
		}
	}
	size := math.Hypot(moment[0], moment[1])
	for i := range stiff {
		other := 1 - i
		switch {
		case stiff[i] > 0:
		case stiff[other] > 0 && math.Abs(moment[i]) < size/3:
			stiff[i] = stiff[other] // hardly any of it lies this way
		default:
			stiff[i] = math.Inf(1)
		}
	}
	if max(stiff[0], stiff[1]) > stiffest {
		if o.why = whyMiddle; size > nearMiddle {
			o.hard, o.why = true, "it did not lean on its feet before, as a weight off centre makes it"
		}
		return [2]float64{}
	}
	return stiff
}

// within works out half of the 95 % intervals: of the scatter of the seconds,
// the motors' spread, the scales, and the lean.
func (d *outputImbalance) within(b *Bench, fr *airframe, fit *[2]fit, stiff [2]float64, arm, scale float64, o *offset) (forward, right float64) {
	u := propSpread
	newest := d.past.row(0)
	if !newest.bySpeed {
		u = math.Hypot(u, 2*speedSpread) // thrust goes by speed squared
	}
	if fit[0].n < rowsForScatter {
		u = math.Hypot(u, wander)
	}
	part := 1.0
	if newest.lift.OK && b.Doubt[decode.Load] == "" && b.WeightN() > 0 {
		part = min(newest.lift.V/b.WeightN(), 1)
	}
	var out [2]float64
	for axis, v := range [2]float64{o.forward, o.right} {
		motors := 0.0
		for _, a := range fr.arms[:fr.count] {
			x := [2]float64{a.x, a.y}[axis] * arm * part / float64(fr.count) * u
			motors += x * x
		}
		tilt := stiff[axis] * levelWrong / math.Sqrt(3)
		known := math.Sqrt(motors + tilt*tilt + v*v*scale*scale)
		out[axis] = math.Hypot(normal95*known, fit[axis].within())
	}
	return out[0], out[1]
}

// A fit is a mean with its scatter (Welford's recurrence, see run).
type fit struct {
	n          int
	mean, over float64
}

func (f *fit) add(v float64) {
	f.n++
	off := v - f.mean
	f.mean += off / float64(f.n)
	f.over += off * (v - f.mean)
}

// within is half of the 95 % interval of the mean: t s / sqrt(n).
func (f *fit) within() float64 {
	if f.n < rowsForScatter {
		return 0
	}
	return student95[min(f.n-2, len(student95)-1)] * math.Sqrt(f.over/float64(f.n-1)/float64(f.n))
}

// armMM guesses the arm's length from the propeller's size.
func armMM(b *Bench) (float64, bool) {
	if b.Craft.DiameterMM <= 0 || b.Motors < 3 {
		return 0, false
	}
	return spacing * b.Craft.DiameterMM / (2 * math.Sin(math.Pi/float64(b.Motors))), true
}

// outputPower: thrust goes by output to this power. Speed follows output less
// than in proportion, 0.94 of it at 1.4 times the output, and thrust speed
// squared: 2 ln(1.4*0.94)/ln(1.4) = 1.63 (common practice, no source).
const outputPower = 1.63

func thrustOf(output float64) float64 { return math.Pow(max(output, 0), outputPower) }

// outputSpeed is the speed that goes with thrustOf.
func outputSpeed(output float64) float64 { return math.Pow(max(output, 0), outputPower/2) }
