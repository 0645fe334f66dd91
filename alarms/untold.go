package alarms

import (
	"slices"

	"tetherbell/alarms/detect"
)

// saidBy is how long after the first line a bridge may still say for the first time
// what craft it is on and how that is set: it says so at its start, and all of it
// again about every 10 s, spread out.
const saidBy = 11 * detect.Second

// untold picks what is not watched because neither the bridge nor a craft file has
// said yet what craft it is, or how it is set.
func untold(lacks []Lack) []Lack {
	return slices.DeleteFunc(slices.Clone(lacks), func(l Lack) bool { return !detect.Untold(l.Why) })
}

// awaited reports whether the bridge may say so any moment. Where a craft file was
// given nobody is made to wait: what it does not say may never come.
func (e *Engine) awaited(untold []Lack) bool {
	f := &e.known.file
	filed := f.Name != "" || f.MassG > 0 || f.Cells > 0 || f.Motors > 0 || f.IdleReady > 0
	return len(untold) > 0 && !filed && e.bench.Now < saidBy
}
