package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// windBand is how far a drift must fall under a limit before its level ends:
// a resting controller's output wanders by 0.01 (common practice, no source).
const windBand = 0.02

// windup tells of a controller's output that drifts one way while the craft is
// held and does not turn: its integrators push against what holds it.
type windup struct {
	wind  winding
	level [3]Priority
}

// NewWindup returns the detector of windup.
func NewWindup() Detector {
	d := &windup{wind: newWinding()}
	d.Reset()
	return d
}

func (*windup) Kind() Kind { return Windup }

// Reset drops every window.
func (d *windup) Reset() {
	d.wind.clear()
	d.level = [3]Priority{}
}

// Observe follows outputs, rates and demands of the axes.
func (d *windup) Observe(b *Bench, in *Input) {
	if in.S.Tag == decode.Axes {
		d.wind.take(b, in.At)
	}
}

// Judge rings for each axis that winds up. What is up stays until the output
// has come back, however long that takes: it is let go by the throttle alone.
func (d *windup) Judge(b *Bench, dst []Finding) []Finding {
	if !b.Held() || !b.ArmedOrUnknown() {
		d.level = [3]Priority{}
		return dst
	}
	for i := range d.level {
		w := &d.wind.axis[i]
		v := math.Abs(w.drift)
		low, medium := b.Limits.WindupLow, b.Limits.WindupMedium
		switch {
		case !w.up || !over(v, low-windBand):
			d.level[i] = None
			continue
		case over(v, medium):
			d.level[i] = Medium
		case over(v, low) && !(d.level[i] == Medium && over(v, medium-windBand)):
			d.level[i] = Low
		case d.level[i] == None:
			continue
		default: // inside the deadband of its level
			dst = append(dst, Finding{Where: Axis(i), Value: v, Limit: d.limit(b, i)})
			continue
		}
		dst = append(dst, Finding{Where: Axis(i), Level: d.level[i], Value: v, Limit: d.limit(b, i)})
	}
	return dst
}

func (d *windup) limit(b *Bench, i int) float64 {
	if d.level[i] == Medium {
		return b.Limits.WindupMedium
	}
	return b.Limits.WindupLow
}

// Describe tells the drift and what drives it.
func (d *windup) Describe(b *Bench, f Finding) Story {
	i := axisOf(f.Where)
	w := &d.wind.axis[i]
	s := Story{
		Unit: "1",
		Text: fmt.Sprintf("the controller's output in %s drifted by %.2f while the craft did not turn", f.Where, f.Value),
		// The same words as the cause of an imbalance that comes of it.
		Cause:  CauseWindup,
		Action: "throttle to zero lets it go; slack the tether",
		More: []Fact{{"drift", w.drift}, {"drift_seconds", w.seconds}, {"demand_deg_s", w.asked},
			{"rate_deg_s", w.turned}},
	}
	if b.Craft.Hold == craft.Stand {
		s.Action = "throttle to zero lets it go; do not ask a stand to turn"
	}
	if math.Abs(w.asked) >= windAsked {
		s.Text += fmt.Sprintf(": %.0f deg/s are asked for, and what holds it gives %.0f", w.asked, w.turned)
		if r := b.Stick[1+i]; r.OK && math.Abs(r.V) > b.Limits.StickIdle {
			s.Action = "let the stick go; " + s.Action
		}
	}
	return s
}

// windAsked is the demand, deg/s, from which on it is named as what drives the
// drift; under it the gyro's own bias may be that.
const windAsked = 2

// Missing says what the comparison lacks.
func (d *windup) Missing(b *Bench) string {
	if !b.Held() {
		return "free craft: nothing holds it"
	}
	if b.Streams[decode.Axes].Count == 0 {
		return noAxes(b)
	}
	for i := range b.Ctrl {
		switch {
		case !b.Ctrl[i].OK:
			return fmt.Sprintf("%s: controller output not measured", Axis(i))
		case !b.Rate[i].OK:
			return fmt.Sprintf("%s: body rate not measured", Axis(i))
		case !b.Demand[i].OK:
			return fmt.Sprintf("%s: demand not measured, so a drift that is asked for is not told from one that is held up", Axis(i))
		}
	}
	if r := b.Streams[decode.Axes].Rate(); r > 0 && r < windPace {
		return fmt.Sprintf("the axes stream is too slow: %.0f a second", r)
	}
	return ""
}
