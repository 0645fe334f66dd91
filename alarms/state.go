package alarms

import "tetherbell/alarms/detect"

// A State is what the craft says of itself and a person at the bench must know:
// armed, on the stop switch, heard by its controls. It can be compared.
type State struct {
	Armed, Stopped, ControlOK detect.Tri
}

// State tells what the newest lines said.
func (e *Engine) State() State {
	return State{Armed: e.bench.Armed, Stopped: e.bench.Stopped, ControlOK: e.bench.ControlOK}
}

// Since words what has changed since an earlier state, weightiest first; empty
// where nothing has that anybody must know.
func (s State) Since(old State) []string {
	var out []string
	add := func(was, is detect.Tri, yes, no, unknown string) {
		switch {
		case is == was:
		case is == detect.Yes:
			out = append(out, yes)
		case is == detect.No && (was != detect.Unknown || no == disarmed):
			out = append(out, no)
		case is == detect.Unknown && was != detect.Unknown:
			out = append(out, unknown)
		}
	}
	add(old.Armed, s.Armed, "ARMED", disarmed, "armed or not: not known any more")
	add(old.Stopped, s.Stopped, "stop pressed", "stop released", "stop switch: not known any more")
	if old.ControlOK != detect.Unknown {
		add(old.ControlOK, s.ControlOK, "control link is back", "control link gone", "control link: not known any more")
	}
	return out
}

const disarmed = "disarmed"
