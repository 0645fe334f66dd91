package detect

import (
	"fmt"

	"tetherbell/decode"
)

const (
	// touchRest: the stick rests at zero under this, and touchMove over it is
	// the first touch (common practice, no source: under the least stick at
	// which a craft leaves armed idle).
	touchRest = 0.01
	touchMove = 0.003
	// touchMost: beyond it the stick itself has asked for the lift. At 0.08 of
	// stick a craft that hovers at half output lifts 5 to 10 % of its weight.
	touchMost = 0.08
	// touchTime is how long after the stick has left its zero the step may show:
	// rotors take a tenth of a second or two, load cells a little more.
	touchTime = 3 * Second / 10
	// touchSpin: armed idle is measured from so long after arming on.
	touchSpin = Second / 2
	// touchPace is the time constant over which idle is averaged.
	touchPace = Second / 5
)

// The measures of the step.
const (
	stepLift = iota
	stepSpeed
	stepOut
	steps
)

// A rest is the mean of a measure at armed idle.
type rest struct {
	v     float64
	n     int
	last  int64
	told  confirm
	step  float64 // now over it
	known bool
}

// take averages v, at idle.
func (r *rest) take(v float64, at int64) {
	r.n++
	share := max(1/float64(r.n), min(1, float64(at-r.last)/float64(touchPace)))
	if r.n > 1 {
		share = min(share, 0.5)
	}
	r.v += share * (v - r.v)
	r.last, r.known = at, true
}

// idleGap tells of a step from armed idle to least flight output: from the
// settings, and from what the first touch of the stick does.
type idleGap struct {
	law   thrustLaw
	rest  [steps]rest
	state int   // of the stick: see below
	left  int64 // engine time at which it left its zero
	zero  float64

	// said is armed idle and least flight output as the craft reports them,
	// whatever the craft file believes.
	said [2]Reading

	// The step that was measured, until the craft is disarmed.
	seen         int // which measure, -1 none
	value, limit float64
}

// States of the stick since arming.
const (
	stickUnknown = iota // not seen at zero
	stickAtRest
	stickTouched
	stickAway // the step is over, or cannot be told from what the stick asks
)

// NewIdleGap returns the detector of idle-gap.
func NewIdleGap() Detector { return &idleGap{seen: -1} }

func (*idleGap) Kind() Kind { return IdleGap }

// Reset drops what was measured; thrust law and settings are the craft's own.
func (d *idleGap) Reset() { *d = idleGap{seen: -1, law: d.law, said: d.said} }

// Observe measures idle while the stick is at zero, and the step after it.
func (d *idleGap) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.Set:
		v, ok := in.S.Get(decode.SetValue)
		switch string(in.S.Word) {
		case "idle_ready":
			d.said[0] = Reading{V: v, OK: ok, At: in.At}
		case "idle_least":
			d.said[1] = Reading{V: v, OK: ok, At: in.At}
		}
	case decode.State:
		d.stick(b, in.At)
	case decode.Load:
		d.law.learn(b, in.At)
		d.weigh(b, stepLift, b.Load.V, b.Load.OK, in.At)
	case decode.ERPM:
		v, ok := d.law.lift(b)
		d.weigh(b, stepSpeed, v, ok, in.At)
	case decode.Out:
		v, ok := leastOut(b)
		d.weigh(b, stepOut, v, ok, in.At)
	}
}

// leastOut is the lowest of the motors' outputs. The step to the least flight
// output lifts it; what the axes ask of the mixer lifts others, but not this.
func leastOut(b *Bench) (float64, bool) {
	v, ok := 1.0, false
	for i := range b.Motors {
		if b.Out[i].OK {
			v, ok = min(v, b.Out[i].V), true
		}
	}
	return v, ok
}

// stick follows the stick from zero to the first touch and beyond.
func (d *idleGap) stick(b *Bench, at int64) {
	s := b.Stick[0]
	switch {
	case b.Armed == No || b.Stopped == Yes:
		*d = idleGap{seen: -1, law: d.law, said: d.said}
		return
	case b.Armed != Yes || !s.OK:
		return
	}
	switch d.state {
	case stickUnknown, stickAway:
		if s.V < touchRest {
			d.state, d.zero = stickAtRest, s.V
			d.rest = [steps]rest{}
		}
	case stickAtRest:
		if s.V < touchRest && s.V <= d.zero+touchMove {
			d.zero = min(d.zero, s.V)
			break
		}
		d.state, d.left = stickTouched, -1
		fallthrough
	case stickTouched:
		if d.left < 0 && s.V >= b.Limits.StickIdle {
			d.left = at // where a craft leaves idle at the latest
		}
		switch {
		case s.V <= d.zero+touchMove:
			d.state, d.left = stickAtRest, -1
		case s.V > touchMost || d.left >= 0 && at-d.left > touchTime:
			d.state = stickAway
		}
	}
}

// weigh holds one measure against idle.
func (d *idleGap) weigh(b *Bench, e int, v float64, ok bool, at int64) {
	r := &d.rest[e]
	if !ok {
		*r = rest{}
		return
	}
	switch d.state {
	case stickAtRest:
		if b.ArmedAt >= 0 && at-b.ArmedAt > touchSpin && d.quiet(b, e, v) {
			r.take(v, at)
		}
		fallthrough
	case stickTouched:
		if !r.known {
			return
		}
		step, limit := d.size(b, e, v)
		r.told.see(limit > 0 && over(step, limit), at)
		r.step = step
	}
}

