package compare

import (
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// What counts as a steady hold. Sticks' noise of sound transmitters lies under
// half of these bands, and their moves lie over them (common practice, no
// source).
const (
	throttleBand = 0.006 // the throttle stick moves within it over a block; faster than 0.012 a second is a ramp
	handBand     = 0.02  // roll, pitch and yaw sticks
	handMost     = 0.10  // and they stand this near their middle; as output-imbalance asks
	demandBand   = 10    // deg/s: where no stick is told, slow demands move within it
	idleStick    = 0.02  // a throttle stick under it asks for armed idle

	settleThrottle = detect.Second / 2      // rotors follow in a twentieth of it, pads rock three times
	settleHands    = detect.Second * 7 / 10 // a rocking craft is still again: twice and more about at 3 Hz
	settleArmed    = detect.Second          // rotors come up
)

// A track follows a value and tells when it leaves a band.
type track struct {
	begun  bool
	lo, hi float64
}

// moved takes a value and reports whether it has left the band since the
// track began; if so it begins anew there.
func (t *track) moved(v, band float64) bool {
	if !t.begun {
		*t = track{true, v, v}
		return false
	}
	t.lo, t.hi = min(t.lo, v), max(t.hi, v)
	if t.hi-t.lo <= band {
		return false
	}
	*t = track{true, v, v}
	return true
}

// A gate says when a craft stands still enough to be measured: armed, not
// stopped, its sticks still, and settled since.
type gate struct {
	armed, stopped detect.Tri
	stick          [4]track // throttle, roll, pitch, yaw
	demand         [3]track // slow part of the demands, where no stick is told
	slow           [3]float64
	hands          bool // sticks of roll, pitch and yaw are told
	throttle       float64
	told           bool    // the throttle stick is told
	out            float64 // mean of the motors' outputs
	outKnown       bool
	settled        int64 // from then on
	levelAt        int64 // when the throttle last moved, or the motors were let turn
	everArmed      bool
}

// hold keeps the gate shut for some time from at on.
func (g *gate) hold(at, us int64) { g.settled = max(g.settled, at+us) }

// anew begins all bands at the present place of the sticks.
func (g *gate) anew() {
	for i := range g.stick {
		g.stick[i].begun = false
	}
	for i := range g.demand {
		g.demand[i].begun = false
	}
}

// state takes a state line and reports whether the gate shut.
func (g *gate) state(at int64, s *decode.Sample) (shut bool) {
	armed, stopped := tri(s, decode.Armed), tri(s, decode.Stopped)
	if armed != g.armed || stopped != g.stopped {
		g.armed, g.stopped = armed, stopped
		g.hold(at, settleArmed)
		g.levelAt = at
		shut = true
	}
	g.everArmed = g.everArmed || armed == detect.Yes
	v, ok := value(s, decode.StickThrottle)
	g.throttle, g.told = v, ok
	if ok && g.stick[0].moved(v, throttleBand) {
		g.hold(at, settleThrottle)
		g.levelAt = at
		shut = true
	}
	g.hands = true
	for i := 1; i < 4; i++ {
		v, ok := value(s, decode.StickThrottle+i)
		g.hands = g.hands && ok
		if ok && (g.stick[i].moved(v, handBand) || math.Abs(v) > handMost) {
			g.hold(at, settleHands)
			shut = true
		}
	}
	return shut
}

// demands takes those of an axes line, for a craft that tells no sticks.
func (g *gate) demands(at int64, s *decode.Sample, k step) (shut bool) {
	if g.hands {
		return false
	}
	for i := range g.demand {
		v, ok := value(s, decode.DemandRoll+i)
		if !ok {
			continue
		}
		g.slow[i] += k.low * (v - g.slow[i])
		if g.demand[i].moved(g.slow[i], demandBand) {
			g.hold(at, settleHands)
			shut = true
		}
	}
	return shut
}

// open reports whether a block may begin or go on at a time.
func (g *gate) open(at int64) bool {
	return at >= g.settled && g.running() && g.stopped != detect.Yes
}

// running reports whether the motors are meant to turn. A craft that does not
// tell whether it is armed is taken by its outputs.
func (g *gate) running() bool {
	if g.armed == detect.Unknown {
		return g.outKnown && g.out > idleStick
	}
	return g.armed == detect.Yes
}

func tri(s *decode.Sample, i int) detect.Tri {
	v, ok := value(s, i)
	switch {
	case !ok:
		return detect.Unknown
	case v != 0:
		return detect.Yes
	}
	return detect.No
}

// absurd is over every value of the protocol: a filter or a sum that took such
// a number would not forget it.
const absurd = 1e10

// value is a field that was measured and is a number.
func value(s *decode.Sample, i int) (float64, bool) {
	v, ok := s.Get(i)
	return v, ok && math.Abs(v) < absurd // not-a-number is not
}
