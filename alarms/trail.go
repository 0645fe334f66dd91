package alarms

import "tetherbell/decode"

const (
	// TrailStep is the time that one point of a trail stands for, engine
	// microseconds: 20 points a second are as many as a screen draws.
	TrailStep = 50_000
	// TrailLength is how many points are kept: 20 seconds, which a wide screen
	// shows at a point a dot.
	TrailLength = 400
)

// A trail remembers the amplitude of one axis over the last seconds, in a
// ring; what was not measured is -1.
type trail struct {
	ring [TrailLength]float32
	slot int64 // number of the newest step
	any  bool
}

// nothing stands for a step in which no amplitude was measured.
const nothing = -1

// at opens the step that holds now, and clears those that were passed over.
func (t *trail) at(now int64) *float32 {
	slot := now / TrailStep
	if !t.any {
		t.any, t.slot = true, slot
		t.ring[slot%TrailLength] = nothing
	}
	for n := 0; t.slot < slot && n < TrailLength; n++ {
		t.slot++
		t.ring[t.slot%TrailLength] = nothing
	}
	if t.slot < slot { // longer than the ring: all of it was cleared
		t.slot = slot
	}
	return &t.ring[slot%TrailLength]
}

// copyTo copies the points, oldest first. The newest is that of the step which
// is not over yet.
func (t *trail) copyTo(dst []float32) {
	for i := range dst {
		slot := t.slot - int64(len(dst)-1-i)
		if dst[i] = nothing; t.any && slot >= 0 {
			dst[i] = t.ring[slot%TrailLength]
		}
	}
}

// trails remember the three axes.
type trails [3]trail

func newTrails() (ts trails) {
	for i := range ts {
		for k := range ts[i].ring {
			ts[i].ring[k] = nothing
		}
	}
	return ts
}

// take notes an axes line.
func (ts *trails) take(now int64, osc swinger, s *decode.Sample) {
	if s.Tag != decode.Axes {
		return
	}
	for i := range ts {
		p := ts[i].at(now)
		if n := osc.Now(i); n.Watched {
			*p = float32(n.Amplitude)
		}
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
