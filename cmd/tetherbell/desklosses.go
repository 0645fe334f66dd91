package main

import "fmt"

// reportLosses tells what has left the watch while the craft is armed, and what
// is back. Replay and check find the same: the lines alone decide.
func (d *desk) reportLosses() {
	for _, l := range d.eng.Losses() {
		d.lapsed(l.T, l.String())
	}
}

// fewLosses is how many lines of a verdict tell of what left the watch.
const fewLosses = 8

// lossLines word them for a verdict, a line each.
func (d *desk) lossLines() []string {
	var out []string
	all := d.eng.AllLosses()
	for i := range all {
		if i == fewLosses {
			return append(out, fmt.Sprintf("  and %d times more: alarms left the watch or came back to it", len(all)-i))
		}
		out = append(out, "  "+all[i].String())
	}
	return out
}
