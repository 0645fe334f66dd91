package cable

import "math"

const (
	// leapLeast is the leap of bridge time between two lines that is looked at.
	leapLeast = 60_000 // us
	// stepLeast is the least step forward that is told, and stepAhead how many
	// lines it may lie over: beyond them, lines were lost.
	stepLeast = 100_000 // us
	stepAhead = 8
	// quietLeast without a line, by the host's clock, is a silence; without a
	// host's clock lines that are lost for lostLeast are.
	quietLeast = 400_000   // us
	lostLeast  = 1_000_000 // us
	// lateLeast: a line that comes so much later than the quickest of the last
	// seconds was held up. A host's clock that stands in the recording every
	// 100 ms makes lines look earlier, never later. backLag: it is over.
	lateLeast = 150_000 // us
	backLag   = 75_000  // us
	// heapMost: held-up lines come in a heap within this; what stays late is no
	// heap. heapLeast is how much more bridge time than host time a heap spans.
	heapMost  = 2_000_000 // us
	heapLeast = 100_000   // us
	// reopened: a port that is back is opened within this.
	reopened = 3_000_000 // us
	// floorSpan is half of the time over which the quickest line counts. It is
	// short, so that a clock that runs off by 1 % is not taken for late lines.
	floorSpan = 2_000_000 // us
	unset     = math.MaxInt64
)

// A clock compares the bridge's time with the host's, both in microseconds. The
// difference, host less bridge, is how long lines take, plus what the two clocks
// differ by. Delays only make it larger, so its least over a while moves with
// the clocks alone.
type clock struct {
	host   int64 // of the last tick
	since  int64 // host time of the first tick after the last line; noHost before it
	wanted int64 // the same, after the last good line
	quiet  int64 // a silence before the good line that is to come, 0 where there was none
	bridge int64 // of the newest line, since the last beginning
	fresh  bool  // a line came since the last tick

	floors    [2]int64 // least difference of this stretch and of the one before
	floorFrom int64

	// An episode of late lines.
	open     bool
	openedAt int64 // host
	openedOn int64 // bridge
	worst    int64
	lines    int
	gaps     int
	excused  int64 // host time until which late lines are those of a cable that is back
	lateAt   int64 // host time of the last late line
	heap     int64 // how late the first line of a heap was that has just ended

	leap     int64 // of bridge time, that is being looked into
	leapAt   int64 // host
	before   int64 // least difference before it
	after    int64 // and since
	stepped  int64
	envelope envelope
	ppm      float64
	drifts   bool
}

func (c *clock) start() {
	c.host, c.since, c.wanted = noHost, noHost, noHost
	c.anew()
}

// anew forgets what was known of the bridge's clock.
func (c *clock) anew() {
	c.bridge, c.floors, c.floorFrom = 0, [2]int64{unset, unset}, c.host
	c.open, c.leap, c.heap, c.excused = false, 0, 0, 0
	c.envelope.n = 0
}

// silent returns how long the host has heard no good line, at least; noHost where
// it has no clock.
func (c *clock) silent() int64 {
	if c.host == noHost || c.wanted == noHost {
		return min(c.host, 0)
	}
	return c.host - c.wanted
}

// heard takes the coming of any line, and returns the silence before it.
func (c *clock) heard() int64 {
	if c.since == noHost {
		return 0
	}
	quiet := c.host - c.since
	c.since = noHost
	if quiet >= quietLeast {
		c.quiet = max(c.quiet, quiet)
	}
	return quiet
}

// floor returns the least difference of the last seconds.
func (c *clock) floor() int64 { return min(c.floors[0], c.floors[1]) }

// line takes a good line that lies so far after the newest one, and reports how
// late it came where that is very late.
func (c *clock) line(dt int64, gap int) (lag int64, late bool) {
	if dt > 0 {
		c.bridge += dt
	}
	c.wanted, c.fresh = noHost, true
	if c.open {
		c.lines++
		c.gaps += gap
	}
	floor := c.floor()
	if c.host == noHost || floor == unset {
		return 0, false
	}
	lag = c.host - (c.bridge + min(dt, 0)) - floor
	return lag, lag > lateLeast
}

// late takes a late line. Behind a hole they were kept while the port was opened
// again, and are no fault of their own.
func (c *clock) late(lag int64) {
	if c.host < c.excused {
		return
	}
	if !c.open {
		c.open, c.openedAt, c.openedOn, c.worst, c.lines, c.gaps = true, c.host, c.bridge, 0, 0, 0
	}
	c.worst, c.lateAt = max(c.worst, lag), c.host
}

// leapt takes a leap of bridge time over which no line was lost.
func (c *clock) leapt(dt int64) {
	if dt < stepLeast || c.leap != 0 || c.host == noHost || c.floor() == unset {
		return
	}
	c.leap, c.leapAt, c.before, c.after = dt, c.host, c.floor(), unset
}

// tick takes the host's clock. One that went back is begun with anew.
func (c *clock) tick(host int64) {
	back := c.host != noHost && host < c.host
	c.host = host
	if back {
		c.since, c.wanted = noHost, noHost
		c.anew()
	}
	if c.since == noHost {
		c.since = host
	}
	if c.wanted == noHost {
		c.wanted = host
	}
	if !c.fresh || back {
		return
	}
	c.fresh = false
	c.compare(host - c.bridge)
}

// stood takes a standstill of whoever ticks, that ended with the last tick: it is
// no silence of the line, and what comes late behind it was kept here.
func (c *clock) stood(us int64) {
	if c.since != noHost && c.since < c.host {
		c.since = min(c.since+us, c.host)
	}
	c.open, c.heap, c.leap, c.lateAt = false, 0, 0, 0
	c.excused = c.host + reopened
}

// compare takes the difference at a tick with a line before it.
func (c *clock) compare(diff int64) {
	if c.leap != 0 {
		c.after = min(c.after, diff)
		if c.host-c.leapAt > 1_000_000 {
			fell := c.before - c.after
			if off := fell - c.leap; off < stepLeast/2 && off > -max(stepLeast/2, c.leap/5) {
				c.stepped = c.leap
				c.floors, c.floorFrom = [2]int64{unset, unset}, c.host
				c.envelope.n = 0
			}
			c.leap = 0
		}
	}
	if c.open {
		c.ends(diff)
	}
	if c.host-c.floorFrom >= floorSpan {
		c.floors[1], c.floors[0], c.floorFrom = c.floors[0], unset, c.host
	}
	c.floors[0] = min(c.floors[0], diff)
	if c.envelope.take(c.host, diff) {
		c.ppm, c.drifts = c.envelope.drift()
	}
}

// ends looks whether late lines have caught up.
func (c *clock) ends(diff int64) {
	took := c.host - c.openedAt
	switch floor := c.floor(); {
	case took > heapMost:
		c.open = false
	case floor != unset && diff-floor < backLag:
		c.open = false
		// Lines of a heap come whole, but for a few.
		if c.bridge-c.openedOn-took > heapLeast-lateLeast/2 && c.lines > 2*c.gaps && c.lines >= 3 {
			c.heap = c.worst
		}
	}
}

// slow reports whether lines are late now, or have become so within the last
// seconds.
func (c *clock) slow() bool {
	return c.host != noHost && c.lateAt != 0 && c.host-c.lateAt <= 2*floorSpan
}
