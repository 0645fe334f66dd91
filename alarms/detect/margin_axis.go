package detect

import (
	"math"
)

// marginPace is the slowest stream that is watched: 20 a second, less what its
// pace is known to.
const marginPace = 0.95 * fastPace

// marginAxis watches one axis.
type marginAxis struct {
	source
	stream float64
	grid   grid
	levels []*marginLevel
	lastAt int64
	hp     [3]highpass
	emit   func(x [3]float64, real bool)
	next   int // level that was looked at last
	story  ringingNow
}

// build makes grid and pyramid for a stream's pace, the only place that
// allocates.
func (a *marginAxis) build(stream float64) {
	*a = marginAxis{source: a.source, stream: stream, next: a.next}
	rate := gridRate(stream)
	a.grid.step = float64(Second) / rate
	for r := rate; bandTop*r > marginLow; r /= 2 {
		a.levels = append(a.levels, newMarginLevel(r, stream))
	}
	for i := range a.hp {
		a.hp[i] = newHighpass(rate)
	}
	a.emit = a.frame
}

func (a *marginAxis) clear() {
	a.grid.live = false
	for i := range a.hp {
		a.hp[i].live, a.hp[i].y = false, 0
	}
	for _, l := range a.levels {
		l.clear()
	}
}

// take brings one line's values of the axis.
func (a *marginAxis) take(b *Bench, i int, in *Input) {
	x, changed, ok := a.source.take(b, i)
	if changed {
		a.clear()
	}
	if !ok {
		return
	}
	s := &b.Streams[in.S.Tag]
	if !s.Steady || s.Rate() < marginPace {
		return
	}
	if a.stream == 0 || math.Abs(s.Rate()-a.stream) > paceDrift*a.stream {
		a.build(s.Rate())
	}
	if a.lastAt > 0 && seconds(in.At-a.lastAt) > longestHole {
		a.clear()
	}
	a.lastAt = in.At
	a.grid.add(float64(in.At), x, a.emit)
}

// frame takes one instant of the grid down the pyramid.
func (a *marginAxis) frame(x [3]float64, real bool) {
	var f frame
	f.v[sigU], f.v[sigY], f.v[0], f.real = a.hp[0].next(x[0]), a.hp[1].next(x[1]), a.hp[2].next(x[2]), real
	a.levels[0].push(&f, a.main)
	for i := 1; i < len(a.levels); i++ {
		if !a.levels[i-1].down.add(&f) {
			return
		}
		a.levels[i].push(&f, a.main)
	}
}

// measure fits the octave's candidate. It reports false where there is none, or
// none over the least rms that matters.
func (a *marginAxis) measure(l *marginLevel, r *ringFit, least float64) bool {
	t := &l.now
	if l.lo >= l.hi {
		return false
	}
	hz, over := l.candidate()
	if over < leastPeak {
		return false
	}
	c, ok := l.envelope(r, hz, a.main)
	lift := 1 / droop(hz, a.stream, a.grid.step)
	if !ok || math.Sqrt(c.uu/2)*lift < least {
		return false
	}
	if !r.fit(ringing{decay: 0.03 * 2 * math.Pi * hz, ratio: 3}) {
		return false
	}
	w := 2*math.Pi*hz + r.best[1]
	decay := math.Exp(r.best[0])
	t.hz = w / (2 * math.Pi)
	t.carrier = hz
	if math.Abs(t.hz-hz) > mostOffset*hz {
		return false
	}
	t.damping = dampingRatio(decay, w)
	t.err = t.damping * r.err
	t.memories = decay * c.seconds
	t.peak = 2 * (r.like - r.flat)
	t.power = math.Sqrt(r.power/2) * lift
	t.crest = r.crest()
	t.rise, t.late = r.rise()
	t.asked = a.explained(&c)
	if t.damping < mostMargin {
		t.against = r.against(mostMargin * w)
	}
	t.ok = true
	return true
}

// dampingRatio of a pole pair that decays by so much a second and turns by so
// many radians a second.
func dampingRatio(decay, turn float64) float64 { return decay / math.Hypot(decay, turn) }

// explained reports whether the demand moves with the ringing and is strong
// enough to be its cause. A levelling loop's demand follows the ringing, but is
// weak against the rate.
func (a *marginAxis) explained(c *company) bool {
	if c.dd == 0 || sq(c.ud) < 0.5*c.uu*c.dd {
		return false
	}
	if a.both || a.main == sigY {
		return c.dd > 0.1*c.yy
	}
	return doubtGain*doubtGain*c.dd > 0.1*c.uu
}
