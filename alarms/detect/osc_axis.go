package detect

import (
	"math"

	"tetherbell/alarms/tone"
)

const (
	// fullGridRate: streams up to this pace keep it; faster ones are averaged
	// down to between it and its double. It leaves more than six frames to a
	// cycle at the band's upper end.
	fullGridRate = 400.0
	// lowestLevel of the pyramid: the longest window needs five frames a cycle
	// of its highest frequency.
	lowestLevel = 30.0
	// longestHole that is bridged by a straight line, seconds. Real streams
	// have holes of up to 71 ms; what is as long as stale-link's silence is not
	// joined.
	longestHole = 0.3
	// paceDrift: a stream whose pace has moved by this share gets a new grid.
	paceDrift = 0.2
)

// oscAxis watches one axis.
type oscAxis struct {
	source
	stream  float64 // samples a second that the grid was made for, 0 none
	grid    grid
	demand  demand
	levels  []level
	windows []*oscWindow
	fitter  *tone.Fitter
	grower  *tone.Grower
	stretch []float64 // for the grower
	next    forecast  // of the axis' strongest growing tone
	best    *oscBand
	solveIn int
	lastAt  int64
	due     bool // some window is to look
	stirs   bool // some band's last look speaks of growth or of a level
	emitted func(x [3]float64, real bool)
	hold    held
	hand    hand
	since   int64 // engine time of arming
}

// build makes grid, pyramid and windows for a stream's pace. It is the only
// place that allocates, once for each pace.
func (a *oscAxis) build(stream float64) {
	*a = oscAxis{source: a.source, stream: stream, hold: a.hold, hand: a.hand, since: a.since}
	rate := gridRate(stream)
	a.grid.step = float64(Second) / rate
	a.demand = newDemand(rate)
	for r := rate; r >= lowestLevel || len(a.levels) == 0; r /= 2 {
		a.levels = append(a.levels, newLevel(r))
	}
	longest := 0
	for _, s := range oscSpecs {
		if w := newOscWindow(s, a.levels, stream); w != nil {
			a.windows = append(a.windows, w)
			longest = max(longest, w.n)
		}
	}
	if w := newFastWindow(a.levels, stream); w != nil {
		a.windows = append(a.windows, w)
		longest = max(longest, w.n)
	}
	for _, w := range a.windows {
		l := &a.levels[w.level]
		l.depth = max(l.depth, w.n)
	}
	a.fitter, a.grower, a.stretch = tone.NewFitter(longest), new(tone.Grower), make([]float64, ringFrames)
	a.emitted = a.frame
	a.plan()
}

// plan notes at which count of frames a window of each level is to look next.
func (a *oscAxis) plan() {
	a.due = false
	for i := range a.levels {
		a.levels[i].lookAt = math.MaxInt
	}
	for _, w := range a.windows {
		l := &a.levels[w.level]
		l.lookAt = min(l.lookAt, max(w.n, w.looksAt+w.hop))
	}
}

// clear drops all that was measured, and keeps the grid's shape.
func (a *oscAxis) clear() {
	a.grid.live = false
	if a.stream > 0 {
		a.demand = newDemand(a.levels[0].rate)
	}
	for i := range a.levels {
		a.levels[i].clear()
	}
	for _, w := range a.windows {
		w.forget()
	}
	a.plan()
	a.best = nil
}

// looks reports whether any window has looked since all was dropped.
func (a *oscAxis) looks() bool {
	for _, w := range a.windows {
		if w.looks > 0 {
			return true
		}
	}
	return false
}

// deaf returns the frequency under which windows have been too full of holes
// for longer than it takes to fill them twice, 0 where none is.
func (a *oscAxis) deaf(now, resumed int64) float64 {
	hz := 0.0
	for _, w := range a.windows {
		if !w.fast && seconds(now-max(w.lookedAt, a.since, resumed)) > 2*w.seconds+1 {
			hz = max(hz, w.bands[0].hi)
		}
	}
	return hz
}

// looksAt reports whether any window whose bands hold a frequency has looked
// since all was dropped.
func (a *oscAxis) looksAt(hz float64) bool {
	for _, w := range a.windows {
		if last := len(w.bands) - 1; w.looks > 0 && hz > 0.9*w.bands[0].lo && hz < 1.1*w.bands[last].hi {
			return true
		}
	}
	return false
}

