package main

import (
	"fmt"
	"slices"

	"tetherbell/alarms"
)

// reportLosses tells what has left the watch while the craft is armed, and what
// is back. Replay and check find the same: the lines alone decide.
func (d *desk) reportLosses() {
	for _, l := range d.eng.Losses() {
		d.lapsed(l.T, l.String())
	}
}

// fewLosses is how many lines of a verdict tell of what left the watch.
const fewLosses = 8

// lossLines word them for a verdict, a line each. What is said of an alarm among what
// is not watched, with the same time, is not said of it again in other figures.
func (d *desk) lossLines(lacks []alarms.Lack) []string {
	var out []string
	all := d.eng.AllLosses()
	for i := range all {
		all[i].Names = slices.DeleteFunc(slices.Clone(all[i].Names), func(name string) bool {
			return slices.ContainsFunc(lacks, func(n alarms.Lack) bool { return n.Name == name && all[i].Stands(n) })
		})
	}
	all = slices.DeleteFunc(all, func(l alarms.Loss) bool { return l.Names != nil && len(l.Names) == 0 })
	for i := range all {
		if i == fewLosses {
			return append(out, fmt.Sprintf("  and %d times more: alarms left the watch or came back to it", len(all)-i))
		}
		out = append(out, "  "+all[i].String())
	}
	return out
}
