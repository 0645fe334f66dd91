package main

import "tetherbell/link"

// growPause is how long a recording may stand still before our own clock
// takes over from its writer's: over ten of the writer's ticks.
const growPause = 1500 // ms

// A follow reads a recording that is still being written. Its clock is the
// writer's, for as long as the writer writes.
type follow struct {
	desk  *desk
	cut   *link.Splitter
	clock followClock
	item  link.Item
	now   int64
	line  func([]byte)
	ended bool // the writer said so
}

func newFollow(d *desk) *follow {
	f := &follow{desk: d, cut: link.NewSessionSplitter()}
	f.line = f.take
	return f
}

// feed takes what was read at our own time now; nothing means that all there
// was has been read.
func (f *follow) feed(p []byte, now int64) {
	if len(p) == 0 {
		f.clock.caughtUp(now)
		return
	}
	f.now = now
	f.clock.grew = now
	f.cut.Feed(p, f.line)
}

func (f *follow) take(line []byte) {
	if f.ended {
		return
	}
	link.ParseItem(line, &f.item)
	switch f.item.Kind {
	case link.At:
		if at, ok := f.clock.at(f.item.MS); ok {
			f.item.MS = at
			f.desk.item(&f.item)
		}
	case link.Bridge:
		f.item.US += 1000 * f.clock.offset
		f.desk.item(&f.item)
	case link.End:
		f.ended = true
	default:
		f.desk.item(&f.item)
	}
}

// A followClock makes one host clock out of the ticks of a growing recording
// and our own. All times are milliseconds.
type followClock struct {
	started bool  // a tick was given
	last    int64 // the last one
	theirs  bool  // the recording has ticks
	offset  int64 // of their clock, when ours ruled before it
	ahead   bool  // ours has gone beyond theirs
	caught  bool
	base    int64 // our time when we had read all there was
	grew    int64 // our time when the recording last grew
}

func (c *followClock) caughtUp(now int64) {
	if !c.caught {
		c.caught, c.base = true, now
	}
}

// at takes a tick of the recording and returns the tick to give.
func (c *followClock) at(ms int64) (int64, bool) {
	if !c.theirs {
		c.theirs = true
		if c.started {
			c.offset = c.last - ms
		}
	}
	ms += c.offset
	if c.ahead && ms <= c.last {
		return 0, false // time that our own clock has told already
	}
	c.ahead = false
	c.started, c.last = true, ms
	return ms, true
}

// own returns our own tick where the recording gives none.
func (c *followClock) own(now int64) (int64, bool) {
	var ms int64
	switch {
	case !c.caught:
		return 0, false
	case !c.theirs:
		ms = now - c.base
	case now-c.grew < growPause:
		return 0, false
	default:
		// The silence began when it stopped growing, not when we lost patience.
		if !c.ahead {
			c.ahead = true
			c.base = c.grew - c.last
		}
		ms = now - c.base
	}
	if c.started && ms <= c.last {
		return 0, false
	}
	c.started, c.last = true, ms
	return ms, true
}