// take brings one line's values of the axis.
func (a *oscAxis) take(b *Bench, i int, in *Input) {
	x, changed, ok := a.source.take(b, i)
	if changed {
		a.clear()
	}
	if !ok {
		return
	}
	rate := b.Streams[in.S.Tag].Rate()
	if !b.Streams[in.S.Tag].Steady {
		return
	}
	if a.stream == 0 || math.Abs(rate-a.stream) > paceDrift*a.stream {
		a.build(rate)
	}
	if a.lastAt > 0 && seconds(in.At-a.lastAt) > longestHole {
		a.clear()
	}
	a.lastAt = in.At
	a.demand.rests = a.hand.rests(in.At, 0)
	a.grid.add(float64(in.At), x, a.emitted)
}

// fedBack reports whether over the last so many seconds the demand was the
// craft's own, and explains nothing.
func (a *oscAxis) fedBack(at int64, span float64) bool {
	return a.hand.rests(at, span) && a.demand.turns.swings()
}

// frame takes one instant of the grid down the pyramid.
func (a *oscAxis) frame(x [3]float64, real bool) {
	f := a.demand.next(x, real, a.levels[0].rate)
	a.due = a.levels[0].push(&f) || a.due
	for i := 1; i < len(a.levels); i++ {
		if !a.levels[i-1].halve(&f) {
			break
		}
		a.due = a.levels[i].push(&f) || a.due
	}
	if a.solveIn--; a.solveIn <= 0 {
		a.demand.solve()
		a.solveIn = int(a.levels[0].rate / 10)
	}
}

// look lets every window look whose hop has passed. It is called where one is
// due.
func (a *oscAxis) look(at int64, floor float64, lines *rotorLines, past *thrustPast) {
	looked := false
	for _, w := range a.windows {
		l := &a.levels[w.level]
		if l.n < w.n || l.n-w.looksAt < w.hop {
			continue
		}
		w.looksAt = l.n
		looked = true
		if !w.gather(l, &a.demand.theta, a.main, a.fedBack(at, w.seconds)) {
			w.pass()
			continue
		}
		w.lookedAt = at
		w.look(a, at, floor)
		for i := range w.bands {
			b := &w.bands[i]
			if b.now.ok {
				b.now.nearLine = lines.near(b.now.hz, a.stream, at, w.seconds)
			}
			b.weigh(a)
			b.like = unlike
			if !lines.known(at) {
				b.like = likeRotor(b, past.ratio)
			} else if b.now.nearLine {
				b.like = likeRotor(b, lines.ratio)
			}
		}
	}
	a.plan()
	if !looked {
		return
	}
	a.best, a.demand.still, a.stirs = nil, false, false
	for _, w := range a.windows {
		for i := range w.bands {
			b := &w.bands[i]
			a.stirs = a.stirs || b.run.hits+b.steady.hits+b.press.hits > 0
		}
		if w.fast {
			if b := &w.bands[0]; b.now.peak > nearLimit*a.hold.limit && (a.best == nil || b.now.peak > a.best.now.peak) {
				a.best = b // small, it is none of what is watched
			}
			continue
		}
		for i := range w.bands {
			if b := &w.bands[i]; b.now.peak > 0 && (a.best == nil || b.now.peak > a.best.now.peak) {
				a.best = b
			}
			if t := &w.bands[i].now; t.ok && t.overBase > pressingPower && t.share > leastShare && t.amplitude > leastAmplitude*t.limit {
				a.demand.still = true
			}
		}
	}
	a.foresee(at)
}

// foresee brings the forecast up to date, ten times a second at most.
func (a *oscAxis) foresee(at int64) {
	if a.best == nil || !a.best.now.ok {
		a.next = forecast{}
		return
	}
	if at-a.next.at < foreseeEvery {
		return
	}
	a.next = forecast{at: at}
	b := a.surest(a.best.now.hz)
	if b == nil || b.now.overBase < outOfBase && !a.hold.up {
		return
	}
	small := b.now.quarters[3] < nearLimit*a.hold.limit
	if small && !a.hold.up && (b.now.nearLine || b.like != unlike) {
		return
	}
	if f := a.ahead(b); f.odds >= sureOdds || !small || a.hold.up {
		a.next = f
	}
}

// foreseeEvery is the time between two forecasts.
const foreseeEvery = Second / 10