// quiet reports whether a value is no step yet: a line of outputs comes before
// the state line that tells of the touch.
func (d *idleGap) quiet(b *Bench, e int, v float64) bool {
	if !d.rest[e].known {
		return true
	}
	step, limit := d.size(b, e, v)
	return step < limit/2
}

// size returns the step of a measure in its own unit, and its limit; 0 where
// there is none. What the stick itself asks of the outputs is taken off.
func (d *idleGap) size(b *Bench, e int, v float64) (step, limit float64) {
	step = v - d.rest[e].v
	if e == stepOut {
		return step - max(b.Stick[0].V-d.zero, 0), b.Limits.IdleGapOutput
	}
	w := b.WeightN()
	if w <= 0 {
		return 0, 0
	}
	return step / w, b.Limits.IdleGapLift
}

// settings returns armed idle and least flight output, and whether both are
// known: as the craft reports them where it does, else as its file says. The
// craft flies by its own.
func (d *idleGap) settings(b *Bench) (ready, least float64, ok bool) {
	r, l := b.IdleReady, b.IdleLeast
	if d.said[0].OK {
		r = d.said[0]
	}
	if d.said[1].OK {
		l = d.said[1]
	}
	return r.V, l.V, r.OK && l.OK
}

// settingsGap returns the step that the settings say.
func (d *idleGap) settingsGap(b *Bench) (float64, bool) {
	ready, least, ok := d.settings(b)
	return least - ready, ok
}

// Judge rings by the settings as long as they stand, and by what was measured
// until the craft is disarmed.
func (d *idleGap) Judge(b *Bench, dst []Finding) []Finding {
	if d.state == stickTouched && b.Armed == Yes {
		for e, tag := range [steps]decode.Tag{decode.Load, decode.ERPM, decode.Out} {
			r := &d.rest[e]
			if !r.told.met(b.Now, &b.Streams[tag]) {
				continue
			}
			_, limit := d.size(b, e, 0)
			if d.seen < 0 || r.step/limit > d.value/d.limit {
				d.seen, d.value, d.limit = e, r.step, limit
			}
		}
	}
	f := Finding{Where: Craft, Level: Medium}
	if gap, ok := d.settingsGap(b); ok && over(gap, b.Limits.IdleGapOutput) {
		f.Value, f.Limit = gap, b.Limits.IdleGapOutput
	}
	if d.seen >= 0 && (f.Limit == 0 || d.value/d.limit > f.Value/f.Limit) {
		f.Value, f.Limit = d.value, d.limit
	}
	if f.Limit == 0 {
		return dst
	}
	return append(dst, f)
}

// Describe says which figures, and what was measured.
func (d *idleGap) Describe(b *Bench, f Finding) Story {
	s := Story{Unit: "1", Cause: "least flight output too far over armed idle", Action: "disarm; set idle_least nearer to idle_ready"}
	switch b.Armed {
	case Yes:
		s.Action = "cut throttle; " + s.Action
	case No: // that is done already
		s.Action = "do not arm; set idle_least nearer to idle_ready"
	}
	gap, known := d.settingsGap(b)
	ready, least, _ := d.settings(b)
	measured := d.seen >= 0 && f.Value == d.value && f.Limit == d.limit
	switch {
	case measured && d.seen == stepOut:
		s.Text = fmt.Sprintf("the first touch of the stick raised the least output by %.2f, limit %.2f", f.Value, f.Limit)
	case measured:
		s.Text = fmt.Sprintf("the first touch of the stick lifted %.2f of the weight, limit %.2f", f.Value, f.Limit)
		if d.seen == stepSpeed {
			_, learned := d.law.factor(b)
			s.Text = fmt.Sprintf("by the rotor speeds the first touch of the stick lifted %.2f of the weight, limit %.2f", f.Value, f.Limit)
			s.More = append(s.More, Fact{"thrust_law_learned", learned})
		}
	default:
		s.Text = fmt.Sprintf("the first touch of the stick will raise the outputs from %.3g to %.3g: a step of %.2f, limit %.2f",
			ready, least, f.Value, f.Limit)
	}
	if measured && d.seen != stepOut && known && !over(gap, b.Limits.IdleGapOutput) {
		s.Cause = "not idle_least: the controller drives the motors from the first touch on"
		s.Action = "cut throttle; look at trims and sensors"
	}
	if measured {
		s.More = append(s.More, Fact{"evidence", [steps]string{"lift", "rotor speed", "output"}[d.seen]})
	} else {
		s.More = append(s.More, Fact{"evidence", "settings"})
	}
	if known {
		s.More = append(s.More, Fact{"idle_ready", ready}, Fact{"idle_least", least}, Fact{"settings_step", gap})
	}
	return s
}

// Missing: the settings, or something that measures the step.
func (d *idleGap) Missing(b *Bench) string {
	if _, ok := d.settingsGap(b); ok {
		return ""
	}
	_, out := b.MeanOut()
	_, speed := d.law.lift(b)
	switch {
	case !out && !speed && b.Load.OK && b.Doubt[decode.Load] != "":
		return b.Doubt[decode.Load]
	case !out && (b.WeightN() <= 0 || !speed && !b.Load.OK):
		return "idle_ready and idle_least not known, and no outputs, lift or rotor speeds"
	case !b.Stick[0].OK || b.Armed == Unknown:
		return "idle_ready and idle_least not known, nor stick and armed state"
	}
	return ""
}
