package detect

// An Answer is when an axis was last shown to answer its stick the right way:
// engine time, -1 where it was not, or not since the bridge restarted.
type Answer struct {
	Demand int64 // by the demanded rate
	// Motors: their difference follows the controller's output, or, where that is
	// not told, the stick itself; never for yaw.
	Motors int64
}

// Answer returns it for one axis: roll, pitch, yaw.
func (d *reversedResponse) Answer(axis int) Answer { return d.right[axis] }

// showRight notes what a look at one axis has shown.
func (d *reversedResponse) showRight(axis int, now int64, asked bool, motors bool) {
	if asked {
		d.right[axis].Demand = now
	}
	if motors {
		d.right[axis].Motors = now
	}
}
