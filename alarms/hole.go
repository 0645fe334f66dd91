package alarms

import "tetherbell/decode"

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
	c.stream.Misses()
	c.hostRef, c.ahead = unknownHost, unknownHost
	if c.many == nil {
		return
	}
	for i := range c.many.all {
		b := &c.many.all[i]
		b.stream.Misses()
		b.quiet, b.late = unknownHost, unknownHost
	}
}
