package account

import (
	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A Collector gathers an account while the lines of a session pass. It is fed
// with good lines, bad ones, ticks of the host's clock and what the alarms said,
// in their order, and with nothing else: its time is engine time of its own. It
// allocates nothing for a line in steady state. One goroutine owns it.
type Collector struct {
	f     *alarms.Follower
	bench *detect.Bench
	found []detect.Finding // scratch

	over  bool // the motors work over armed idle
	turns bool // armed, and the rotors turn

	spans    spans
	axes     axes
	shakes   shakes
	motors   motors
	stick    grid
	lift     lift
	pack     pack
	air      air
	link     lines
	told     told
	marks    []Mark
	set      settings
	machines machines
	dropped  int // marks that found no room
}

// New returns a collector for the craft that the session is judged by; baud 0:
// not known.
func New(c craft.Craft, baud int) *Collector {
	k := &Collector{
		f: alarms.NewFollower(c, alarms.Options{Baud: baud}), found: make([]detect.Finding, 0, 8),
		axes: newAxes(), motors: newMotors(), stick: newGrid(1), lift: newLift(), pack: newPack(), air: newAir(),
		shakes: shakes{w: welch{channels: 3}},
	}
	k.bench = k.f.Bench()
	k.spans.armed.from, k.spans.stopped.from, k.spans.silent.from = -1, -1, -1
	return k
}

// Sample takes one good line, of any tag; size is its length on the wire with
// its line end, in bytes.
func (c *Collector) Sample(s *decode.Sample, size int) {
	before, first := c.f.LastGood(), c.bench.Link.Good == 0
	at, restart := c.f.Sample(s, size)
	if restart {
		c.restart()
	}
	if !first {
		c.spans.quiet(before, c.f.LastGood())
	}
	c.link.take(s.Tag, at)
	c.told.measured(c.bench, s.Tag, at)
	switch s.Tag {
	case decode.Axes:
		c.axes.take(c, at)
		c.motors.observe(c, s, at)
	case decode.Out:
		c.state()
		c.motors.out(c, at)
		c.motors.observe(c, s, at)
	case decode.ERPM:
		c.state()
		c.motors.erpm(c, at)
		c.motors.observe(c, s, at)
	case decode.Accel:
		c.shakes.take(c, at)
		c.motors.observe(c, s, at)
	case decode.Load:
		c.lift.take(c.bench, at)
		c.motors.observe(c, s, at)
	case decode.Temp:
		c.motors.temp(c, at)
	case decode.Pack:
		c.pack.take(c.bench, at)
	case decode.Air:
		c.air.take(c, at)
	case decode.State:
		c.state()
		c.spans.take(c.bench, at)
		if v := c.bench.Stick[0]; v.OK {
			c.stick.at(at)
			c.stick.add(0, v.V)
		}
		c.motors.observe(c, s, at)
	case decode.Set:
		c.set.take(s, at)
	case decode.Craft:
		c.machines.take(s, at)
	case decode.Note:
		c.mark(string(s.Text), "bridge")
	}
}

// From says that the lines that follow came from a bridge, from 1, in a piece
// that was read at a time of the host's clock, microseconds.
func (c *Collector) From(bridge int, hostUS int64) { c.f.From(bridge, hostUS) }

// Misses says that lines are missing from the recording here that had come.
func (c *Collector) Misses() { c.f.Misses() }

// state works out what the motors do, when a line may have changed it.
func (c *Collector) state() {
	b := c.bench
	c.over = b.Armed == detect.Yes && detect.OverIdle(b)
	was := c.turns
	c.turns = b.Armed == detect.Yes && rotorsTurn(b)
	if c.turns {
		now := turningNow(b)
		c.axes.control.half.join(&now)
	}
	if was && !c.turns {
		c.axes.control.drop()
		c.axes.rate.drop()
		c.shakes.w.drop()
	}
}

// rotorsTurn reports whether rotors turn, by their speeds, else by what drives
// them.
func rotorsTurn(b *detect.Bench) bool {
	told := false
	for i := range b.Motors {
		if b.ERPM[i].OK {
			if told = true; b.ERPM[i].V > 0 {
				return true
			}
		}
	}
	return !told && (detect.AnyOutput(b) || b.Thr.OK && b.Thr.V > 0)
}

// turningNow is how fast the shafts turn, where the poles are known.
func turningNow(b *detect.Bench) (r turning) {
	r.blades = b.Craft.Blades
	for i := range b.Motors {
		if v := b.RPM[i].V / 60; b.RPM[i].OK && v > 0 {
			if r.low == 0 || v < r.low {
				r.low = v
			}
			r.high = max(r.high, v)
		}
	}
	return r
}

// restart drops what must not be joined over a restart of the bridge.
func (c *Collector) restart() {
	c.link.restart()
	c.axes.control.drop()
	c.axes.rate.drop()
	c.shakes.w.drop()
	c.motors.restart()
	c.pack.restart()
	c.air.restart()
}

// Bad takes one rejected line of size bytes.
func (c *Collector) Bad(cause decode.Cause, size int) {
	c.f.Bad(size)
	if cause < decode.CauseCount {
		c.link.causes[cause]++
	}
}

// Tick takes the host's clock, milliseconds since any fixed start.
func (c *Collector) Tick(hostMS int64) { c.f.Tick(hostMS) }

// Lost takes what a recording says it could not take: so many lines.
func (c *Collector) Lost(lines uint64) { c.link.unrecorded += lines }

// Events takes what the engine said at this moment.
func (c *Collector) Events(events []alarms.Event) {
	for i := range events {
		c.told.json = events[i].AppendJSON(c.told.json[:0], "")
		c.told.take(c.told.json)
	}
}

// Told takes what was said on the day, as a recording keeps it. ok is false
// where it is not understood.
func (c *Collector) Told(json []byte) (ok bool) { return c.told.take(json) }

// Mark takes a mark of a recording: what a person noted, or what came of a step
// of a card.
func (c *Collector) Mark(text string) {
	by := "person"
	if _, _, _, own := runcard.ParseMark(text); own {
		by = "card"
	}
	c.mark(text, by)
}

// Own takes what the monitor noted of itself and its ports.
func (c *Collector) Own(text string) { c.mark(text, "monitor") }

// maxMarks bounds the marks that are kept: more than any page shows.
const maxMarks = 1000

func (c *Collector) mark(text, by string) {
	if len(c.marks) >= maxMarks {
		c.dropped++
		return
	}
	c.marks = append(c.marks, Mark{At: seconds(c.bench.Now), Text: text, By: by})
}

func seconds(us int64) float64 { return float64((us+500)/1000) / 1000 }

// Lines is how many good, bad and lost lines there were so far.
func (c *Collector) Lines() (good, bad, lost uint64) {
	l := &c.bench.Link
	return l.Good, l.Bad, l.Lost
}

// Raised is how often an alarm of each kind was raised so far.
func (c *Collector) Raised() [detect.KindCount]uint64 { return c.told.raised }
