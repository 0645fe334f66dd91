package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
)

// A source is what one axis' lines bring to the detectors of shaking: its
// controller output, its rate, or best both, and the demand.
type source struct {
	main  int  // sigU, or sigY where no output is measured
	both  bool // output and rate are measured
	seenU presence
	seenY presence
}

// presence tells whether a field is usually measured. One that comes with every
// second line is not; and one that went away must have come with every line
// for a while before it is relied on again, since each change empties the
// windows: what comes and goes may not flip them to and fro.
type presence struct {
	score float64
	is    bool
	fell  bool // it was there, and went away
	run   int  // lines in a row that had it
}

// regain is how many lines in a row must have what went away.
const regain = 1000

func (p *presence) take(ok bool) {
	v := 0.0
	p.run++
	if ok {
		v = 1
	} else {
		p.run = 0
	}
	p.score += (v - p.score) / 16
	switch {
	case p.is && p.score < 0.4:
		p.is, p.fell = false, true
	case !p.is && p.score > 0.6 && (!p.fell || p.run >= regain):
		p.is = true
	}
}

func (p *presence) there() bool { return p.is }

// take reads one line's output, rate and demand of axis i. changed tells that
// other fields are measured than before: what was gathered is worth nothing
// then. ok is false where this line lacks what the others have: it is as good
// as lost.
func (s *source) take(b *Bench, i int) (x [3]float64, changed, ok bool) {
	u, y, r := b.Ctrl[i], b.Rate[i], b.Demand[i]
	s.seenU.take(u.OK)
	s.seenY.take(y.OK)
	mainWas, bothWas := s.main, s.both
	s.main, s.both = sigU, s.seenU.there() && s.seenY.there()
	if !s.seenU.there() {
		s.main = sigY
	}
	changed = s.main != mainWas || s.both != bothWas
	if s.main == sigU && !u.OK || (s.main == sigY || s.both) && !y.OK {
		return x, changed, false
	}
	if !r.OK && b.Stick[1+i].OK {
		// The stick stands in for the demand: full stick as 200 deg/s, a scale
		// that matters to the doubt alone, since the answer is learned.
		r.V = 200 * b.Stick[1+i].V
	}
	return [3]float64{u.V, y.V, r.V}, changed, true
}

// limit is that of the signal which is listened to.
func (s *source) limit(b *Bench) float64 {
	if s.main == sigY {
		return b.Limits.OscillationRate
	}
	return b.Limits.Oscillation
}

// axisOf is the number of the axis that a place names.
func axisOf(w Where) int {
	i := 0
	for Axis(i) != w && i < 2 {
		i++
	}
	return i
}

// axesLack tells why a stream of axes cannot be listened to at all, "" where it
// can.
func axesLack(b *Bench, least float64) string {
	switch s := &b.Streams[decode.Axes]; {
	case s.Count == 0:
		return noAxes(b)
	case !s.Steady:
		return "the axes stream has no steady pace yet"
	case s.Rate() < least:
		return fmt.Sprintf("the axes stream is too slow: %.0f a second", s.Rate())
	}
	return b.Doubt[decode.Axes]
}

// noAxes says why there is none.
func noAxes(b *Bench) string {
	return b.never(decode.Axes, "no axes stream: neither controller outputs nor rates")
}

// wholeBand is the frequency up to which a stream must show four lines a cycle
// to show all that is watched. A pace is known to a few percent: a stream of
// 200 shows up to 50 Hz.
const wholeBand = 48.0

// bandLack tells which part of the band a stream of axes is too slow for.
func bandLack(s *Stream) string {
	if top := s.Rate() / leastPerCycle; top < wholeBand {
		return fmt.Sprintf("over %.0f Hz: the axes stream of %.0f a second is too slow", math.Floor(top), s.Rate())
	}
	return ""
}

// notMeasured is what is said of an axis without output and rate.
func notMeasured(i int) string {
	return fmt.Sprintf("%s: neither controller output nor rate is measured", Axis(i))
}
