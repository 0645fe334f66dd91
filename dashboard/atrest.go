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

// idleLeast is for how long an armed craft must have idled, in microseconds, before
// the order to cut the throttle counts as obeyed: outputs that climb by themselves
// leave idle sooner.
const idleLeast = 500_000

// idles tells whether it is known that the throttle is cut and the outputs follow
// it, for a while: what is left of the alarm is in its window. With the control link
// gone the stick says nothing, and nobody can disarm by it.
func idles(s *alarms.Snapshot, st *Status) bool {
	return !st.Lost && !st.Ended && st.EngineStill == 0 && poorData(s) == "" && len(s.Doubted) == 0 &&
		s.T-s.Streams[decode.State].Last <= restFresh && s.Armed == detect.Yes && s.ControlOK != detect.No && s.IdlesUS >= idleLeast
}

// nextAtRest is what to do where the first action has been done, and what of the
// action is left: whoever reads only the alarm arms once more to look.
func nextAtRest(s *alarms.Snapshot, action string) string {
	next := "next: do not arm again; find out why"
	if s.Armed != detect.No {
		next = "next: disarm, do not arm again; find out why"
	}
	return next + restOf(action)
}

// nextStep is what to do about an alarm that has ended, which is not mended by that,
// or whose first action has been done while rotors still turn. Few words leave room
// for the likely cause beside them.
func nextStep(s *alarms.Snapshot, p detect.Priority, cause, action string) string {
	armed, next := s.Armed != detect.No, ""
	switch {
	case cause == "" && p >= detect.High:
		return nextAtRest(s, action)
	case armed && p >= detect.High:
		next = "next: disarm, find why"
	case armed:
		next = "next: find why before you go on"
	default:
		next = "next: find why before you arm"
	}
	if cause == "" {
		next = strings.Replace(next, "find why", "find out why", 1)
	}
	return next + restOf(action)
}

// restOf is what of an action comes after the moment, behind a stop.
func restOf(action string) string {
	rest := ""
	for part := range strings.SplitSeq(action, "; ") {
		order := bigOrder(part)
		if doneAtRest(order) || strings.HasPrefix(order, "DISARM") || strings.HasPrefix(order, "DO NOT ARM") || strings.HasPrefix(order, "STOP") {
			continue
		}
		rest += "; " + part
	}
	return rest
}
