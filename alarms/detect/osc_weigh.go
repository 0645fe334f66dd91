package detect

import "math"

const (
	// freshPower: a tone whose power stands so many times out of its usual one
	// is no chance of the noise: noise does that once in exp(freshPower) looks.
	// Up to there, power and growth count together.
	freshPower = 7.0
	// sureGrowth is the least evidence of growth that rings: five standard
	// errors in one look, one in 3.5 million.
	sureGrowth = 12.5
	// plainGrowth stands so far above its standard errors that it is no matter
	// of chance any more, only of cause.
	plainGrowth = 10.0
	// lateShare of the growth must lie in the last step: between the third of
	// an exponential and the fifth of a swelling beat.
	lateShare = 0.25
	// leastShare of the power near the tone that it must explain: noise as
	// narrow as this comes by once in thousands of windows.
	leastShare = 0.75
	levelShare = 0.85
	// mostPerCycle is the growth a cycle beyond which nothing cyclic is seen:
	// a knock, a step. What grows faster than that is tip-over's.
	mostPerCycle = 0.5
	// kickPerCycle and kickSure bound what a kick adds to it: not more than one
	// doubling and a half a cycle, by three and a half standard errors at least.
	kickPerCycle = 1.05
	kickSure     = 3.5 * 3.5 / 2
	// oncePerCycle: what grows by more a cycle is not believed for a single look
	// unless it is sure; gusts and landings make bursts of two cycles.
	oncePerCycle = 0.35
	// leastGrowth a second: what takes over seven seconds to double is no matter
	// for a bell; if it goes on it will be over the limit, and heard for that.
	leastGrowth = 0.1
	// lineGrowth a second is the least growth that is believed of a small tone on
	// a rotor's line: four rotors that turn within a tenth of a hertz of each
	// other, as in a steady hold, beat over tens of seconds, and for several of
	// them the swell looks like an exponential of 0.2 to 0.3 a second. A loop that
	// grows so slowly there is heard from nearLimit on, three seconds or more
	// before the limit.
	lineGrowth = 0.4
	// lineAmplitude, of the limit, is the least amplitude that is believed there: a
	// sound rotor's line reaches a twentieth, and windows of half a second see it
	// swell by more.
	lineAmplitude = 0.1
	// leastAmplitude, of the limit: a tone under it is no danger yet at any
	// growth of a rate loop.
	leastAmplitude = 0.04
	// outOfBase: power over the usual power of its bin.
	outOfBase = 5.0
	// leastLock is the steadiness of the phase between output and rate.
	leastLock = 0.85
	// nearLimit, of the limit: from here on less evidence is asked for, so that
	// nothing passes the limit in silence (what rings already needs no hurry): three and a half standard errors (one
	// in 4300 for a single look) and two thirds of the power.
	nearLimit = 0.4
	nearSure  = 3.5 * 3.5 / 2
	nearShare = 0.65
	// nearRise: less is asked of what rises by a quarter at least in the window;
	// a steady tone near the limit does not.
	nearRise    = 1.25
	levelGrowth = 3.0 // standard errors of growth of a level that is still rising
	// lastCall, of the limit: here one look that shows growth is enough, and
	// two and a half standard errors of it.
	lastCall = 0.7
	lastSure = 2.5 * 2.5 / 2
	// plainOld standard errors are asked for of a tone that was there before.
	plainOld = 5.0
	// pressing, of the limit: a new tone that has come so near it and does not
	// fall rings whatever its growth, for it has grown, and fast.
	pressing      = 0.5
	pressingPower = 20.0 // over the usual power of its bin: it is new
	pressGrowth   = 2.0  // standard errors of growth of one that has not stood there
	// growHits looks in a row, and growSpan of the window's length, growth
	// must be seen for; levelHits for a steady level.
	growHits  = 2
	growSpan  = 0.1
	levelHits = 2
)

