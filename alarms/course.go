package alarms

import (
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
}

func (c *course) start(about craft.Craft, o Options, ds []detect.Detector, asked func()) {
	c.clock, c.detectors, c.asked = newClock(), ds, asked
	c.found = make([]detect.Finding, 0, 32)
	c.bench.Baud = o.Baud
	c.known = newKnowledge(about, &c.bench)
	c.clock.now = max(0, o.Start)
	c.bench.Now = c.clock.now
}

// observe takes one good line. due is to be called after it. It returns the
// line's engine time, and whether the bridge has begun anew with it.
func (c *course) observe(s *decode.Sample, size int) (at int64, restart bool) {
	at, step := c.clock.next(s)
	if !c.clock.hostKnown() && !step.FirstLine && !step.Restart {
		c.walk(at)
	}
	if step.Restart {
		c.restart()
	}
	c.clock.arrive(at, step)
	c.bench.Now = c.clock.now
	c.bench.Silent = 0
	c.lastGood = c.clock.now
	c.tally.good(&c.bench.Link, step.Gap, size)
	c.known.learn(&c.bench, s, at)
	c.in = detect.Input{S: s, At: at}
	for _, d := range c.detectors {
		d.Observe(&c.bench, &c.in)
	}
	return at, step.Restart
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
func (c *course) bad(size int) { c.tally.bad(&c.bench.Link, size) }

// tick takes the host's clock, and reports whether engine time has begun: due
// is to be called then.
func (c *course) tick(hostMS int64) bool {
	c.clock.tick(hostMS * 1000)
	if !c.clock.started {
		return false
	}
	c.bench.Now = c.clock.now
	c.bench.Silent = c.clock.silent()
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
		c.due()
	}
	if at-from >= silentStep {
		c.nextJudge = min(c.nextJudge, at) // the line itself is still to be judged
	}
}

// restart drops what must not be joined over a restart of the bridge.
func (c *course) restart() {
	c.restarts++
	c.known.restart(&c.bench, c.clock.now)
	for _, d := range c.detectors {
		d.Reset()
	}
}
