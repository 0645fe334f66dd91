package detect

import "math"

const (
	// sureGrowth: growth must stand this many of its standard errors above
	// none. With the three looks in a row that are asked for on top, chance
	// alone does not get there in a season of spin-ups: 5 is one in 3.5
	// million for a single look at Gaussian noise.
	sureGrowth = 5.0
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
	// leastGrowth a second: what takes over seven seconds to double is no matter
	// for a bell; if it goes on it will be over the limit, and heard for that.
	leastGrowth = 0.1
	// leastAmplitude, of the limit: a tone under it is no danger yet at any
	// growth of a rate loop.
	leastAmplitude = 0.04
	// outOfBase: power over the usual power of its bin.
	outOfBase = 5.0
	// leastLock is the steadiness of the phase between output and rate.
	leastLock = 0.85
	// nearLimit, of the limit: from here on less evidence is asked for, so that
	// nothing passes the limit in silence: three and a half standard errors (one
	// in 4300 for a single look) and two thirds of the power.
	nearLimit = 0.4
	nearSure  = 3.5
	nearShare = 0.65
	// nearRise: less is asked of what rises by a quarter at least in the window;
	// a steady tone near the limit does not.
	nearRise    = 1.25
	levelGrowth = 3.0 // standard errors of growth of a level that is still rising
	// lastCall, of the limit: here one look that shows growth is enough, and
	// two and a half standard errors of it.
	lastCall = 0.7
	lastSure = 2.5
	// growHits looks in a row, and growSpan of the window's length, growth
	// must be seen for; levelHits for a steady level.
	growHits  = 3
	growSpan  = 0.1
	levelHits = 2
)

// weigh asks whether this look speaks of growth or of a steady level.
func (w *oscWindow) weigh(a *oscAxis) {
	t := &w.now
	limit := a.hold.limit
	t.limit = limit
	if w.grows(a, limit) {
		w.run.hit(t.at, t.hz, w.spec.seconds)
	} else {
		w.run = evidence{}
	}
	if w.overLimit(a, limit) {
		w.steady.hit(t.at, t.hz, w.spec.seconds)
	} else {
		w.steady = evidence{}
	}
}

// grows is the test of growth in one look.
func (w *oscWindow) grows(a *oscAxis, limit float64) bool {
	t := &w.now
	sure, share := sureGrowth, leastShare
	q := &t.quarters
	w.close = q[3] >= nearLimit*limit
	if w.close && q[3] > nearRise*q[0] {
		sure, share = nearSure, nearShare
		if q[3] >= lastCall*limit {
			sure = lastSure
		}
	}
	switch {
	case !t.ok, t.amplitude < leastAmplitude*limit, t.amplitude < 2*t.doubt, t.growth < leastGrowth,
		t.growth < sure*t.growthErr, t.growth > mostPerCycle*t.hz,
		t.share < share, t.overBase < outOfBase:
		return false
	}
	// Where a rotor line or its fold lies a small tone must be past all doubt:
	// a line grows with throttle, and two rotors that drift against each other
	// swell and fade. Near the limit it is heard, whatever it is.
	strict := t.nearLine && !w.close
	if strict && t.growth < plainGrowth*t.growthErr {
		return false
	}
	return w.exponential(strict) && w.inStep(a)
}

// exponential reports whether the tone's growth goes on through the window.
// The logarithm of what grows exponentially rises by a third of the whole in
// the last step of the quarters and by two thirds in the steps before. A knock
// that rings down has a lower last quarter; a step has all its growth in one
// place; two rotors that drift against each other swell like |sin|, whose last
// step is under a fifth of the whole.
func (w *oscWindow) exponential(strict bool) bool {
	t := &w.now
	q := &t.quarters
	whole := math.Log(q[3] / q[0])
	late := math.Log(q[3] / q[2])
	early := math.Log(q[2] / q[0])
	if !(whole > 0 && late > 0.1*whole && early > 0.25*whole) {
		return false
	}
	// What noise does to a quarter's amplitude: 2 s^2/N, in logarithms.
	doubt := math.Sqrt(4*t.fit.Noise/float64(w.n/4)) / q[2]
	if strict {
		doubt = 0
	}
	return late+2*doubt > lateShare*whole
}

// overLimit is the test of a level over the limit in one look, whatever its
// growth, over the four cycles that a window holds at least.
func (w *oscWindow) overLimit(a *oscAxis, limit float64) bool {
	t := &w.now
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
	return w.inStep(a)
}

// inStep reports whether output and rate swing with a steady phase. Where the
// rate is too noisy to tell, or not measured, the output alone must be beyond
// doubt.
func (w *oscWindow) inStep(a *oscAxis) bool {
	t := &w.now
	switch {
	case !a.both:
		return true
	case t.locked >= leastLock:
		return true
	case t.faint:
		return w.close || t.growth > plainGrowth*t.growthErr
	}
	return false
}

// grown reports whether growth was seen long enough. Near the limit the looks
// of all windows at the same tone count together.
func (w *oscWindow) grown(a *oscAxis) bool {
	t := &w.now
	if w.run.hits == 0 {
		return false
	}
	if !w.close {
		return w.run.hits >= growHits && w.like == unlike && seconds(t.at-w.run.since) >= growSpan*w.spec.seconds
	}
	if w.like == alike && t.quarters[3] < lastCall*t.limit {
		return false
	}
	need, hits := growHits, 0
	if t.growth > plainGrowth*t.growthErr {
		need-- // the limit is near, and there is no doubt
	}
	if t.quarters[3] >= lastCall*t.limit && t.quarters[3] > nearRise*t.quarters[0] {
		need = 1 // no time is left for a second look
	}
	for _, o := range a.windows {
		if o.run.hits > 0 && math.Abs(o.run.hz-w.run.hz) < 0.1*w.run.hz {
			hits += o.run.hits
		}
	}
	return hits >= need
}

// over reports whether the level was over the limit long enough.
func (w *oscWindow) over() bool { return w.steady.hits >= levelHits }
