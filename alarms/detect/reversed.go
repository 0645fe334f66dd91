package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
)

const (
	// reversedR is the correlation from which on a response counts as reversed;
	// less may be a stick that the answer hardly follows (common practice, no
	// source).
	reversedR = -0.7
	// sureZ standard deviations, of eleven lags that are looked at: by chance
	// once in three thousand movements of an answer that has nothing to do with
	// the stick, and it must beat the best lag of the right sign by as much.
	sureZ    = 4.0
	sureLags = demandHi - demandLo + 1
	// demandLeast, deg/s, and motorLeast are the least moves of an answer that
	// are more than its last digit (common practice, no source).
	demandLeast = 0.5
	motorLeast  = 0.004
	// takesZ, takesR: that the controller takes the stick's side, at the
	// beginnings of movements (three standard deviations: by chance once in 700).
	takesZ = 3.0
	takesR = 0.4
	// rightR: that the motors take the controller's side. Over all that is
	// remembered most is noise, which the lines of the two tell of at other
	// moments: it weakens the correlation of a sound craft and turns none over.
	rightR = takesR
	// How long movements are remembered: those of the last seconds, and the
	// beginnings of movements, which are few, for longer.
	stickMemory = 4 * Second
	motorMemory = 9 * Second
)

// The cases of reversed-response.
const (
	caseStick = 1 + iota
	caseMixer
	caseEither // no demand is known: one of the two
)

// reversedResponse tells of a stick that is answered the wrong way.
type reversedResponse struct {
	stick  sticks
	demand [3]track
	ctrl   [3]track
	motor  [2]track // roll, pitch: what the outputs do about them
	counts [stickKeep]bool
	memory int64
	fresh  bool

	up      [3]uint8 // case, 0 none
	verdict [3]verdict
	demands [3]verdict
	right   [3]Answer
}

// NewReversedResponse returns the detector of reversed-response.
func NewReversedResponse() Detector {
	d := &reversedResponse{}
	d.Reset()
	return d
}

func (*reversedResponse) Kind() Kind { return ReversedResponse }

// Reset drops all movements. What rings goes on until a movement shows that it
// is right: a restart of the bridge turns no channel over.
func (d *reversedResponse) Reset() {
	d.stick.clear()
	for i := range d.demand {
		d.right[i] = Answer{Demand: -1, Motors: -1}
		d.demand[i].clear()
		d.ctrl[i].clear()
	}
	for i := range d.motor {
		d.motor[i].clear()
	}
	d.fresh = false
}

// Observe keeps the sticks, the demands, the controller and the motors.
func (d *reversedResponse) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.State:
		var v [3]float64
		for i := range v {
			v[i] = orNaN(b.Stick[1+i])
		}
		d.stick.push(in.At, v)
		d.fresh = true
	case decode.Axes:
		for i := range d.demand {
			if b.Demand[i].OK {
				d.demand[i].put(in.At, b.Demand[i].V)
			}
			if b.Ctrl[i].OK {
				d.ctrl[i].put(in.At, b.Ctrl[i].V)
			}
		}
	case decode.Out:
		d.differences(b, in.At)
	}
}

// Judge weighs an axis at each state line while its stick moves and shortly
// after.
func (d *reversedResponse) Judge(b *Bench, dst []Finding) []Finding {
	if d.fresh && d.stick.n > 2 {
		d.fresh = false
		for axis := range d.up {
			if d.newestMove(axis) && d.stick.settled(axis) {
				d.look(b, axis)
			}
		}
	}
	for axis, c := range d.up {
		if c == 0 {
			continue
		}
		level := High
		if b.Armed == No {
			level = Medium // nothing turns: it must be put right before arming
		}
		dst = append(dst, Finding{Where: Axis(axis), Level: level, Value: d.verdict[axis].r, Limit: reversedR, Case: c})
	}
	return dst
}

