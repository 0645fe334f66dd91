package alarms

import "tetherbell/decode"

// borneOut is host time enough for any leap of a bridge's clock.
const borneOut = int64(1) << 40

// Misses says that lines are missing from the input here, and ticks with them,
// that had come: a recorder could not keep them, or they cannot be read any more.
// The bridge did not begin anew for that, nobody was silent, the monitor did not
// stand still, and none of them was lost on the wire.
func (c *course) Misses() {
	c.clock.misses()
	c.still.ticks = decode.Ticks{}
}

// Misses is that of Engine.
func (k *Clock) Misses() { k.c.misses() }

// misses has the next line of each bridge lie where its own time says, however far
// that is.
func (c *clock) misses() {
	c.hole, c.hostRef, c.ahead = true, unknownHost, unknownHost
	if c.many == nil {
		return
	}
	for i := range c.many.all {
		b := &c.many.all[i]
		b.hole, b.quiet, b.late = true, unknownHost, unknownHost
	}
}

// nextOf tells how a line follows the last one of its bridge, with a hole in the
// input between them or without.
func nextOf(k *decode.Stream, s *decode.Sample, host int64, hole bool) decode.Step {
	if !hole {
		return k.Next(s, host)
	}
	step := k.Next(s, borneOut)
	step.Gap = 0
	return step
}
