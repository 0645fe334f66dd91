package detect

import (
	"math"

	"tetherbell/decode"
)

// A Reach tells how near one watched thing is to its limit. All reaches are on
// one scale, so that the nearest of them is found at a glance whatever its
// unit: 0 is rest, 1 is where the first alarm that asks for action (medium or
// high) may ring. Over 1 the value is past the limit; delays and other
// conditions may still keep the alarm silent.
type Reach struct {
	Kind         Kind
	Where        Where
	Share        float64 // of the way from rest to the limit, never negative
	Value, Limit float64 // in Unit
	Unit         string  // as in events: "1" is a fraction
	High         float64 // the limit of high priority, where that is another one; 0: none
	Waits        bool    // judged in a steady hold alone, and this is none: over 1, nothing rings yet
}

// measured are the streams that the values of a distance are of, a bit each; of
// what is told by one of several, those that it is always told by.
var measured = [KindCount]uint32{
	RisingOscillation: ofAxes,
	OutputImbalance:   ofOut,
	GroundThrust:      ofOut | 1<<decode.State,
	TipOver:           ofAxes,
	NearLift:          ofLoad,
	StickHigh:         1 << decode.State,
	RotorLost:         ofOut | ofERPM,
	VibrationStep:     ofAxes | ofAccel,
	OverCurrent:       ofPack,
	MotorHeat:         ofTemp,
	PackSag:           ofPack,
	Windup:            ofAxes,
}

// Measures reports whether the distance of this kind is made of what lines of a
// tag say: where they come no more, it says nothing of now.
func (k Kind) Measures(tag decode.Tag) bool { return k < KindCount && measured[k]&(1<<tag) != 0 }

// A Reacher is a detector whose condition has a distance. What it leaves out is
// yes or no, or cannot be told now.
type Reacher interface {
	Detector
	// Reach appends what can be told at b.Now.
	Reach(b *Bench, dst []Reach) []Reach
}

// reach appends one reach whose rest is rest; values that make no share are
// left out.
func reach(dst []Reach, k Kind, w Where, rest, v, limit float64, unit string) []Reach {
	r := Reach{Kind: k, Where: w, Value: v, Limit: limit, Unit: unit}
	span := limit - rest
	if r.Share = (v - rest) / span; span == 0 || math.IsNaN(r.Share) || math.IsInf(r.Share, 0) {
		return dst
	}
	r.Share = max(0, r.Share)
	return append(dst, r)
}

// above names the limit of high priority for those from one on.
func above(dst []Reach, from int, high float64) []Reach {
	for i := from; i < len(dst); i++ {
		dst[i].High = high
	}
	return dst
}

// Reach is how far each axis swings.
func (o *Oscillation) Reach(b *Bench, dst []Reach) []Reach {
	if b.Streams[decode.Axes].gone(b.Now) {
		return dst
	}
	for i := range o.axes {
		n := o.Now(i)
		limit, unit := b.Limits.Oscillation, "1"
		if n.RateOnly {
			limit, unit = b.Limits.OscillationRate, "deg/s"
		}
		if n.Watched {
			dst = reach(dst, RisingOscillation, Axis(i), 0, n.Amplitude, limit, unit)
		}
	}
	return dst
}

// Reach is how far each motor's output lies from the mean.
func (d *outputImbalance) Reach(b *Bench, dst []Reach) []Reach {
	if !b.ArmedOrUnknown() || !d.whole || !d.flying {
		return dst
	}
	from, waits := len(dst), d.up == 0 && !d.held(b)
	for i := range b.Motors {
		if d.measured(i) {
			dst = reach(dst, OutputImbalance, Motor(i), 0, d.off(i), b.Limits.ImbalanceMedium, "1")
		}
	}
	for i := range dst[from:] {
		dst[from+i].Waits = waits
	}
	return above(dst, from, b.Limits.ImbalanceHigh)
}

// Reach is the thrust that nobody asked for.
func (g *groundThrust) Reach(b *Bench, dst []Reach) []Reach {
	if b.Armed != Yes || b.Stopped == Yes || !b.HeldOrGrounded() || g.low < 0 || b.Now-g.low < stickHeld(b) {
		return dst // rotors that run down are asked to
	}
	worst := -1
	for e := range g.ratio {
		if g.limit[e] > 0 && g.ratio[e] > 0 && (worst < 0 || g.ratio[e] > g.ratio[worst]) {
			worst = e
		}
	}
	if worst < 0 {
		return dst
	}
	return reach(dst, GroundThrust, Craft, 0, g.value[worst], g.limit[worst], "1")
}

// Reach is how fast each axis turns beyond the demand.
func (d *tipOver) Reach(b *Bench, dst []Reach) []Reach {
	if !b.ArmedOrUnknown() || !b.HeldOrGrounded() || !thrustOver(b, drivenOverIdle, drivenBare) {
		return dst
	}
	for i := range d.axis {
		if a := &d.axis[i]; a.lastAt >= 0 && b.Rate[i].OK {
			dst = reach(dst, TipOver, Axis(i), 0, math.Abs(a.last), b.Limits.TipRate, "deg/s")
		}
	}
	return dst
}

// Reach is the lift against what holds it.
func (d *nearLift) Reach(b *Bench, dst []Reach) []Reach {
	if !d.known || liftLacks(b) != "" || b.Streams[decode.Load].gone(b.Now) {
		return dst
	}
	return above(reach(dst, NearLift, Craft, 0, d.share, b.Limits.NearLiftMedium, "1"), len(dst), b.Limits.NearLiftHigh)
}