// weigh asks whether this look speaks of growth or of a steady level.
func (b *oscBand) weigh(a *oscAxis) {
	t := &b.now
	limit := a.hold.limit
	t.limit = limit
	t.evidence = 0
	if t.ok {
		t.evidence = b.chance.add(t.at, t.growth/t.growthErr, t.hz)
	}
	b.note(&b.steady, b.overLimit(a, limit))
	if b.fast {
		return
	}
	b.note(&b.run, b.grows(a, limit))
	b.note(&b.press, b.pressesNow(a, limit))
}

func (b *oscBand) note(e *evidence, seen bool) {
	if seen {
		e.hit(b.now.at, b.now.hz, b.seconds)
	} else {
		*e = evidence{}
	}
}

// grows is the test of growth in one look.
func (b *oscBand) grows(a *oscAxis, limit float64) bool {
	t := &b.now
	sure, share := chanceBar, leastShare
	if !b.young() {
		sure = max(sureGrowth, chanceBar-min(t.overBase, freshPower))
	}
	q := &t.quarters
	b.close = q[3] >= nearLimit*limit
	if b.close && q[3] > nearRise*q[0] && !a.hold.up {
		sure, share = nearSure, nearShare
		if q[3] >= lastCall*limit {
			sure = lastSure
		}
	}
	switch {
	case !t.ok, t.amplitude < leastAmplitude*limit, t.amplitude < 2*t.doubt, t.growth < leastGrowth, t.share < share:
		return false
	case t.growth > mostPerCycle*t.hz && !b.kicked():
		return false
	case t.evidence >= sure && t.overBase >= outOfBase:
	case !b.risesFromOld(limit):
		return false
	}
	// Where a rotor line or its fold lies a small tone must be past all doubt:
	// a line grows with throttle, and two rotors that drift against each other
	// swell and fade. Near the limit it is heard, whatever it is.
	strict := t.nearLine && !b.close
	if strict && (t.growth < plainGrowth*t.growthErr || t.growth < lineGrowth || t.amplitude < lineAmplitude*limit) {
		return false
	}
	return b.exponential(strict) && b.inStep(a)
}

// kicked reports whether a tone that grows by more than half a cycle's worth a
// cycle does so as a loop does that a stick or a gust kicks on its way up: near
// the limit, beyond chance, and over more than one part of the window, where a
// knock has all of it in one.
func (b *oscBand) kicked() bool {
	t := &b.now
	q := &t.quarters
	whole, late, early := math.Log(q[3]/q[0]), math.Log(q[3]/q[2]), math.Log(q[2]/q[0])
	return b.close && t.growth <= kickPerCycle*t.hz && t.share >= leastShare && t.evidence >= kickSure &&
		q[2] > q[1] && late > 0.1*whole && early > 0.25*whole
}

// risesFromOld reports whether a tone that was there all along, and so counts
// as usual, grows towards the limit. The noise beside the tone is the only
// witness then.
func (b *oscBand) risesFromOld(limit float64) bool {
	t := &b.now
	return b.close && t.growth > plainOld*t.ownErr && t.share >= levelShare &&
		t.quarters[3] > nearRise*t.quarters[0] && !t.nearLine
}

// exponential reports whether the tone's growth goes on through the window.
// The logarithm of what grows exponentially rises by a third of the whole in
// the last step of the quarters and by two thirds in the steps before. A knock
// that rings down has a lower last quarter; a step has all its growth in one
// place; two rotors that drift against each other swell like |sin|, whose last
// step is under a fifth of the whole. Near the limit it is enough that the last
// step rises beyond its error.
func (b *oscBand) exponential(strict bool) bool {
	t := &b.now
	q := &t.quarters
	late := math.Log(q[3] / q[2])
	lateErr := t.quarterErr * math.Hypot(1/q[3], 1/q[2])
	if b.close && late > 2*lateErr && late > leastGrowth*b.seconds/4 {
		return true
	}
	whole := math.Log(q[3] / q[0])
	early := math.Log(q[2] / q[0])
	if !(whole > 0 && late > 0.1*whole && early > 0.25*whole) {
		return false
	}
	if strict {
		lateErr = 0
	}
	return late+1.5*lateErr > lateShare*whole
}

