package main

import (
	"tetherbell/alarms"
	"tetherbell/link"
)

// judgeBeacon lets the beacon judge by the desk's newest snapshot, and by the ports;
// what their bridges send stands in the snapshot.
func (l *live) judgeBeacon(s *alarms.Snapshot) {
	switch {
	case l.beacon == nil:
	case l.ended:
		l.beacon.judge(nil, false)
	default:
		l.beacon.judge(s, l.portsOpen())
	}
}

// portsOpen reports whether all ports that are watched are there: what is no port is.
func (l *live) portsOpen() bool {
	for _, f := range l.inlets {
		if !f.port.Status().Open {
			return false
		}
	}
	return l.port == nil || l.port.Status().Open
}

// openBeacon opens the beacon of a watch. Of several ports it takes the first, or
// the one that is named, which is open already.
func (l *live) openBeacon(f *beaconFlags) (*beacon, error) {
	port, name := l.beaconPort(f)
	own := f.port
	if port != nil && name == own {
		own = ""
	}
	b, err := openBeacon(&beaconFlags{line: f.line, port: own, form: f.form}, port)
	if b != nil && own == "" && name != "" {
		b.name = b.line.String() + " of " + name
	}
	return b, err
}

// beaconPort is the watched port whose line a beacon has, with its name where
// there are several.
func (l *live) beaconPort(f *beaconFlags) (port *link.Port, name string) {
	for _, in := range l.inlets {
		if f.port == in.name {
			return in.port, in.name
		}
	}
	if len(l.inlets) > 0 {
		return l.inlets[0].port, l.inlets[0].name
	}
	return l.port, ""
}