// Reach is what rings, else the silence of the whole line, once it has spoken. A
// moment, which stays up to be read, is no silence of now.
func (d *staleLink) Reach(b *Bench, dst []Reach) []Reach {
	moment := d.rings.Case == staleRestart || d.rings.Case == staleSwapped && d.bridges.swap.tags == 0
	if f := &d.rings; f.Level != None && f.Limit > 0 && !moment {
		return reach(dst, StaleLink, Link, 0, f.Value, f.Limit, "s")
	}
	if b.Link.Good == 0 {
		return dst
	}
	return reach(dst, StaleLink, Link, 0, seconds(b.Silent), b.Limits.StaleSeconds, "s")
}

// Reach is the share of spoilt lines: of what is sure of it, as long as that is
// not over the limit. After a hole, say, the share alone is high, and means
// nothing yet.
func (d *BadLinkDetector) Reach(b *Bench, dst []Reach) []Reach {
	if b.Link.Good == 0 && b.Link.Bad > 0 { // nothing is judged before the first good line
		return reach(dst, BadLink, Link, 0, 1, b.Limits.BadShare, "1")
	}
	v := d.sure()
	for i := range d.each { // a wire of several is judged by itself
		v = max(v, d.each[i].sure())
	}
	return reach(dst, BadLink, Link, 0, v, b.Limits.BadShare, "1")
}

// sure is the share of spoilt lines as far as it means something.
func (d *lossWindow) sure() float64 {
	if d.lossy {
		return d.Share()
	}
	return min(d.Share(), d.lower())
}

// Reach is the stick before arming: armed, another alarm speaks of thrust.
func (d *stickHigh) Reach(b *Bench, dst []Reach) []Reach {
	if b.Armed != No || !b.Stick[0].OK {
		return dst
	}
	return reach(dst, StickHigh, Craft, 0, b.Stick[0].V, b.Limits.StickHigh, "1")
}

// Reach is how far each rotor's speed lies from what its output explains; of one
// whose lift is gone, from what its lift explains.
func (d *rotorLost) Reach(b *Bench, dst []Reach) []Reach {
	if !b.ArmedOrUnknown() || b.Stopped == Yes {
		return dst
	}
	for i := range b.Motors {
		switch w := &d.w[i]; {
		case w.state == rotorNoLift: // by its lift it turns too fast
			_, fast, _ := d.lift.judge(b)
			dst = reach(dst, RotorLost, Motor(i), 0, fast-1, b.Limits.RotorSpeed, "1")
		case w.known:
			dst = reach(dst, RotorLost, Motor(i), 0, math.Abs(w.ratio()-1), b.Limits.RotorSpeed, "1")
		}
	}
	return dst
}

// Reach is how much the vibration has grown within a second.
func (d *vibrationStep) Reach(b *Bench, dst []Reach) []Reach {
	if !b.ArmedOrUnknown() || b.Stopped == Yes || !thrustOver(b, 0, zeroOutput) {
		return dst
	}
	most := 0.0
	for k := range d.ch {
		if c := &d.ch[k]; c.told {
			most = max(most, c.ratio)
		}
	}
	if most == 0 {
		return dst
	}
	return reach(dst, VibrationStep, Craft, 1, most, b.Limits.VibrationStep, "1")
}

// Reach is the current against what the pack is rated for.
func (d *overCurrent) Reach(b *Bench, dst []Reach) []Reach {
	if !d.known || b.Craft.RatedA <= 0 || b.Streams[decode.Pack].gone(b.Now) {
		return dst
	}
	return reach(dst, OverCurrent, Pack, 0, max(d.value, d.mean), b.Craft.RatedA, "A")
}

// warmRoom is where the way of a motor's heat begins: a bench at rest.
const warmRoom = 20 // deg C (common practice, no source)

// Reach is each motor's temperature.
func (d *motorHeat) Reach(b *Bench, dst []Reach) []Reach {
	if b.Streams[decode.Temp].gone(b.Now) {
		return dst
	}
	from := len(dst)
	for i := range heatMotors(b) {
		if t := b.Temp[i]; t.OK {
			dst = reach(dst, MotorHeat, Motor(i), warmRoom, t.V, b.Limits.HeatMedium, "degC")
		}
	}
	return above(dst, from, b.Limits.HeatHigh)
}

// fullCell is where the way of a sagging pack begins: a lithium polymer cell
// that is full, V (common practice, no source).
const fullCell = 4.2

// Reach is the pack's sag.
func (d *packSag) Reach(b *Bench, dst []Reach) []Reach {
	if !d.known || b.Streams[decode.Pack].gone(b.Now) {
		return dst
	}
	return above(reach(dst, PackSag, Pack, fullCell, d.volts, b.Limits.SagMedium, "V"), len(dst), b.Limits.SagHigh)
}

// Reach is the drift of each axis' output against the hold-down.
func (d *windup) Reach(b *Bench, dst []Reach) []Reach {
	if !b.Held() || !b.ArmedOrUnknown() {
		return dst
	}
	for i := range d.wind.axis {
		if w := &d.wind.axis[i]; w.up {
			dst = reach(dst, Windup, Axis(i), 0, math.Abs(w.drift), b.Limits.WindupMedium, "1")
		}
	}
	return dst
}
