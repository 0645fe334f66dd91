package alarms

import "tetherbell/alarms/detect"

// Steady returns what the motors did in the steady seconds so far: their
// shares, for a baseline, and where the centre of gravity lies.
func (e *Engine) Steady() detect.Steady {
	for _, d := range e.detectors {
		if s, ok := d.(interface{ Steady() detect.Steady }); ok {
			return s.Steady()
		}
	}
	return detect.Steady{}
}

// CraftName is the name of the craft, of its file or as the bridge tells it,
// "" while neither does.
func (e *Engine) CraftName() string { return e.bench.Craft.Name }
