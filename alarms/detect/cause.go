package detect

import (
	"fmt"
	"math"
	"slices"

	"tetherbell/decode"
)

const (
	// causeLeft: a cause is named when no more than this share of the motors'
	// differences (in squares) is left when it is taken out; else it is called
	// mixed. By chance weight off centre leaves a third on a quad.
	causeLeft = 0.15
	// causeClear: the next likely cause must leave so many times more, else it
	// is mixed too. On a quad a weight towards one motor and that motor alone
	// look alike but for their yaw.
	causeClear = 2
	// speedOff: a rotor whose speed over what its output should give differs so
	// much from the others' does not do what its output asks (common practice, no
	// source), and speedFar of how far the output itself is from the mean, since
	// what it should give is the less known the further out it is (common
	// practice, no source).
	speedOff = 0.10
	speedFar = 0.15
	// A speed at half or double is a miscount of the sensor, seen in real
	// records: it tells nothing of the motor.
	miscount = 0.08
	// spacing of neighbouring motors over the propeller's diameter, from which
	// the arm is guessed: propellers must clear each other, and frames are no
	// larger than they need be (common practice, no source).
	spacing = 1.2
)

// causes of an imbalance, as events carry them.
const (
	causeMotor  = "motor, propeller or speed controller"
	causeProp   = "motor or propeller"
	causeCentre = "weight off centre"
	causeTwist  = "yaw twist"
	causeMixed  = "mixed"
)

// CauseWindup is the cause of an imbalance that windup stands for.
const CauseWindup = "integrators wind up against the hold-down"

// Describe tells how far out the motor is, and works out why.
func (d *outputImbalance) Describe(b *Bench, f Finding) Story {
	i := d.motorOf(f.Where)
	s := Story{
		Unit:   "1",
		Text:   fmt.Sprintf("output of %s is %.2f times the mean of the motors", f.Where, d.share[i]),
		Action: "check " + f.Where.String(),
		More:   []Fact{{"share", d.share[i]}},
	}
	d.explain(b, i, &s)
	switch f.Level { // what to do at once comes first, the cure after it
	case High:
		s.Action = "cut throttle; " + s.Action
	case Medium:
		s.Action = "ease off; " + s.Action
	}
	return s
}

func (d *outputImbalance) motorOf(w Where) int {
	for i := range d.share {
		if w == Motor(i) {
			return i
		}
	}
	return 0
}

// explain finds the cause. What a motor does with its output comes first:
// that needs no guess about the craft. Then the hold-down, whose pull looks
// like a weight. Then the shape of the differences.
func (d *outputImbalance) explain(b *Bench, i int, s *Story) {
	speed, told := d.turns(b)
	ratio, known := d.ratios(b, &speed, told == allSpeeds)
	if told != allSpeeds && told != 0 {
		s.More = append(s.More, Fact{"speed_miscounted", told.String()})
		s.Text += fmt.Sprintf(" (the speed of %s reads half or double: a miscount, not used)", told)
	}
	was, isNew := d.sinceAccepted(b, i, s)
	thrust := d.thrusts(b, &speed, told == allSpeeds, was)
	bySpeed := told == allSpeeds && !isNew
	fr, framed := airframeOf(&b.Craft)
	framed = framed && thrust != nil && fr.count == len(thrust)
	var m modes
	if framed {
		m = fr.split(thrust)
		s.More = append(s.More, Fact{"mode_roll", m.roll}, Fact{"mode_pitch", m.pitch}, Fact{"mode_yaw", m.yaw},
			Fact{"mode_rest", m.rest}, Fact{"modes_by_speed", bySpeed})
	}
	if known {
		odd, most := 0, 0.0
		for j := range b.Motors {
			if over := math.Abs(ratio[j]-1) - speedFar*d.off(j); over > most {
				odd, most = j, over
			}
		}
		s.More = append(s.More, Fact{"speed_over_output", ratio[i]})
		if most > speedOff {
			oddSpeed(i, odd, ratio[odd], s)
			return
		}
	}
	if turn := hung(b); turn > windTurn {
		s.Cause = "gyro hangs"
		s.Text += fmt.Sprintf(": the loop steers against rates that stand still, at up to %.1f deg/s", turn)
		s.Action = "check the gyro"
		return
	}
	axis, by, winds := d.wind.worst(b.Limits.WindupLow)
	if winds && b.Held() && (!framed || m.holds(axis)) {
		s.Cause = CauseWindup
		s.Action = "throttle to zero; slack the tether"
		s.Text += fmt.Sprintf(": the controller's output in %s drifted by %.2f while the craft did not turn", Axis(axis), math.Abs(by))
		s.More = append(s.More, Fact{"drift", by}, Fact{"drift_axis", Axis(axis).String()})
		return
	}
	if framed {
		d.shape(b, &fr, thrust, i, &m, isNew, s)
	}
}

