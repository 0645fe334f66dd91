package alarms

import "tetherbell/decode"

// unknownHost says that the host's clock has not been heard.
const unknownHost = int64(-1)

const (
	// aheadMost: engine time may lie so much before the bridge's without more
	// ado. Streams lag each other by as much.
	aheadMost = 50_000
	// aheadWait of host time is given to a bridge whose lines were held up on
	// their way: they come in a heap, and its time catches up (common practice,
	// no source: the shortest silence that rings).
	aheadWait = 300_000
)

// clock turns bridge time and host ticks into engine time.
type clock struct {
	stream decode.Stream

	started bool
	now     int64 // engine time, never goes back
	line    int64 // engine time of the newest good line

	hostNow int64 // host time of the last tick, microseconds; unknownHost before the first
	hostRef int64 // host time of the first tick after the last good line; unknownHost before it
	ahead   int64 // host time since which engine time has lain before the bridge's; unknownHost when it does not

	many *bridges // nil: there is one bridge
}

func newClock() clock {
	return clock{hostNow: unknownHost, hostRef: unknownHost, ahead: unknownHost}
}

// hostKnown reports whether silence is judged by the host's clock.
func (c *clock) hostKnown() bool { return c.hostNow != unknownHost }

// silent returns how long the host has seen no good line, at least.
func (c *clock) silent() int64 {
	if c.hostRef == unknownHost {
		return 0
	}
	return c.hostNow - c.hostRef
}

// tick takes the host's clock. A step back of the host is taken as no time.
func (c *clock) tick(host int64) {
	if c.many != nil {
		c.many.tick(host, max(0, c.hostNow-host))
	}
	if c.hostNow != unknownHost && host < c.hostNow {
		// A recording put together from two, or a damaged #at: time that
		// cannot be trusted must not count as silence.
		if c.hostRef != unknownHost {
			c.hostRef += host - c.hostNow
		}
		c.ahead = unknownHost // its wait starts anew
	}
	c.hostNow = host
	if !c.started {
		return
	}
	if c.hostRef == unknownHost {
		c.hostRef = host
	}
	c.now = max(c.now, c.line+c.silent())
}

// next places a good line on the engine's clock. It returns the sample's
// time and what the stream says of it; the caller moves now by arrive.
func (c *clock) next(s *decode.Sample) (at int64, step decode.Step) {
	if c.many != nil && c.many.other() {
		return c.nextOther(s)
	}
	host := unknownHost
	if c.hostKnown() {
		host = c.silent()
	}
	step = c.stream.Next(s, host)
	anew := false
	switch {
	case step.FirstLine:
		at = c.now
	case step.Restart:
		// The old clock is gone. Host time since the last line, if any, is in
		// now already: the new clock starts from here.
		at = c.now
		if c.many != nil {
			at = max(at, c.resumes())
		}
	default:
		// A line that lags the very first one was taken before engine time began.
		at = max(0, c.line+step.DT)
		if step.DT >= 0 && c.stood(at) {
			at, anew = c.now, true
		}
	}
	if c.many != nil {
		c.many.reference(at, step, anew)
	}
	return at, step
}

// stood reports whether the bridge's clock has stood, or jumped too short,
// while the host saw silence. Engine time, which never goes back, would wait
// for the bridge, and nobody would judge what comes: it runs on instead.
func (c *clock) stood(at int64) bool {
	most := int64(aheadMost)
	if c.many != nil {
		most += bridgeLead
	}
	if c.now-at <= most {
		c.ahead = unknownHost
		return false
	}
	if c.ahead == unknownHost {
		c.ahead = c.hostNow
	}
	if c.hostNow-c.ahead < aheadWait {
		return false
	}
	c.ahead = unknownHost
	return true
}

// arrive makes a line of engine time at the newest heard.
func (c *clock) arrive(at int64, step decode.Step) {
	if c.many != nil && c.many.other() {
		c.arriveOther(at, step)
		return
	}
	c.started = true
	if step.FirstLine || step.Restart || at > c.line {
		c.line = at
	}
	c.now = max(c.now, at)
	c.hostRef = unknownHost
}

// A Clock gives engine time without an engine: fed with the same lines and
// ticks it says the same, to the microsecond. The zero value is not ready.
type Clock struct{ c clock }

// NewClock returns a clock that stands at nought until its first line.
func NewClock() *Clock { return &Clock{c: newClock()} }

// Sample takes one good line and returns its engine time, microseconds. A line
// of a stream that lags others lies before Now.
func (k *Clock) Sample(s *decode.Sample) (at int64) {
	at, step := k.c.next(s)
	k.c.arrive(at, step)
	return at
}

// From says that the lines that follow came from a bridge, from 1, in a piece
// that was read at a time of the host's clock, microseconds since the same start
// as the ticks. Without it all are of one bridge.
func (k *Clock) From(bridge int, hostUS int64) { k.c.turn(bridge, hostUS) }

// Tick takes the host's clock, milliseconds since any fixed start.
func (k *Clock) Tick(hostMS int64) { k.c.tick(hostMS * 1000) }

// Now is engine time, microseconds since the first good line.
func (k *Clock) Now() int64 { return k.c.now }
