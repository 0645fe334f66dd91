package main

import (
	"fmt"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

const (
	// beaconSilentUS is the silence of the bench, or of one of several bridges,
	// that is no good data, whatever the limit of the alarm for it: that one rings
	// while armed alone.
	beaconSilentUS = 1_000_000
	// beaconSlowUS is the same of a bridge that sends no more than a line or two a
	// second: three of its hellos.
	beaconSlowUS   = 3_000_000
	beaconSlowRate = 4.0 // lines a second
	// beaconListenUS is what must have been heard first: before, nobody knows what
	// is watched.
	beaconListenUS = 3_000_000
	// beaconBadShare is the share of bad and lost lines from which on the line is
	// not trusted: that at which bad-link rings while armed.
	beaconBadShare = 0.05
)

// allWell is the sense of the beacon; open: the ports are there.
func allWell(s *alarms.Snapshot, open bool) bool { return notWell(s, open) == "" }

// notWell says why the beacon shall not say that all is well, "" where it shall. No
// snapshot and no port is the end of the input.
func notWell(s *alarms.Snapshot, open bool) string {
	switch {
	case s == nil && !open:
		return "the input has ended"
	case !open:
		return "a port is lost"
	case s == nil || s.Lines == 0:
		return "no good line yet"
	}
	for i := range s.Alarms {
		a := &s.Alarms[i]
		switch {
		case a.Priority < detect.Medium || !a.Active && a.Acknowledged:
		case a.Active:
			return fmt.Sprintf("%s priority: %s", a.Priority, a.Kind)
		default:
			return fmt.Sprintf("%s is over, and not acknowledged", a.Kind)
		}
	}
	switch {
	case s.T < beaconListenUS:
		return "it listens first"
	case s.SilentUS >= beaconSilentUS:
		return fmt.Sprintf("no good line for %.0f s", float64(s.SilentUS)/1e6)
	case s.BadShare > beaconBadShare:
		return fmt.Sprintf("%.0f %% of the lines bad or lost", s.BadShare*100)
	}
	for i := range s.Bridges {
		if why := bridgeNotWell(&s.Bridges[i]); why != "" {
			return why
		}
	}
	if !alive(s) {
		return "a stream that alarms live on does not come"
	}
	return ""
}

// bridgeNotWell asks one of several bridges. Between the lines of a slow one there
// is nothing to be missed.
func bridgeNotWell(b *alarms.BridgeView) string {
	most := int64(beaconSilentUS)
	if b.All < beaconSlowRate {
		most = beaconSlowUS
	}
	switch {
	case !b.Heard && b.Lines+b.Bad == 0:
		return "nothing was ever heard from " + b.Name
	case !b.Heard:
		return "no good line ever came from " + b.Name
	case b.SilentUS >= most:
		return fmt.Sprintf("no good line from %s for %.0f s", b.Name, float64(b.SilentUS)/1e6)
	}
	return ""
}

// judge takes the desk's newest snapshot.
func (b *beacon) judge(s *alarms.Snapshot, open bool) {
	if b == nil {
		return
	}
	why := notWell(s, open)
	if old := b.why.Load(); old == nil || *old != why {
		b.why.Store(&why)
	}
	b.well.Store(why == "")
}

// shows words what the line says, "" where there is no beacon; fallen: not that
// all is well.
func (b *beacon) shows() (text string, fallen bool) {
	if b == nil {
		return "", false
	}
	why := ""
	if t := b.why.Load(); t != nil {
		why = *t
	}
	switch fault := b.fault(); {
	case fault != "":
		return "NOT SET: " + fault, true
	case why == "" && b.says.Load():
		return b.name + " up: all is well", false
	case why == "":
		why = "a part of the monitor stands still, or it is just being set"
	}
	return b.name + " fallen: " + why, true
}
