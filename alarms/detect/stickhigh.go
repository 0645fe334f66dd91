package detect

import (
	"fmt"

	"tetherbell/decode"
)

const (
	// stickWait: an arming line may lack the stick; the first one that has it
	// within this time stands for it. No hand raises a stick and is believed to
	// have armed with it down in less (common practice, no source).
	stickWait = Second / 4
	// stickDown: the stick is down again under this share of the limit, so that
	// a stick that trembles at the limit makes one alarm.
	stickDown = 0.8
	// stickSeen is how old the last line of the state may be when the next one says
	// armed, in periods of the state lines, and at least in time: five of the
	// slowest that there are, ten a second. Over a longer hole the moment of arming,
	// and where the stick was then, is not known.
	stickSeen      = 5
	stickSeenLeast = Second / 2
)

// stickHigh tells of a throttle stick that was up as the craft was armed.
type stickHigh struct {
	armed  Tri   // last value that was known
	wait   int64 // until when the stick of an arming is still looked for, -1 not at all
	up     bool
	atOnce float64 // the stick at arming
	said   int64   // when the last line of the state came
}

// NewStickHigh returns the detector of stick-high.
func NewStickHigh() Detector { return &stickHigh{wait: -1} }

func (*stickHigh) Kind() Kind { return StickHigh }

// Reset forgets that the craft was disarmed: what happened while the bridge was
// away is not known, and a stick may have been raised since. What rings goes
// on: the stick is where it was.
func (d *stickHigh) Reset() { d.armed, d.wait = Unknown, -1 }

// Observe looks at the stick in the line that first says armed, and then at
// nothing but its way down: a stick that is raised later is what sticks are for.
func (d *stickHigh) Observe(b *Bench, in *Input) {
	if in.S.Tag != decode.State {
		return
	}
	if b.Armed == Yes && d.armed == No && in.At-d.said <= max(stickSeenLeast, int64(stickSeen*b.Streams[decode.State].Period)) {
		d.wait = in.At + stickWait
	}
	if b.Armed == No {
		d.up, d.wait = false, -1
	}
	if b.Armed != Unknown {
		d.armed = b.Armed
	}
	d.said = in.At
	stick := b.Stick[0]
	switch {
	case in.At > d.wait:
		d.wait = -1
	case stick.OK:
		d.wait, d.up, d.atOnce = -1, over(stick.V, b.Limits.StickHigh), stick.V
	}
	if stick.OK && !over(stick.V, stickDown*b.Limits.StickHigh) {
		d.up = false
	}
}

// Judge rings until the stick is down or the craft disarmed.
func (d *stickHigh) Judge(b *Bench, dst []Finding) []Finding {
	if !d.up {
		return dst
	}
	f := Finding{Where: Craft, Value: d.atOnce, Limit: b.Limits.StickHigh}
	if b.Stick[0].OK && over(b.Stick[0].V, b.Limits.StickHigh) {
		f.Level = High
	}
	return append(dst, f)
}

// Describe tells where the stick was.
func (d *stickHigh) Describe(b *Bench, f Finding) Story {
	s := Story{
		Unit:   "1",
		Text:   fmt.Sprintf("armed with the throttle stick at %.2f, it must be under %.2f", f.Value, f.Limit),
		Cause:  "throttle stick not down at arming",
		Action: "cut throttle; disarm",
		More:   []Fact{{"stick_at_arming", f.Value}},
	}
	if b.Stick[0].OK {
		s.More = append(s.More, Fact{"stick_now", b.Stick[0].V})
	}
	if v, ok := b.MeanOut(); ok {
		s.More = append(s.More, Fact{"mean_output", v})
	}
	return s
}

// Missing: the moment of arming and the stick are both in state lines.
func (d *stickHigh) Missing(b *Bench) string {
	switch {
	case b.Armed == Unknown:
		return noArmed(b)
	case !b.Stick[0].OK:
		return noStick(b)
	}
	return ""
}
