package dashboard

import (
	"math"
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// restFresh is how old the values may be that say that nothing turns, in
	// microseconds: rotors of a bench take longer than that to come up, and load
	// cells, the slowest of the three, are read ten times a second.
	restFresh = 300_000
	// Cells tremble and drift by less than restShare of the weight, or restLiftN
	// where that is not known, what alarms take for no change of lift.
	restShare = 0.10
	restLiftN = 1.0
)

// atRest tells whether it is known that nothing turns nor shall: stop is pressed
// or the craft disarmed, and outputs, rotor speeds and lift all say so, each of
// every motor, just now. One that is missing, old, or in doubt, and nobody knows.
func atRest(s *alarms.Snapshot, st *Status) bool {
	state := &s.Streams[decode.State]
	switch {
	case st.Lost || st.Ended || st.EngineStill > 0 || poorData(s) != "" || len(s.Doubted) > 0 || len(s.Motors) == 0:
		return false
	case state.Count == 0 || s.T-state.Last > restFresh:
		return false
	case s.Armed != detect.No && s.Stopped != detect.Yes:
		return false
	}
	fresh := func(r detect.Reading) bool { return r.OK && s.T-r.At <= restFresh }
	for i := range s.Motors {
		m := &s.Motors[i]
		if !fresh(m.Out) || !fresh(m.RPM) || m.Out.V > 0 || m.RPM.V > 0 {
			return false
		}
	}
	if !fresh(s.LiftN) {
		return false
	}
	if s.LiftShare.OK {
		return math.Abs(s.LiftShare.V) < restShare
	}
	return math.Abs(s.LiftN.V) < restLiftN
}

// nextAtRest is what to do where the first action has been done, and what of the
// action is left: whoever reads only the alarm arms once more to look.
func nextAtRest(s *alarms.Snapshot, action string) string {
	next := "next: do not arm again; find out why"
	if s.Armed != detect.No {
		next = "next: disarm, do not arm again; find out why"
	}
	if _, rest, ok := strings.Cut(action, "; "); ok {
		next += "; " + rest
	}
	return next
}
