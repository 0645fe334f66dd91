package alarms

import (
	"fmt"
	"sort"

	"tetherbell/alarms/detect"
)

// coverGrace is left at the start, before every stream has spoken.
const coverGrace = 3 * detect.Second

// lapse is a time during which an alarm was not watched.
type lapse struct {
	why     string
	seconds int
}

// coverage keeps account of what is watched.
type coverage struct {
	detectors []detect.Detector
	now       []string  // why each detector is not watching, "" when it is
	worst     [][]lapse // for each detector, by reason
	looks     int
	promise   promise
}

func newCoverage(ds []detect.Detector) coverage {
	return coverage{detectors: ds, now: make([]string, len(ds)), worst: make([][]lapse, len(ds))}
}

// look is called once a second of engine time.
func (c *coverage) look(b *detect.Bench) {
	c.looks++
	c.promise.look(b)
	for i, d := range c.detectors {
		why := d.Missing(b)
		c.now[i] = why
		if why == "" || b.Now < coverGrace {
			continue
		}
		c.note(i, why)
	}
}

// maxLapses bounds the reasons kept for one alarm.
const maxLapses = 8

func (c *coverage) note(i int, why string) {
	for j := range c.worst[i] {
		if c.worst[i][j].why == why {
			c.worst[i][j].seconds++
			return
		}
	}
	if len(c.worst[i]) < maxLapses {
		c.worst[i] = append(c.worst[i], lapse{why, 1})
	}
}

// absent tells which streams the craft file promises that never came.
func (c *coverage) absent() []Lack { return c.promise.broken() }

// lacks tells what is not watched at this moment.
func (c *coverage) lacks(dst []Lack) []Lack {
	for i, d := range c.detectors {
		if c.now[i] != "" {
			dst = append(dst, Lack{d.Kind().String(), c.now[i]})
		}
	}
	return dst
}

// whole tells what was not watched in the whole session or a part of it.
func (c *coverage) whole() []Lack {
	var out []Lack
	for i, d := range c.detectors {
		why := c.now[i]
		var most lapse
		for _, l := range c.worst[i] {
			if l.seconds > most.seconds {
				most = l
			}
		}
		if why == "" && most.seconds > 1 {
			why = fmt.Sprintf("%s (for %d s)", most.why, most.seconds)
		}
		if why != "" {
			out = append(out, Lack{d.Kind().String(), why})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}
