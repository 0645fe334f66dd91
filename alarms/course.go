package alarms

import (
	"strconv"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A course is the way of the input up to the judgements: engine time, what is
// known of the bench, the detectors that look at it, and when they are asked.
// It depends on the input and its order alone, so that two courses with the
// same input stand at the same place whoever runs them.
type course struct {
	clock     clock
	bench     detect.Bench
	known     knowledge
	detectors []detect.Detector
	asked     func() // judges; it must call judged

	found     []detect.Finding // scratch
	in        detect.Input     // here, since what detectors are handed would not stay on the stack
	nextJudge int64
	nextCover int64
	tally     tally
	lastGood  int64 // engine time of the last good line
	restarts  int
	still     standstill
	blind     blind
	pace      linePace // of a bench with one bridge
}

func (c *course) start(about craft.Craft, o Options, ds []detect.Detector, asked func()) {
	c.clock, c.detectors, c.asked = newClock(), ds, asked
	c.found = make([]detect.Finding, 0, 32)
	c.bench.Baud = o.Baud
	c.known = newKnowledge(about, &c.bench)
	c.clock.now = max(0, o.Start)
	c.bench.Now = c.clock.now
	if len(o.Sources) > 1 {
		c.name(o.Sources, o.Bauds)
	}
	for i := range c.bench.Bridges { // it may have been heard before
		c.bench.Bridges[i].Named = c.bench.Bridges[i].Named && o.Start <= 0
	}
}

// From says that the lines that follow came from a bridge, from 1, in a piece
// that was read at a time of the host's clock, microseconds since the same start
// as the ticks. Without it all are of one bridge. Whose lines of a tag are taken
// is decided before: see decode.Owners.
func (c *course) From(bridge int, hostUS int64) {
	alone := c.clock.many == nil
	c.clock.turn(bridge, hostUS)
	m := c.clock.many
	if m == nil {
		return
	}
	if alone { // what came before is of bridge 1
		m.all[0].tally, m.all[0].link = c.tally, c.bench.Link
	}
	if len(c.bench.Bridges) < m.n {
		c.name(nil, nil)
	}
}

// name makes room for the bridges. A recording may have more than it names.
func (c *course) name(names []string, bauds []int) {
	n := decode.MaxBridges
	if len(names) > 1 && len(names) < n && len(c.bench.Bridges) == 0 {
		n = len(names)
	}
	had := c.bench.Bridges
	c.bench.Bridges = make([]detect.Bridge, n)
	copy(c.bench.Bridges, had)
	for i := len(had); i < n; i++ {
		b := &c.bench.Bridges[i]
		if b.Name = "bridge " + strconv.Itoa(i+1); i < len(names) {
			b.Name, b.Named = names[i], true
		}
		if i < len(bauds) {
			b.Baud = bauds[i]
		}
	}
}

// observe takes one good line. due is to be called after it. It returns the
// line's engine time, and whether the bridge has begun anew with it.
func (c *course) observe(s *decode.Sample, size int) (at int64, restart bool) {
	at, step := c.clock.next(s)
	armed := c.bench.LastArmed == detect.Yes // as it was last told
	if !c.clock.hostKnown() && c.clock.many == nil && !step.FirstLine && !step.Restart && !step.Hole {
		c.walk(at)
	}
	if s.Moved != 0 && c.clock.many != nil {
		c.moves(s)
	} else if restart = step.Restart && !c.restartsIdle(step); restart {
		c.restart()
	}
	if s.Passed && c.clock.many != nil {
		c.passes(s)
	}
	c.clock.arrive(at, step)
	c.bench.Now = c.clock.now
	silent := c.bench.Silent
	c.sees(silent, armed)
	c.bench.Silent = 0
	c.lastGood = c.clock.now
	if c.clock.many == nil {
		c.pace.line(c.bench.Now)
		before := c.bench.Link
		c.tally.good(&c.bench.Link, step.Gap, size)
		c.excuse(0, silent, &before)
		if !restart { // which has seen to it
			paused(&c.bench, ^uint32(0), silent)
		}
		c.known.learn(&c.bench, s, at)
	} else {
		c.hears(s, at, step, size, restart)
	}
	doubts(&c.bench)
	c.in = detect.Input{S: s, At: at}
	for _, d := range c.detectors {
		d.Observe(&c.bench, &c.in)
	}
	return at, restart
}

// due judges where it is time to.
func (c *course) due() {
	if c.bench.Now >= c.nextJudge {
		c.asked()
	}
}

// judged notes that all detectors were asked, and reports whether what is not
// watched is to be looked at.
func (c *course) judged() (cover bool) {
	now := c.bench.Now
	if cover = c.covers(); cover {
		c.nextCover = now - now%coverStep + coverStep
	}
	c.nextJudge = now - now%judgeStep + judgeStep
	return cover
}

func (c *course) covers() bool { return c.bench.Now >= c.nextCover }

// bad takes one rejected line.
func (c *course) bad(size int) {
	if m := c.clock.many; m != nil {
		b := &m.all[m.from]
		b.tally.bad(&b.link, size)
		c.sum()
		return
	}
	c.tally.bad(&c.bench.Link, size)
}

// hears takes a good line of one of several bridges.
func (c *course) hears(s *decode.Sample, at int64, step decode.Step, size int, restart bool) {
	m := c.clock.many
	b := &m.all[m.from]
	before := b.link
	b.tally.good(&b.link, step.Gap, size)
	c.excuse(m.from, c.bench.Bridges[m.from].Silent, &before)
	b.tags |= 1 << s.Tag
	b.pace.line(c.bench.Now)
	c.sum()
	told := &c.bench.Bridges[m.from]
	if !restart {
		paused(&c.bench, told.Tags, told.Silent)
	}
	told.Heard, told.Tags, told.Silent = true, b.tags, 0
	if s.Aside != decode.Unknown {
		st := &c.bench.Streams[s.Aside]
		st.Aside, st.AsideOf = c.bench.Now, m.from
	}
	if s.Tag == decode.Hello && m.from != m.ref {
		return // name and boot number are those of the first bridge
	}
	c.known.learn(&c.bench, s, at)
}

// sum adds up what the bridges brought.
func (c *course) sum() {
	m := c.clock.many
	var all detect.LinkCounts
	for i := range c.bench.Bridges {
		l := &m.all[i].link
		c.bench.Bridges[i].Link = *l
		all.Good += l.Good
		all.Bad += l.Bad
		all.Lost += l.Lost
		all.Bytes += l.Bytes
		all.Faults += l.Faults
		all.Own.Bad += l.Own.Bad
		all.Own.Lost += l.Own.Lost
		all.Own.Faults += l.Own.Faults
	}
	c.bench.Link = all
}

// tick takes the host's clock, and reports whether engine time has begun: due
// is to be called then.
func (c *course) tick(hostMS int64) bool {
	c.stands(hostMS)
	c.clock.tick(hostMS * 1000)
	if !c.clock.started {
		return false
	}
	c.bench.Now, c.still.at = c.clock.now, c.clock.now
	c.bench.Silent = c.clock.silentAll()
	for i := range c.bench.Bridges {
		if m := c.clock.many; m != nil {
			c.bench.Bridges[i].Silent = c.clock.silence(&m.all[i])
		}
	}
	doubts(&c.bench)
	return true
}

// walk lives through a hole in the bridge's time, where no host clock tells
// of silence: it ends at the line that came after.
func (c *course) walk(at int64) {
	from := c.clock.line
	for now := from + silentStep; now <= at && now-from <= maxSilence; now += silentStep {
		if now < c.clock.now {
			continue
		}
		c.clock.now = now
		c.bench.Now, c.bench.Silent = now, now-from
		doubts(&c.bench)
		c.due()
	}
	if at-from >= silentStep {
		c.nextJudge = min(c.nextJudge, at) // the line itself is still to be judged
	}
}

// restartsIdle notes the restart of a bridge of which nothing is taken: nothing
// that is kept was of it.
func (c *course) restartsIdle(step decode.Step) bool {
	m := c.clock.many
	if !step.Restart || m == nil || c.bench.Bridges[m.from].Supplies() {
		return false
	}
	c.restarts++
	c.tellRestart(0)
	return true
}

// restart drops what must not be joined over a restart of the bridge. Of one of
// several it is what came from that one, and all that was made of it together with
// what came from others, whose lines keep their places: see clock.resumes.
func (c *course) restart() {
	c.restarts++
	tags, silent := ^uint32(0), c.bench.Silent
	if m := c.clock.many; m != nil {
		silent, tags = c.bench.Bridges[m.from].Silent, c.bench.Bridges[m.from].Tags
	}
	c.tellRestart(tags)
	c.forget(tags, silent)
}

// tellRestart notes a restart with these tags for those who tell it, unless one is
// being told that matters more.
func (c *course) tellRestart(tags uint32) {
	b := &c.bench
	if b.RestartAt >= 0 && c.clock.now-b.RestartAt < detect.Second && detect.RestartLevel(b.RestartTags) > detect.RestartLevel(tags) {
		return
	}
	b.RestartAt, b.RestartArmed, b.RestartTags, b.RestartSilent = c.clock.now, b.LastArmed == detect.Yes, tags, b.Silent
	if m := c.clock.many; m != nil {
		b.RestartBridge, b.RestartSilent = m.from, b.Bridges[m.from].Silent
	}
}

// moves notes that another bridge than before is at this port, of which nothing has
// begun anew. Its tags pass on, each with its first line. Of two that change places the
// one that matters more is told, for as long as that is shown.
func (c *course) moves(s *decode.Sample) {
	b, from := &c.bench, int(s.Moved)-1
	if v := &b.Moved; !v.Seems && v.From == c.clock.many.from && v.To == from && c.clock.now-v.At <= detect.MovedShown &&
		detect.RestartLevel(v.Tags) > detect.RestartLevel(s.Carries) {
		return
	}
	b.Moved = detect.Move{At: c.clock.now, From: from, To: c.clock.many.from, Tags: s.Carries}
	if from < len(b.Bridges) {
		b.Moved.Silent = b.Bridges[from].Silent
	}
}

// passes takes a tag from the port that it came by so far: it comes by another from
// this line on, which does not go on where that one ended.
func (c *course) passes(s *decode.Sample) {
	m, bit := c.clock.many, uint32(1)<<s.Tag
	for i := range c.bench.Bridges {
		if m.all[i].tags&bit != 0 && i != m.from && s.Seems && detect.Vital(s.Tag) {
			c.seemsMoved(i, bit)
		}
		m.all[i].tags &^= bit
		c.bench.Bridges[i].Tags = m.all[i].tags
	}
	c.forget(bit, 0)
}

// seemsMoved notes that a stream comes by this port now, and by one that talks no more.
func (c *course) seemsMoved(from int, bit uint32) {
	v, to := &c.bench.Moved, c.clock.many.from
	if !v.Seems || v.From != from || v.To != to || c.clock.now-v.At > detect.Second {
		*v = detect.Move{At: c.clock.now, From: from, To: to, Seems: true}
	}
	v.Tags |= bit | c.bench.SetAside(from, to)
}

// forget drops what must not be joined with what comes of these tags from now on.
func (c *course) forget(tags uint32, silent int64) {
	c.known.forgetStreams(&c.bench, tags, silent)
	for _, d := range c.detectors {
		if d.Kind().Heeds(tags) {
			d.Reset()
		}
	}
}
