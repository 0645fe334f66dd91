package detect

import (
	"fmt"

	"tetherbell/alarms/window"
	"tetherbell/decode"
)

const (
	// currentHold: the alarm holds down to this share of the rating. A hovering
	// craft's current swings by a few hundredths (common practice, no source).
	currentHold = 0.95
	// currentMean: a current that swings to both sides of the rating faster than
	// it can stay over it heats leads and drives all the same, by its mean at
	// least. Over so many times as long as it may stay over, the mean rings too;
	// a start of 0.15 s must be over six times the rating for that.
	currentMean = 5
	// currentLen holds the mean's second at 50 lines a second, the protocol's
	// top, and more.
	currentLen = 128
	// currentSlow, lines a second: a slower stream tells neither.
	currentSlow = 1
	// muchOutput: a mean output from which full power itself explains a current
	// over the rating (common practice, no source).
	muchOutput = 0.5
)

// overCurrent tells of a current that the craft's own rating forbids.
type overCurrent struct {
	over  lasting
	ring  *window.Ring
	mean  float64 // over currentMean times the allowed time, 0 not known
	value float64 // newest
	known bool
	up    bool
}

// NewOverCurrent returns the detector of over-current.
func NewOverCurrent() Detector { return &overCurrent{ring: window.New(currentLen)} }

func (*overCurrent) Kind() Kind { return OverCurrent }

// Reset forgets what flowed.
func (d *overCurrent) Reset() {
	d.ring.Clear()
	*d = overCurrent{ring: d.ring}
}

// Observe takes one current.
func (d *overCurrent) Observe(b *Bench, in *Input) {
	if in.S.Tag != decode.Pack {
		return
	}
	rated := b.Craft.RatedA
	if d.known = b.Amps.OK && rated > 0; !d.known {
		d.Reset()
		return
	}
	s := &b.Streams[decode.Pack]
	d.value = b.Amps.V
	d.over.see(over(d.value, rated), in.At, s)
	span := int64(currentMean * b.Limits.CurrentSeconds * float64(Second))
	if n := d.ring.Count(); n > 0 {
		if last, _ := d.ring.At(n - 1); in.At-last > max(Second/2, int64(lastingGap*s.Period)) {
			d.ring.Clear()
		}
	}
	d.ring.Push(in.At, d.value)
	d.ring.DropBefore(in.At - span)
	d.mean = 0
	if d.ring.Count() >= currentMean && float64(d.ring.Span()) >= float64(span)-2*s.Period {
		d.mean = d.ring.Mean()
	}
}

// Judge rings, and holds through the deadband.
func (d *overCurrent) Judge(b *Bench, dst []Finding) []Finding {
	rated := b.Craft.RatedA
	if !d.known || rated <= 0 {
		d.up = false
		return dst
	}
	v := max(d.value, d.mean)
	switch {
	case b.Streams[decode.Pack].gone(b.Now): // what is not known has not become better
		if d.up {
			dst = append(dst, Finding{Where: Pack, Value: v, Limit: rated})
		}
		return dst
	case d.over.met(b.Limits.CurrentSeconds, &b.Streams[decode.Pack]) || over(d.mean, rated):
		d.up = true
		return append(dst, Finding{Where: Pack, Level: High, Value: v, Limit: rated})
	case d.up && over(v, rated*currentHold):
		return append(dst, Finding{Where: Pack, Value: v, Limit: rated})
	}
	d.up = false
	return dst
}

// Describe tells the current, and what may draw it.
func (d *overCurrent) Describe(b *Bench, f Finding) Story {
	s := Story{
		Unit:   "A",
		Text:   fmt.Sprintf("the pack gives %.1f A, rated for %.1f A", f.Value, f.Limit),
		Action: "cut throttle",
		More:   []Fact{{"over_rating", f.Value / f.Limit}},
	}
	if d.over.count > 1 {
		s.More = append(s.More, Fact{"over_for_s", float64(d.over.last-d.over.since) / float64(Second)})
	}
	mean, ok := b.MeanOut()
	if ok {
		s.More = append(s.More, Fact{"mean_output", mean})
	}
	switch stuck := standing(b); {
	case stuck != 0:
		s.Cause = fmt.Sprintf("rotor of %s stands although it is driven: blocked", stuck)
		s.Action = fmt.Sprintf("press stop; free %s before you go on", stuck)
	case ok && mean < muchOutput:
		s.Cause = "more than so little output should take: blocked rotor, short or too large propeller"
	case ok:
		s.Cause = "outputs near full: propellers or pack do not fit the rating"
	default:
		s.Cause = "blocked rotor, short, too large propeller, or too much throttle"
	}
	if stick := b.Stick[0]; stick.OK && stick.V < b.Limits.StickIdle {
		s.Action = "press stop; keep clear" // there is no throttle left to cut
	}
	return s
}

// Missing says what the comparison lacks.
func (d *overCurrent) Missing(b *Bench) string {
	switch s := &b.Streams[decode.Pack]; {
	case b.Craft.RatedA <= 0:
		return "no rated current in the craft file (rated_a)"
	case s.Count == 0:
		return b.never(decode.Pack, "no pack stream: voltage and current")
	case s.gone(b.Now):
		return stoppedOne[decode.Pack]
	case !b.Amps.OK:
		return b.without(decode.Pack, "", "pack lines come, but the current in them is empty")
	case s.Rate() > 0 && s.Rate() < currentSlow:
		return fmt.Sprintf("the pack stream is too slow: %.1f a second", s.Rate())
	}
	return ""
}

// standing returns the motors whose rotor stands although it is driven well
// over armed idle, by the newest speeds.
func standing(b *Bench) Where {
	var w Where
	least := leastFlight(b)
	for i := range b.Motors {
		if b.Out[i].OK && over(b.Out[i].V, least) && b.ERPM[i].OK && b.ERPM[i].V < stopShare*slowRotor*polePairs(b) {
			w |= Motor(i)
		}
	}
	return w
}
