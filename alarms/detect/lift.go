package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// liftBand is how far the lift must fall under a limit before its level ends:
// the load cells of a shaking craft swing by a few hundredths of its weight
// (common practice, no source).
const liftBand = 0.05

// nearLift tells when lift comes close to what holds the craft.
type nearLift struct {
	medium, high confirm
	share        float64
	known        bool
	level        Priority // in force, with its own deadband
}

// NewNearLift returns the detector of near-lift.
func NewNearLift() Detector { return &nearLift{} }

func (*nearLift) Kind() Kind { return NearLift }

// Reset forgets the last lift.
func (d *nearLift) Reset() { *d = nearLift{} }

// bears returns what holds the craft, in newtons: its weight where the tether
// is slack, the rated load on a stand, nothing where it is free.
func bears(b *Bench) float64 {
	switch b.Craft.Hold {
	case craft.Free:
		return 0
	case craft.Stand:
		return b.Craft.HoldRatedN
	}
	return b.WeightN()
}

// Observe takes one lift.
func (d *nearLift) Observe(b *Bench, in *Input) {
	if in.S.Tag != decode.Load {
		return
	}
	most := bears(b)
	if d.known = b.Load.OK && most > 0; !d.known {
		*d = nearLift{}
		return
	}
	d.share = b.Lift() / most
	d.medium.see(over(d.share, b.Limits.NearLiftMedium), in.At)
	d.high.see(over(d.share, b.Limits.NearLiftHigh), in.At)
}

// Judge steps the level up by two samples, and down through the deadband.
func (d *nearLift) Judge(b *Bench, dst []Finding) []Finding {
	if !d.known || !b.ArmedOrUnknown() && !anyOutput(b) {
		d.level = None
		return dst
	}
	s := &b.Streams[decode.Load]
	medium, high := b.Limits.NearLiftMedium, b.Limits.NearLiftHigh
	switch {
	case d.high.met(b.Now, s) || d.level == High && over(d.share, high-liftBand):
		d.level = High
		return append(dst, Finding{Where: Craft, Level: High, Value: d.share, Limit: high})
	case d.medium.met(b.Now, s):
		d.level = Medium
		return append(dst, Finding{Where: Craft, Level: Medium, Value: d.share, Limit: medium})
	case d.level != None && over(d.share, medium-liftBand):
		d.level = Medium
		return append(dst, Finding{Where: Craft, Value: d.share, Limit: medium})
	}
	d.level = None
	return dst
}

// Describe tells the lift and what it is held against.
func (d *nearLift) Describe(b *Bench, f Finding) Story {
	of, cause := "weight", "craft about to lift off"
	if b.Ground == No {
		cause = "craft off the ground, on its tether"
	}
	if b.Craft.Hold == craft.Stand {
		of, cause = "rated load of the stand", "stand near its rated load"
	}
	lift, shown := b.Lift(), b.Load.V
	if most := bears(b); math.Abs(f.Value*most-lift) > hair { // a worse one of before is told, with its own lift
		lift = f.Value * most
		shown = lift + min(b.Rest, 0)
	}
	s := Story{
		Unit:   "1",
		Text:   fmt.Sprintf("lift %.1f N%s is %.2f of the %s: %s from %.2f on", lift, untared(b, shown), f.Value, of, max(f.Level, Medium), f.Limit),
		Cause:  cause,
		Action: "ease the throttle",
		More:   []Fact{{"lift_n", shown}, {"holds_n", bears(b)}},
	}
	if f.Level == High {
		s.Action = "cut throttle"
	}
	if stick := b.Stick[0]; stick.OK && stick.V < b.Limits.StickIdle {
		s.Action = "press stop; keep clear" // there is no throttle left to cut
	}
	return s
}

// untared says that lift is not as the cells show it.
func untared(b *Bench, shown float64) string {
	if b.Rest >= 0 {
		return ""
	}
	return fmt.Sprintf(" (%.1f shown, not tared)", shown)
}

// noLift says why there is none.
func noLift(b *Bench) string {
	return b.without(decode.Load, "no lift from load cells", "load lines come, but lift in them is empty")
}

// Missing says what the comparison lacks.
func (d *nearLift) Missing(b *Bench) string {
	switch {
	case b.Craft.Hold == craft.Free:
		return "free craft: nothing holds it"
	case liftLacks(b) != "":
		return liftLacks(b)
	case b.Craft.Hold == craft.Stand && b.Craft.HoldRatedN <= 0:
		return "rated load of the stand not known (hold_rated_n)"
	case bears(b) <= 0:
		return noMass
	case b.Craft.Hold != craft.Stand: // else it is not held against the weight
		return b.Doubt[decode.Craft]
	}
	return ""
}
