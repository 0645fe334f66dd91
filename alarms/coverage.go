package alarms

import (
	"sort"

	"tetherbell/alarms/detect"
)

// coverGrace is left at the start, before every stream has spoken.
const coverGrace = 3 * detect.Second

// lapse is a time during which an alarm was not watched.
type lapse struct {
	why   string
	looks int
}

// seconds that it lasted.
func (l *lapse) seconds() int {
	return int((int64(l.looks)*coverStep + detect.Second/2) / detect.Second)
}

// coverage keeps account of what is watched.
type coverage struct {
	detectors []detect.Detector
	now       []string  // why each detector is not watching, "" when it is
	worst     [][]lapse // for each detector, by reason
	known     detect.Known
	promise   promise
	losses    losses
}

func newCoverage(ds []detect.Detector) coverage {
	return coverage{
		detectors: ds, now: make([]string, len(ds)), worst: make([][]lapse, len(ds)),
		losses: losses{of: make([]loss, len(ds)), arming: -1},
	}
}

// look is called every coverStep of engine time. In a silence of the whole line
// stale-link speaks for all that is not watched, and what was so before stands.
func (c *coverage) look(b *detect.Bench) {
	if float64(b.Silent) >= b.Limits.StaleSeconds*float64(detect.Second) {
		return
	}
	c.promise.look(b)
	c.known.See(b)
	for i, d := range c.detectors {
		why := c.known.Lack(d, b)
		c.now[i] = why
		if why == "" || b.Now < coverGrace {
			continue
		}
		c.note(i, why)
	}
	c.losses.look(b, c.detectors, c.now)
}

// maxLapses bounds the reasons kept for one alarm.
const maxLapses = 8

func (c *coverage) note(i int, why string) {
	for j := range c.worst[i] {
		if c.worst[i][j].why == why {
			c.worst[i][j].looks++
			return
		}
	}
	if len(c.worst[i]) < maxLapses {
		c.worst[i] = append(c.worst[i], lapse{why, 1})
	}
}

// absent tells which streams the craft file promises that never came.
func (c *coverage) absent() []Lack { return c.promise.broken() }

// unsaid is absent for the screen: also a hello that never came.
func (c *coverage) unsaid(b *detect.Bench) []Lack {
	return append(c.promise.broken(), c.losses.mutes(b)...)
}

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
			if l.looks > most.looks {
				most = l
			}
		}
		switch n, l := most.seconds(), &c.losses.of[i]; {
		case why != "" && l.told:
			why += sinceText(l.since)
		case why == "" && n > 1:
			why = most.why + forText(n)
		}
		if why != "" {
			out = append(out, Lack{d.Kind().String(), why})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

// LackingKinds counts the kinds of alarm among what is not watched, in part or
// at all; the rest are streams and bridges. Every count that a person is shown
// is this one.
func LackingKinds(lacks []Lack) int {
	n := 0
	for _, l := range lacks {
		if _, ok := detect.KindNamed(l.Name); ok {
			n++
		}
	}
	return n
}
