package alarms

import (
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// TrailStep is the time that one point of a trail stands for, engine
	// microseconds: 20 points a second are as many as a screen draws.
	TrailStep = 50_000
	// TrailLength is how many points are kept: 20 seconds, which a wide screen
	// shows at a point a dot.
	TrailLength = 400
)

// A TrailPoint is what one axis did in one step.
type TrailPoint struct {
	Low, High float32 // least and most of the signal: controller output, or body rate where there is none
	Amplitude float32 // of its narrow-band part at the end of the step
	OK        bool    // something was measured
}

// A trail remembers the last seconds of one axis in a ring.
type trail struct {
	ring [TrailLength]TrailPoint
	slot int64 // number of the newest step
	any  bool
}

// at opens the step that holds now, and clears those that were passed over.
func (t *trail) at(now int64) *TrailPoint {
	slot := now / TrailStep
	if !t.any {
		t.any, t.slot = true, slot
		t.ring[slot%TrailLength] = TrailPoint{}
	}
	for n := 0; t.slot < slot && n < TrailLength; n++ {
		t.slot++
		t.ring[t.slot%TrailLength] = TrailPoint{}
	}
	t.slot = max(t.slot, slot)
	return &t.ring[slot%TrailLength]
}

// copyTo copies the points, oldest first. The newest is that of the step which
// is not over yet.
func (t *trail) copyTo(dst []TrailPoint) {
	for i := range dst {
		slot := t.slot - int64(len(dst)-1-i)
		if !t.any || slot < 0 {
			dst[i] = TrailPoint{}
			continue
		}
		dst[i] = t.ring[slot%TrailLength]
	}
}

// trails remember the three axes.
type trails [3]trail

// take notes an axes line.
func (ts *trails) take(b *detect.Bench, osc *detect.Oscillation, s *decode.Sample) {
	if s.Tag != decode.Axes {
		return
	}
	for i := range ts {
		n := osc.Now(i)
		r := b.Ctrl[i]
		if n.RateOnly {
			r = b.Rate[i]
		}
		p := ts[i].at(b.Now)
		if !r.OK || math.IsNaN(r.V) {
			continue
		}
		v := float32(r.V)
		if !p.OK {
			p.Low, p.High, p.OK = v, v, true
		}
		p.Low, p.High = min(p.Low, v), max(p.High, v)
		p.Amplitude = float32(n.Amplitude)
	}
}

// pass lets time go on where no line came.
func (ts *trails) pass(now int64) {
	for i := range ts {
		if ts[i].any {
			ts[i].at(now)
		}
	}
}