// overLimit is the test of a level over the limit in one look, whatever its
// growth, over the three cycles that a window holds at least.
func (b *oscBand) overLimit(a *oscAxis, limit float64) bool {
	t := &b.now
	if !t.ok || t.share < levelShare || t.growth > mostPerCycle*t.hz {
		return false
	}
	q := &t.quarters
	low, high := min(q[0], q[1], q[2], q[3]), max(q[0], q[1], q[2], q[3])
	rises := t.growth > levelGrowth*t.growthErr && q[3] > q[2] && q[2] > q[0]
	if !rises && low < 0.6*high || q[3] < 0.8*(q[0]+q[1]+q[2])/3 {
		return false
	}
	// One that still rises counts by its last quarter.
	now := t.level
	if rises {
		now = max(now, q[3])
	}
	if now-t.doubt < limit {
		return false
	}
	return b.inStep(a)
}

// pressesNow reports whether a new tone has come near the limit in this look.
func (b *oscBand) pressesNow(a *oscAxis, limit float64) bool {
	t := &b.now
	q := &t.quarters
	least := pressing*limit + t.doubt
	if !t.ok || t.overBase < pressingPower || t.share < nearShare || t.growth > mostPerCycle*t.hz ||
		q[3] < least || q[3] < 0.9*q[2] || t.nearLine || !b.inStep(a) {
		return false
	}
	// It has stood there, or it rises.
	return q[2] > 0.8*least && q[1] > 0.6*least && t.growth > -t.growthErr ||
		q[2] > 0.6*least && q[1] > 0.35*least && q[3] > q[2] && t.growth > pressGrowth*t.growthErr && t.share >= levelShare
}

// inStep reports whether output and rate swing with a steady phase. Where the
// rate is too noisy to tell, or not measured, the output alone must be beyond
// doubt.
func (b *oscBand) inStep(a *oscAxis) bool {
	t := &b.now
	switch {
	case !a.both:
		return true
	case t.locked >= leastLock:
		return true
	case t.faint:
		return b.close || t.growth > plainGrowth*t.growthErr
	}
	return false
}

// grown reports whether growth was seen long enough. Near the limit the looks
// of all bands at the same tone count together.
func (b *oscBand) grown(a *oscAxis) bool {
	t := &b.now
	if b.run.hits == 0 {
		return false
	}
	if !b.close {
		return b.run.hits >= growHits && b.like == unlike && seconds(t.at-b.run.since) >= growSpan*b.seconds
	}
	if b.like == alike && t.quarters[3] < lastCall*t.limit {
		return false
	}
	need, hits := growHits, 0
	if t.growth > plainGrowth*t.growthErr {
		need-- // the limit is near, and there is no doubt
	}
	if t.quarters[3] >= lastCall*t.limit && t.quarters[3] > nearRise*t.quarters[0] &&
		(t.growth <= oncePerCycle*t.hz || t.evidence >= sureGrowth) {
		need = 1 // no time is left for a second look
	}
	for _, w := range a.windows {
		for i := range w.bands {
			if o := &w.bands[i]; o.run.hits > 0 && math.Abs(o.run.hz-b.run.hz) < 0.1*b.run.hz {
				hits += o.run.hits
			}
		}
	}
	return hits >= need
}

// over reports whether the level was over the limit long enough.
func (b *oscBand) over() bool { return b.steady.hits >= levelHits }

// presses reports whether a new tone has been near the limit long enough, and
// does not move with the rotors.
func (b *oscBand) presses() bool { return b.press.hits >= levelHits && b.like == unlike }