// look judges one axis: first what is asked, then what the motors make of it.
func (d *reversedResponse) look(b *Bench, axis int) {
	d.memory = stickMemory
	asked := verdict{}
	if d.mark(axis, b.Now, false) > movedWhole-hair && b.Demand[axis].OK {
		asked = d.weigh(axis, &d.demand[axis], b.Now, demandLo, demandHi)
		if asked.most < demandLeast {
			asked = verdict{}
		}
	}
	d.demands[axis] = asked
	d.showRight(axis, b.Now, asked.z >= sureZ, false)
	switch {
	case asked.z <= -sureZ && asked.r <= reversedR:
		d.up[axis], d.verdict[axis] = caseStick, asked
		return
	case asked.z >= sureZ && d.up[axis] == caseStick:
		d.up[axis] = 0 // shown to be right
	}
	if axis > 1 || b.Armed != Yes {
		return // which way yaw's motors turn is not known
	}
	d.memory = motorMemory
	if d.mark(axis, b.Now, true) < movedWhole-hair {
		return
	}
	does := d.weigh(axis, &d.motor[axis], b.Now, 0, motorHi)
	if does.most < motorLeast {
		return
	}
	right, wrong := does.z >= sureZ, does.z <= -sureZ && does.r <= reversedR
	if b.Ctrl[axis].OK {
		// Between controller and motors lies no loop: that they disagree is
		// sure at once, and what is left to show is that the controller takes
		// the stick's side, not that the bridge tells its sign the wrong way.
		takes := d.weigh(axis, &d.ctrl[axis], b.Now, 0, motorHi)
		against := d.mixed(b, axis)
		wrong = takes.z >= takesZ && takes.r >= takesR && against.r() <= reversedR && against.z() <= -sureZ
		d.showRight(axis, b.Now, false, against.r() >= rightR && against.z() >= sureZ)
		does.r, does.z = against.r(), math.Copysign(takes.z, does.z) // no surer than the weaker link
	}
	d.showRight(axis, b.Now, false, right && !wrong && !b.Ctrl[axis].OK)
	switch {
	case right && d.up[axis] > caseStick:
		d.up[axis] = 0
	case !wrong:
	case !b.Demand[axis].OK:
		d.up[axis], d.verdict[axis] = caseEither, does
		if b.Ctrl[axis].OK {
			d.up[axis] = caseMixer
		}
	case asked.z >= sureZ:
		d.up[axis], d.verdict[axis] = caseMixer, does
	}
}

// mixed holds what the controller asks against what the motors do, over all
// that is remembered.
func (d *reversedResponse) mixed(b *Bench, axis int) (sum tally) {
	for i := 0; i < d.stick.n-1; i++ {
		from, to, _, _ := d.stick.change(i, axis)
		if b.Now-to > d.memory {
			break
		}
		c0, ok0 := d.ctrl[axis].at(from)
		c1, ok1 := d.ctrl[axis].at(to)
		m0, ok2 := d.motor[axis].at(from)
		m1, ok3 := d.motor[axis].at(to)
		if ok0 && ok1 && ok2 && ok3 {
			sum.add(c1-c0, m1-m0, d.spacing(i))
		}
	}
	return sum
}

// sure is the probability that the sign is no chance, all lags that were looked
// at allowed for.
func (v *verdict) sure(lags int) float64 {
	return max(0, 1-float64(lags)*0.5*math.Erfc(math.Abs(v.z)/math.Sqrt2))
}

// Describe names the stick, which way round it is, and how sure that is.
func (d *reversedResponse) Describe(b *Bench, f Finding) Story {
	axis := axisOf(f.Where)
	v := &d.verdict[axis]
	way := [3][2]string{{"right", "left"}, {"nose up", "nose down"}, {"clockwise", "counter-clockwise"}}[axis]
	s := Story{Unit: "1"}
	lags := sureLags
	switch f.Case {
	case caseStick:
		s.Text = fmt.Sprintf("%s stick asks the wrong way: %s on the stick is %s in the demand (correlation %.2f)", f.Where, way[0], way[1], f.Value)
		s.Cause = "stick channel reversed"
		s.Action = "turn the " + f.Where.String() + " channel over"
	case caseMixer:
		lags = motorHi + 1
		s.Text = fmt.Sprintf("the demand follows the %s stick, but the motors answer the wrong way: %s is asked for, their difference pushes %s (correlation %.2f)", f.Where, way[0], way[1], f.Value)
		s.Cause = "mixer reversed, or motors in another order"
		s.Action = "put motor order and mixer right"
	default:
		lags = motorHi + 1
		s.Text = fmt.Sprintf("the motors answer the %s stick the wrong way: %s on the stick, their difference pushes %s (correlation %.2f)", f.Where, way[0], way[1], f.Value)
		s.Cause = "stick channel or mixer reversed"
		s.Action = "find which is reversed"
	}
	if f.Level == High || b.Armed != No {
		s.Action = "cut throttle; " + s.Action
	} else {
		s.Action = "do not arm; " + s.Action
	}
	s.More = []Fact{{"sure", v.sure(lags)}, {"lag_s", v.lag}}
	return s
}

// Missing: sticks, and what answers them.
func (d *reversedResponse) Missing(b *Bench) string {
	_, frame := airframeOf(&b.Craft)
	_, outs := b.MeanOut()
	for i := range 3 {
		switch {
		case !b.Stick[1+i].OK:
			return b.never(decode.State, fmt.Sprintf("%s stick not known", Axis(i)))
		case b.Demand[i].OK:
		case b.never(decode.Axes, "") != "" && (i == 2 || !outs || !frame):
			return b.never(decode.Axes, "")
		case i == 2:
			return "yaw: demanded rate not known"
		case !outs:
			return fmt.Sprintf("%s: neither demanded rate nor motor outputs", Axis(i))
		case !frame:
			return fmt.Sprintf("%s: demanded rate not known, and the layout says not which motor is where", Axis(i))
		}
	}
	return ""
}
