package account

import (
	"fmt"
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// swingSpan is the window of a swing from peak to peak, microseconds: half a
	// period of 2 Hz, the slowest that rings, holds one peak and one trough, and a
	// slow push of the stick moves little in it.
	swingSpan = 250_000
	// swingSlots are the parts of the window, so that each line costs little.
	swingSlots = 25
	swingPart  = swingSpan / swingSlots
)

// A swing is the least and the most of one value in each part of the last
// quarter of a second.
type swing [swingSlots]struct {
	part   int64 // counted from the start of engine time, from 1 on
	lo, hi float64
}

// take adds a value and returns half of what lies between the peaks.
func (w *swing) take(at int64, v float64) float64 {
	part := at/swingPart + 1
	s := &w[part%swingSlots]
	if s.part != part {
		s.part, s.lo, s.hi = part, v, v
	}
	s.lo, s.hi = min(s.lo, v), max(s.hi, v)
	lo, hi := v, v
	for i := range w {
		if s := &w[i]; s.part > part-swingSlots && s.part <= part {
			lo, hi = min(lo, s.lo), max(hi, s.hi)
		}
	}
	return (hi - lo) / 2
}

// measures is the kind of line that goes on measuring what an alarm rang for,
// once it is up; ok is false where nothing does.
func (l *life) measures() (tag decode.Tag, ok bool) {
	switch l.kind {
	case detect.RisingOscillation:
		return decode.Axes, l.Unit == "1" // one judged by its rate has no limit that the rate alone tells
	case detect.TipOver:
		return decode.Axes, true
	case detect.PackSag, detect.OverCurrent:
		return decode.Pack, true
	case detect.MotorHeat:
		return decode.Temp, l.Unit == "degC"
	case detect.NearLift:
		return decode.Load, true
	}
	return 0, false
}

// measure takes what the newest line says of what the alarm rang for.
func (l *life) measure(b *detect.Bench, at int64) {
	now := seconds(at)
	see := func(r detect.Reading, times float64) {
		if r.OK {
			l.reach(r.V*times, now)
		}
	}
	switch l.kind {
	case detect.RisingOscillation:
		for i := range b.Ctrl {
			if l.where&detect.Axis(i) != 0 && b.Ctrl[i].OK {
				l.reach(l.swing.take(at, b.Ctrl[i].V), now)
			}
		}
	case detect.TipOver:
		for i := range b.Rate {
			if l.where&detect.Axis(i) != 0 && b.Rate[i].OK {
				l.reach(math.Abs(b.Rate[i].V), now)
			}
		}
	case detect.PackSag:
		if n := b.Craft.Cells; n > 0 && detect.NoPack(b) == "" {
			see(b.Volts, 1/float64(n))
		}
	case detect.OverCurrent:
		see(b.Amps, 1)
	case detect.MotorHeat:
		for i := range b.Motors {
			if l.where&detect.Motor(i) != 0 {
				see(b.Temp[i], 1)
			}
		}
	case detect.NearLift:
		if n := detect.Bears(b); n > 0 {
			see(b.Load, 1/n)
		}
	}
}

// reach keeps the furthest value, and when it went past the limit.
func (l *life) reach(v, at float64) {
	further := func(a, b float64) bool { return a > b }
	if l.under {
		further = func(a, b float64) bool { return a < b }
	}
	if l.Reached == nil {
		l.Reached = ptr(v)
	} else if further(v, *l.Reached) {
		*l.Reached = v
	}
	if l.PassedAt == nil && further(v, l.Limit) {
		l.PassedAt = ptr(at)
	}
}

// begin counts the value that was told, and forgets what was measured in another
// unit or against another limit.
func (l *life) begin(unit string, limit float64) {
	if _, ok := l.measures(); !ok || unit != l.Unit {
		l.Reached, l.PassedAt = nil, nil
		if !ok {
			return
		}
	}
	if limit != l.Limit {
		l.PassedAt = nil
	}
	l.reach(l.Value, l.ValueAt)
	if l.PassedAt == nil {
		l.reach(*l.Reached, l.ValueAt) // it may have been past the new limit before
	}
}

// measured has all alarms that are up see a line.
func (t *told) measured(b *detect.Bench, tag decode.Tag, at int64) {
	if t.up == 0 {
		return
	}
	for i := len(t.lives) - 1; i >= 0; i-- {
		l := &t.lives[i]
		if !l.open {
			continue
		}
		if of, ok := l.measures(); ok && of == tag {
			l.measure(b, at)
		}
	}
}

// Course says how far an alarm went: its value when it was told, its limit, and
// where it was measured on what it came to and when it passed the limit. figure
// writes a value with its unit.
func (a *Alarm) Course(figure func(v float64, unit string) string) string {
	when := "when it rang"
	if a.ValueAt > a.At {
		when = fmt.Sprintf("at %.3f s", a.ValueAt)
	}
	s := fmt.Sprintf("%s %s, limit %s", when, figure(a.Value, a.Unit), figure(a.Limit, a.Unit))
	if a.Reached == nil || figure(*a.Reached, a.Unit) == figure(a.Value, a.Unit) {
		return s
	}
	s += "; reached " + figure(*a.Reached, a.Unit)
	switch {
	case a.PassedAt == nil:
		s += ", not past the limit"
	case *a.PassedAt > a.At:
		s += fmt.Sprintf(", past the limit from %.1f s on", *a.PassedAt)
	}
	return s
}
