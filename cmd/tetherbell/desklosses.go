package main

import (
	"fmt"
	"slices"
	"strings"

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
func (d *desk) lossLines(lacks []alarms.Lack) (out []string) {
	all := d.eng.AllLosses()
	for i := range all {
		all[i].Names = slices.DeleteFunc(slices.Clone(all[i].Names), func(name string) bool {
			return slices.ContainsFunc(lacks, func(n alarms.Lack) bool { return n.Name == name && all[i].Stands(n) })
		})
	}
	all = slices.DeleteFunc(all, func(l alarms.Loss) bool { return l.Names != nil && len(l.Names) == 0 })
	all, out = timesOnly(all, lacks)
	for i := range all {
		if i == fewLosses {
			return append(out, fmt.Sprintf("  and %d times more: alarms left the watch or came back to it", len(all)-i))
		}
		out = append(out, "  "+all[i].String())
	}
	return out
}

// timesOnly takes out what is said among what is not watched, by length and reason,
// where alarms left the watch and came back many times: when they did is all that is
// new. What has an action of its own stays.
func timesOnly(all []alarms.Loss, lacks []alarms.Lack) (rest []alarms.Loss, out []string) {
	var left, back []string
	rest = slices.DeleteFunc(slices.Clone(all), func(l alarms.Loss) bool {
		for _, name := range l.Names {
			if !slices.ContainsFunc(lacks, func(n alarms.Lack) bool { return n.Name == name }) {
				return false
			}
		}
		if len(l.Names) == 0 || (alarms.Lack{Why: l.Why}).Act() != "" {
			return false
		}
		times := &left
		if l.Why == "" {
			times = &back
		}
		if at := fmt.Sprintf("%.1f", float64(l.Since)/1e6); !slices.Contains(*times, at) {
			*times = append(*times, at)
		}
		return true
	})
	if len(all)-len(rest) < manyLosses {
		return all, nil
	}
	line := "  alarms named above left the watch at " + someOf(left)
	if len(back) > 0 {
		line += ", and came back at " + someOf(back)
	}
	return rest, []string{line}
}

// manyLosses is how many lines of losses are told by their times alone.
const manyLosses = 4

// someOf lists times, of many the first ones.
func someOf(times []string) string {
	if n := len(times) - fewLosses; n > 0 {
		return strings.Join(times[:fewLosses], ", ") + fmt.Sprintf(" s and %d times more", n)
	}
	return strings.Join(times, ", ") + " s"
}
