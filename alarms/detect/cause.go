package detect

import (
	"fmt"
	"math"
	"slices"

	"tetherbell/decode"
	"tetherbell/decode/craft"
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
	// speedOff: a rotor whose speed over its output differs so much from the
	// others' does not do what its output asks. Loaded motors turn a little
	// slower than in proportion: an output of 1.4 times the mean gives 0.94
	// (common practice, no source).
	speedOff = 0.10
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
	causeMotor  = "motor or speed controller"
	causeProp   = "motor or propeller"
	causeCentre = "weight off centre"
	causeTwist  = "yaw twist"
	causeWindup = "hold-down: controller winds up"
	causeMixed  = "mixed"
)

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

// explain finds the cause. What the motor does with its output comes first:
// that needs no guess about the craft. Then the hold-down, whose pull looks
// like a weight. Then the shape of the differences.
func (d *outputImbalance) explain(b *Bench, i int, s *Story) {
	ratio, known := d.ratios(b)
	thrust, bySpeed := d.thrusts(b, known)
	if known {
		s.More = append(s.More, Fact{"speed_over_output", ratio[i]})
	}
	fr, framed := airframeOf(b.Craft.Layout)
	framed = framed && thrust != nil && fr.count == len(thrust)
	var m modes
	if framed {
		m = fr.split(thrust)
		s.More = append(s.More, Fact{"mode_roll", m.roll}, Fact{"mode_pitch", m.pitch}, Fact{"mode_yaw", m.yaw},
			Fact{"mode_rest", m.rest}, Fact{"modes_by_speed", bySpeed})
	}
	if known && math.Abs(ratio[i]-1) > speedOff {
		s.Cause = causeMotor
		s.Text += fmt.Sprintf(", and its speed is %.2f of what that output gives the others", ratio[i])
		return
	}
	axis, by, winds := d.hold.windup()
	if winds && b.Held() && (!framed || m.holds(axis)) {
		s.Cause = causeWindup
		s.Action = "slack the hold-down, or throttle up in one go"
		s.Text += fmt.Sprintf(": the controller output in %s drifted by %.2f while the craft did not turn", Axis(axis), by)
		s.More = append(s.More, Fact{"drift", by}, Fact{"drift_axis", Axis(axis).String()})
		return
	}
	if framed {
		d.shape(b, &fr, thrust, i, &m, s)
	}
}

// shape names the cause by the modes of the mixer.
func (d *outputImbalance) shape(b *Bench, fr *airframe, thrust []float64, i int, m *modes, s *Story) {
	centre, twist, one := fr.unexplained(thrust, i)
	least := min(centre, twist, one)
	next := max(min(centre, twist), min(twist, one), min(centre, one))
	switch {
	case least > causeLeft || next < causeClear*least:
		s.Cause = causeMixed
	case least == one:
		s.Cause = causeProp
	case least == twist:
		s.Cause = causeTwist
		s.Text += ": every other motor works harder, as against a tilted motor or a twisted arm"
		s.Action = "look for a tilted motor"
	default:
		way := wayOf(m.forward, m.right)
		s.Cause = causeCentre
		s.Text += ": weight off centre, " + way
		weak := fr.along(m, i)
		if weak {
			s.Cause = causeCentre + ", or " + Motor(i).String() + " pulls less"
			s.Text = fmt.Sprintf("output of %s is %.2f times the mean of the motors: it pulls less than the others, or weight lies off centre, %s", Motor(i), d.share[i], way)
		}
		s.More = append(s.More, Fact{"direction", way}, Fact{"offset_arms", math.Hypot(m.forward, m.right)})
		if b.Craft.Hold == craft.Stand || b.Ground == Yes {
			// What the stand or the ground carries of the moment is not seen.
			s.Text += "; how far cannot be told while the ground or the stand carries a part"
		} else if mm, ok := armMM(b); ok {
			off := mm * math.Hypot(m.forward, m.right)
			s.Text += fmt.Sprintf(" by about %.0f mm (arms taken as %.0f mm, from the propeller)", off, mm)
			s.More = append(s.More, Fact{"offset_mm", off})
		}
		s.Action = "move weight " + wayOf(-m.forward, -m.right)
		if weak {
			s.Action = fmt.Sprintf("check propeller and motor %s, then move weight %s", Motor(i), wayOf(-m.forward, -m.right))
		}
	}
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

// armMM guesses the arm's length from the propeller's size.
func armMM(b *Bench) (float64, bool) {
	if b.Craft.DiameterMM <= 0 || b.Motors < 3 {
		return 0, false
	}
	return spacing * b.Craft.DiameterMM / (2 * math.Sin(math.Pi/float64(b.Motors))), true
}

// ratios returns each rotor's speed over its output, against the middle of
// all; false when not every motor tells both, or one speed is a miscount.
func (d *outputImbalance) ratios(b *Bench) ([]float64, bool) {
	r := make([]float64, b.Motors)
	for i := range r {
		if d.speed.ring[i].Count() < shareLeast/3 || d.out.ring[i].Count() < shareLeast || d.share[i] <= 0 {
			return nil, false
		}
		r[i] = d.speed.ring[i].Mean() / d.share[i]
	}
	sorted := slices.Sorted(slices.Values(r))
	middle := (sorted[(len(r)-1)/2] + sorted[len(r)/2]) / 2
	if middle <= 0 {
		return nil, false
	}
	for i := range r {
		r[i] /= middle
		if math.Abs(r[i]-0.5) < miscount || math.Abs(r[i]-2) < 4*miscount {
			return nil, false
		}
	}
	return r, true
}

// thrusts returns what each motor lifts, up to a factor: its speed squared
// where all speeds are known, else its output squared, since speed follows
// output nearly in proportion (common practice, no source). Nil when a motor
// is not measured.
func (d *outputImbalance) thrusts(b *Bench, bySpeed bool) ([]float64, bool) {
	t := make([]float64, b.Motors, decode.MaxMotors)
	for i := range t {
		v := d.share[i]
		if bySpeed {
			v = d.speed.ring[i].Mean()
		}
		if v <= 0 {
			return nil, false
		}
		t[i] = v * v
	}
	return t, bySpeed
}
