package alarms

import (
	"fmt"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// excuseFor, milliseconds of the host's clock: so long after a standstill of
	// the monitor lines may be missing for it. A port's store is read first, and
	// the hole lies behind what it kept (common practice, no source).
	excuseFor = 500
	// stoodTold, milliseconds: shorter standstills are not told at the end.
	stoodTold = 500
	// holeApart is how far apart two silences must lie for each to be one
	// happening, told by stale-link alone: nearer, losses go on.
	holeApart = 5 * detect.Second
)

// AllAlarms is the name of a lack that is none of one kind: nothing was watched.
const AllAlarms = "all alarms"

// standstill keeps account of when the monitor itself stood still, by the ticks
// of its clock: what a line lost then is not the line's fault.
type standstill struct {
	ticks decode.Ticks
	until int64 // host milliseconds until which losses are the monitor's own; 0: none are
	total int64 // milliseconds, of those that are told
	times int
	first int64 // engine time of the first
	at    int64 // engine time at the last tick
	// what each wire had brought at the last tick; the first is that of a bench
	// with one
	had  [decode.MaxBridges]detect.LinkCounts
	hole [decode.MaxBridges]int64 // engine time of the last silence that was told as one, from 1 on; 0: none
	away [decode.MaxBridges]bool  // the port is known to have been lost since its last good line
	// opened says that the port was opened just now: behind what it kept till then
	// there may be one hole.
	opened [decode.MaxBridges]opening
}

// An opening is a port that begins to be read.
type opening struct {
	fresh bool
	at    int64 // engine time of the first line
	until int64 // milliseconds of the host; 0: no tick has come since
}

// takes looks at a tick before the course does.
func (c *course) stands(ms int64) {
	s := &c.still
	if stood := s.ticks.Next(ms); stood > 0 {
		s.until = ms + excuseFor
		if stood >= stoodTold && c.clock.started {
			if s.times == 0 {
				s.first = s.at
			}
			s.times++
			s.total += stood
		}
	}
	own := s.until != 0 && ms <= s.until
	if !own {
		s.until = 0
	}
	for i := range c.wires() {
		l := c.wire(i)
		if o := &s.opened[i]; o.fresh && o.until == 0 {
			o.until = ms + excuseFor
		} else if o.fresh {
			o.fresh = ms <= o.until
		}
		if own {
			l.Own.Bad += l.Bad - s.had[i].Bad
			l.Own.Lost += l.Lost - s.had[i].Lost
			l.Own.Faults += l.Faults - s.had[i].Faults
		}
		s.had[i] = *l
	}
	if own && c.clock.many != nil {
		c.sum()
	}
}

// wires is how many there are, wire the counts of one.
func (c *course) wires() int {
	if c.clock.many == nil {
		return 1
	}
	return decode.MaxBridges
}

func (c *course) wire(i int) *detect.LinkCounts {
	if m := c.clock.many; m != nil {
		return &m.all[i].link
	}
	return &c.bench.Link
}

// excuse takes lines that were lost in a silence which stale-link told of: they
// are that silence, and no further fault, unless there was another just before. Of
// a port that is known to have been lost that needs no silence, and counts anew each
// time: somebody pulls a plug, and that says nothing of the line. Nor does the one
// hole behind what a port had kept when it was opened. before are the counts of
// before the line that ended it.
func (c *course) excuse(i int, silent int64, before *detect.LinkCounts) {
	l, away := c.wire(i), c.still.away[i]
	c.still.away[i] = false
	switch o := &c.still.opened[i]; {
	case before.Good == 0 || away:
		*o = opening{fresh: true, at: c.clock.now}
	case o.fresh && l.Lost > before.Lost:
		o.fresh, away = false, c.clock.now-o.at < holeApart
	}
	if l.Lost == before.Lost || !away && float64(silent) < c.bench.Limits.StaleSeconds*float64(detect.Second) {
		return
	}
	now, last := max(c.clock.now, 1), &c.still.hole[i]
	apart := *last == 0 || now-*last >= holeApart
	*last = now
	if !apart && !away {
		return
	}
	l.Own.Lost += l.Lost - before.Lost
	l.Own.Faults += l.Faults - before.Faults
	c.still.had[i].Lost, c.still.had[i].Faults = l.Lost, l.Faults // not twice
}

// PortBack says that the port of a bridge, of several by its number, else 0, was
// lost and is back: what was lost meanwhile is no fault of the line.
func (e *Engine) PortBack(i int) {
	if i >= 0 && i < decode.MaxBridges {
		e.course.still.away[i] = true
	}
}

// stood tells how long nothing was watched since the monitor itself stood still.
func (c *course) stood() []Lack {
	s := &c.still
	if s.times == 0 {
		return nil
	}
	why := fmt.Sprintf("not watched for %.1f s: the monitor itself stood still at %.1f s", float64(s.total)/1000, float64(s.first)/1e6)
	if s.times > 1 {
		why = fmt.Sprintf("not watched for %.1f s in all: the monitor itself stood still %d times, first at %.1f s", float64(s.total)/1000, s.times, float64(s.first)/1e6)
	}
	return []Lack{{AllAlarms, why}}
}
