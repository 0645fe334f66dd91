package alarms

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// bridgeLead: a line of another bridge may lie so much, microseconds, after
	// the newest of the first one, whose piece is still on its way: a read that
	// gathers for 8 ms on a port that hands over every 16 ms (common practice, no
	// source), and a tick of 20 ms.
	bridgeLead = 40_000
	// bridgeSlew is the part of a line's way that a better estimate may move it
	// by: the spacing of its samples is hardly changed.
	bridgeSlew = 16
)

// bridges are several bridges on one bench. The first that is heard is the
// reference: engine time is its time, as if it were alone. The time of the
// others is brought there over the host's clock, on which the lines of all
// arrive; see envelope.
type bridges struct {
	from int   // whose lines come now
	host int64 // when their piece was read, microseconds; unknownHost before the first
	ref  int   // the reference; -1 before the first good line
	all  [decode.MaxBridges]bridge
	n    int // so many have been named or heard
}

// A bridge is one of them.
type bridge struct {
	heard  bool
	stream decode.Stream // of another than the reference, whose is the clock's
	own    int64         // its unwrapped time of the newest line; of the reference: engine time
	line   int64         // engine time of the newest line, evenly moved on
	told   int64         // the same as it was told
	at     int64         // host time of the newest good line; unknownHost before it
	quiet  int64         // host time of the first tick after it; unknownHost before that
	late   int64         // host time since which its lines lie far before engine time; unknownHost when they do not
	env    envelope

	tally tally
	link  detect.LinkCounts
	tags  uint32 // kinds of line that are taken from it, a bit each
	pace  linePace
}

func newBridges() *bridges {
	m := &bridges{host: unknownHost, ref: -1, n: 1}
	for i := range m.all {
		b := &m.all[i]
		b.at, b.quiet, b.late = unknownHost, unknownHost, unknownHost
	}
	return m
}

// turn says that the lines that follow are of a bridge, from 1, in a piece that
// was read at a time of the host. Another number is no bridge.
func (c *clock) turn(n int, host int64) {
	if n < 1 || n > decode.MaxBridges {
		return
	}
	if c.many == nil {
		c.many = newBridges()
		if c.started { // what came before is of bridge 1
			c.many.ref, c.many.all[0].heard = 0, true
		}
	}
	m := c.many
	m.from, m.host, m.n = n-1, host, max(m.n, n)
}

// other reports whether the lines that come are of another bridge than the
// reference. The first good line decides which that is.
func (m *bridges) other() bool {
	if m.ref < 0 {
		m.ref = m.from
	}
	return m.from != m.ref
}

// nextOther places a good line of another bridge on the engine's clock.
func (c *clock) nextOther(s *decode.Sample) (at int64, step decode.Step) {
	m := c.many
	b := &m.all[m.from]
	since := unknownHost
	if b.at != unknownHost {
		since = max(0, m.host-b.at)
	}
	step = b.stream.Next(s, since)
	begins := step.FirstLine || step.Restart
	if begins {
		b.env, b.own = envelope{}, 0
	}
	if step.DT < 0 {
		return max(0, b.told+step.DT), step
	}
	b.own += step.DT
	b.env.take(b.own, m.host)
	aim := c.meets(b.own + b.env.offset(b.own))
	most := max(c.line+c.silent()+bridgeLead, b.told)
	if begins {
		b.line = min(max(aim, b.told), most)
	} else {
		b.line = steer(b.line, step.DT, aim)
		if b.line-aim > aheadMost {
			// What its first lines told was too late: they were kept, and came in a heap.
			b.line = max(aim, b.told)
		}
	}
	if at = max(min(b.line, most), b.told); c.behind(b, at) {
		// Its clock has lost time, or its lines are later than they were.
		b.env = envelope{}
		b.env.take(b.own, m.host)
		b.line, at = c.now, c.now
	}
	return at, step
}

// meets is the engine time of a moment of the host's clock, by the reference.
func (c *clock) meets(host int64) int64 {
	r := &c.many.all[c.many.ref]
	if !r.env.heard {
		return c.now
	}
	// An offset changes by a hundredth of a step at most: twice is to the
	// microsecond.
	t := host - r.env.offset(r.own)
	t = host - r.env.offset(t)
	return host - r.env.offset(t)
}

// resumes is the engine time of the reference's first line after its restart: by the
// host's clock, as its old one told it, less what its lines had to wait on average. So
// the others' lines keep their places, and time is hardly lost or won, restart
// after restart.
func (c *clock) resumes() int64 {
	r := &c.many.all[c.many.ref]
	return min(c.meets(c.many.host)-r.env.wait/64, c.line+c.silent()+bridgeLead)
}

// steer moves a line on by its bridge's own step and by a part of it towards
// where it should be. Where it has fallen far behind it is set there.
func steer(line, dt, aim int64) int64 {
	line += dt
	off := aim - line
	if off > aheadMost {
		return aim
	}
	return line + min(max(off, -dt/bridgeSlew), dt/bridgeSlew)
}

// behind reports whether a bridge's lines have lain far before engine time for
// longer than a heap of lines that were held up takes.
func (c *clock) behind(b *bridge, at int64) bool {
	host := c.many.host
	switch {
	case c.now-at <= aheadMost+bridgeLead:
		b.late = unknownHost
	case b.late == unknownHost || host < b.late:
		b.late = host
	case host-b.late >= aheadWait:
		b.late = unknownHost
		return true
	}
	return false
}

// arriveOther makes a line of another bridge the newest of it.
func (c *clock) arriveOther(at int64, step decode.Step) {
	b := &c.many.all[c.many.from]
	if step.DT >= 0 {
		b.told = at
	}
	b.hears(c.many.host)
	c.now = max(c.now, at)
}

func (b *bridge) hears(host int64) {
	b.heard, b.at, b.quiet = true, host, unknownHost
}

// reference takes a line of the reference, whose engine time is known; anew says
// that it does not lie its own step after the one before it.
func (m *bridges) reference(at int64, step decode.Step, anew bool) {
	b := &m.all[m.ref]
	if anew || step.FirstLine || step.Restart {
		b.env = envelope{}
	}
	if step.DT >= 0 && m.host != unknownHost {
		b.own = at
		b.env.take(at, m.host)
	}
	b.hears(m.host)
}

// tick takes the host's clock, which stepped back by some time.
func (m *bridges) tick(host, back int64) {
	for i := range m.all {
		b := &m.all[i]
		switch {
		case !b.heard:
		case b.quiet == unknownHost:
			b.quiet = host
		default:
			b.quiet -= back
		}
	}
}

// silence is how long the host has seen no good line of a bridge, at least.
func (c *clock) silence(b *bridge) int64 {
	if b.quiet == unknownHost {
		return 0
	}
	return c.hostNow - b.quiet
}

// silentAll is how long the host has seen no good line of any bridge.
func (c *clock) silentAll() int64 {
	if c.many == nil {
		return c.silent()
	}
	least, heard := int64(0), false
	for i := range c.many.all {
		b := &c.many.all[i]
		if s := c.silence(b); b.heard && (!heard || s < least) {
			least, heard = s, true
		}
	}
	return least
}