// hung returns the fastest turn, degrees a second, at which a gyro in doubt stands
// still, 0 where it is not: what the motors do against a turn that is none looks like
// a weight or a pull of the hold.
func hung(b *Bench) (turn float64) {
	if b.Doubt[decode.Axes] != "" {
		for i := range b.Rate {
			turn = max(turn, math.Abs(b.Rate[i].V))
		}
	}
	return turn
}

// oddSpeed tells of a rotor whose speed is not what its output gives the
// others.
func oddSpeed(i, odd int, ratio float64, s *Story) {
	s.Cause = causeMotor
	its := "its"
	if odd != i {
		its = Motor(odd).String() + "'s"
	}
	s.Text += fmt.Sprintf(", and %s speed is %.2f of what that output gives the others", its, ratio)
	if odd != i {
		s.More = append(s.More, Fact{"odd_motor", Motor(odd).String()}, Fact{"odd_speed_over_output", ratio})
	}
	s.Action = fmt.Sprintf("check propeller and motor %s", Motor(odd))
	if ratio < 1 {
		s.Action = fmt.Sprintf("check motor and speed controller %s, and its propeller's size", Motor(odd))
	}
}

// sinceAccepted tells what the accepted sessions showed of motor i, and what
// all motors' shares were then, where it is the change that rings: then the
// change has the cause that is looked for.
func (d *outputImbalance) sinceAccepted(b *Bench, i int, s *Story) (was *column, isNew bool) {
	n := &d.norm[i]
	if !n.there {
		return nil, false
	}
	count := len(b.Craft.Baseline.Sessions)
	s.Text += fmt.Sprintf("; in %d accepted sessions it was %.2f +- %.2f", count, n.mean, n.dev)
	s.More = append(s.More, Fact{"baseline_share", n.mean}, Fact{"baseline_sd", n.dev}, Fact{"baseline_sessions", count})
	if !d.changed(b, i, shareBand) {
		return nil, false
	}
	was = new(column)
	for j := range b.Motors {
		was[j] = d.norm[j].mean
	}
	return was, true
}

// shape names the cause by the modes of the mixer.
func (d *outputImbalance) shape(b *Bench, fr *airframe, thrust []float64, i int, m *modes, isNew bool, s *Story) {
	centre, twist, one := fr.unexplained(thrust, i)
	least := min(centre, twist, one)
	next := max(min(centre, twist), min(twist, one), min(centre, one))
	switch {
	case least > causeLeft || next < causeClear*least:
		s.Cause = causeMixed
	case least == one:
		s.Cause = causeProp
		s.Action = fmt.Sprintf("check propeller and motor %s", Motor(i))
	case least == twist:
		s.Cause = causeTwist
		s.Text += ": every other motor works harder, as against a tilted motor or a twisted arm"
		s.Action = "look for a tilted motor"
	default:
		d.weight(b, fr, m, isNew, s)
	}
}

