package main

import (
	"tetherbell/alarms"
	"tetherbell/link"
)

// sourcesWell reports whether all that is watched is there: what is no port is.
func (l *live) sourcesWell() bool {
	if l.beacon == nil {
		return true // nobody asks
	}
	open := make([]bool, 0, len(l.inlets)+1)
	for _, f := range l.inlets {
		open = append(open, f.port.Status().Open)
	}
	if l.port != nil {
		open = append(open, l.port.Status().Open)
	}
	return allThere(open, l.desk.eng.Bridges())
}

// allThere wants every port open, and data of each bridge where there are several:
// together they are not silent as long as one of them sends.
func allThere(open []bool, bridges []alarms.BridgeView) bool {
	for _, o := range open {
		if !o {
			return false
		}
	}
	for i := range bridges {
		if b := &bridges[i]; !b.Heard || b.SilentUS >= beaconSilentUS {
			return false
		}
	}
	return true
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