// weight tells of a centre of gravity off the motors' middle: which way, how
// far, and what to do.
func (d *outputImbalance) weight(b *Bench, fr *airframe, m *modes, isNew bool, s *Story) {
	way := wayOf(m.forward, m.right)
	s.Cause = causeCentre
	s.More = append(s.More, Fact{"direction", way}, Fact{"offset_arms", math.Hypot(m.forward, m.right)})
	o := offset{why: "it has moved since the accepted sessions"}
	if !isNew {
		o = d.centre(b, fr)
	}
	weak := -1 // a motor that pulls less looks like a weight above it
	for j := range fr.count {
		if fr.along(m, j) {
			weak = j
		}
	}
	told := o.why == ""
	switch {
	case o.hard && weak >= 0:
		s.Cause = causeProp
		s.Text += fmt.Sprintf(": %s pulls less than the others; no weight does this, for %s", Motor(weak), o.reason())
		s.Action = fmt.Sprintf("check propeller and motor %s", Motor(weak))
		s.More = append(s.More, Fact{"odd_motor", Motor(weak).String()})
		return
	case o.hard: // two motors, or what holds it
		s.Cause = causeMixed
		s.Text += ": it is pulled " + way + " down, but no weight does this, for " + o.reason()
		s.Action = "look at what holds it, and at the motors of that side"
		return
	case told && o.doubtful():
		s.Cause = causeMixed
		s.Text += ": it is pulled " + way + " down for the moment, but over the last seconds no weight off centre shows"
		s.Action = "let the sticks rest and look again"
		return
	case told:
		way = o.words(false)
		s.Text += ": the centre of gravity lies " + way + " of the motors' middle"
		s.Action = o.move(b, s)
	default:
		s.Text += ": weight off centre, " + way + "; how far cannot be told: " + o.reason()
		s.Action = "move weight " + wayOf(-m.forward, -m.right)
	}
	if weak >= 0 && !told {
		s.Cause = causeCentre + ", or " + Motor(weak).String() + " pulls less"
		s.Text += fmt.Sprintf("; or %s pulls less than the others", Motor(weak))
		s.Action = fmt.Sprintf("check propeller and motor %s, then %s", Motor(weak), s.Action)
	}
}

// doubtful reports whether the offset may as well be none.
func (o *offset) doubtful() bool {
	return math.Abs(o.forward) <= o.forwardWithin && math.Abs(o.right) <= o.rightWithin
}

// words tells an offset: "24 +- 3 mm forward and 6 +- 2 mm left". A part that
// is not sure to be there, or under a third of the other, is not spoken of.
func (o *offset) words(back bool) string {
	f, r := o.forward, o.right
	if back {
		f, r = -f, -r
	}
	ways := [2][2]string{{"forward", "back"}, {"right", "left"}}
	part := func(v, within float64, i int) string {
		way := ways[i][0]
		if v < 0 {
			way = ways[i][1]
		}
		return fmt.Sprintf("%.0f +- %.0f mm %s", math.Abs(v), max(math.Ceil(within-0.5), 1), way)
	}
	one, other := part(f, o.forwardWithin, 0), part(r, o.rightWithin, 1)
	switch {
	case math.Abs(r) < max(o.rightWithin, math.Abs(f)/3) && math.Abs(r) < math.Abs(f):
		return one
	case math.Abs(f) < max(o.forwardWithin, math.Abs(r)/3):
		return other
	}
	return one + " and " + other
}

// move says how to bring the weight back to the middle, and adds the figures.
// How far the pack must go for that follows from its share of the mass.
func (o *offset) move(b *Bench, s *Story) string {
	mm, within := o.size()
	s.More = append(s.More, Fact{"offset_mm", mm}, Fact{"offset_within_mm", within},
		Fact{"forward_mm", o.forward}, Fact{"forward_within_mm", o.forwardWithin},
		Fact{"right_mm", o.right}, Fact{"right_within_mm", o.rightWithin}, Fact{"arms_guessed", o.guessed})
	if o.guessed {
		s.Text += " (arms guessed from the propeller: give arm_mm)"
	}
	if b.Craft.PackG > 0 && b.Craft.MassG > 0 {
		p := *o
		k := b.Craft.MassG / b.Craft.PackG
		p.forward, p.right, p.forwardWithin, p.rightWithin = k*o.forward, k*o.right, k*o.forwardWithin, k*o.rightWithin
		s.More = append(s.More, Fact{"pack_mm", k * mm}, Fact{"pack_within_mm", k * within})
		return "move the pack " + p.words(true)
	}
	return fmt.Sprintf("move weight %s until the centre of gravity comes %s", wayOf(-o.forward, -o.right), o.words(true))
}

// alongCosine: the cosine of 20 degrees, within which an offset lies along an
// arm (a guess at how well a direction is known; common practice, no source).
const alongCosine = 0.94

// along reports whether the offset points along motor i's arm. A motor that
// pulls less and is held level by the controller looks like a weight above it:
// outputs and speeds alone do not tell the two apart.
func (f *airframe) along(m *modes, i int) bool {
	size := math.Hypot(m.forward, m.right) * math.Hypot(f.arms[i].x, f.arms[i].y)
	return size > 0 && m.forward*f.arms[i].x+m.right*f.arms[i].y > alongCosine*size
}

// wayOf names a direction in the plane of the craft; a part under a third of
// the other is not spoken of.
func wayOf(forward, right float64) string {
	x, y := "forward", "right"
	if forward < 0 {
		x = "back"
	}
	if right < 0 {
		y = "left"
	}
	switch a, c := math.Abs(forward), math.Abs(right); {
	case c < a/3:
		return x
	case a < c/3:
		return y
	}
	return x + " and " + y
}

// allSpeeds is what turns returns where every rotor's speed may be used.
const allSpeeds Where = Craft

// turns returns the rotors' speeds, up to a factor: the middle of the last
// second, since single lines are misread. A rotor at half or double of what its
// output gives the others is miscounted: then it is named, and no speed is
// used. 0 when not every motor tells speed and output.
func (d *outputImbalance) turns(b *Bench) (speed column, told Where) {
	var ratio column
	for i := range b.Motors {
		if d.speed.ring[i].Count() < shareLeast/3 || d.out.ring[i].Count() < shareLeast || d.share[i] <= 0 {
			return speed, 0
		}
		speed[i] = d.speed.middle(i)
		ratio[i] = speed[i] / outputSpeed(d.share[i])
	}
	middle := middleOf(ratio, b.Motors)
	if middle <= 0 {
		return speed, 0
	}
	for i := range b.Motors {
		if r := ratio[i] / middle; math.Abs(r-0.5) < miscount || math.Abs(r-2) < 4*miscount {
			told |= Motor(i)
		}
	}
	if told == 0 {
		told = allSpeeds
	}
	return speed, told
}

func middleOf(v column, n int) float64 {
	slices.Sort(v[:n])
	return (v[(n-1)/2] + v[n/2]) / 2
}

// ratios returns each rotor's speed over what its output should give, against
// the middle of all.
func (d *outputImbalance) ratios(b *Bench, speed *column, known bool) (ratio column, ok bool) {
	if !known {
		return ratio, false
	}
	for i := range b.Motors {
		ratio[i] = speed[i] / outputSpeed(d.share[i])
	}
	middle := middleOf(ratio, b.Motors)
	for i := range b.Motors {
		ratio[i] /= middle
	}
	return ratio, true
}

// thrusts returns what each motor lifts, up to a factor: by its speed squared
// where all speeds are known, else by its output; or, where it is the change
// since the accepted sessions that matters, how that has changed. Nil when a
// motor is not measured.
func (d *outputImbalance) thrusts(b *Bench, speed *column, bySpeed bool, was *column) []float64 {
	t := make([]float64, b.Motors, decode.MaxMotors)
	for i := range t {
		if d.share[i] <= 0 || was != nil && was[i] <= 0 {
			return nil
		}
		switch {
		case was != nil:
			t[i] = thrustOf(d.share[i] / was[i])
		case bySpeed:
			t[i] = speed[i] * speed[i]
		default:
			t[i] = thrustOf(d.share[i])
		}
	}
	return t
}
