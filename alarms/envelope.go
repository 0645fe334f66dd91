package alarms

// The host's clock against a bridge's is read from the lines that were delayed
// least. A delay is never less than nothing: drawn over the bridge's time, host
// time less bridge time lies above a straight line, whose slope is what one
// clock runs off the other, and lines that had nothing to wait for touch it.
//
// To trust the least delayed of a stretch is the clock filter of NTP (RFC 5905,
// section 10, from memory). To draw the line as that edge of the lower convex
// hull which lies under the mean of the points, which makes the sum of their
// distances least, is from Moon, Skelly and Towsley, "Estimation and removal of
// clock skew from network delay measurements", INFOCOM 1999 (from memory).
// Everything counts in integers: a replay must come to the same bits.

const (
	// envelopeWindow of bridge time gives one point, its least delayed line.
	envelopeWindow = 1_000_000
	// envelopePoints are kept: two minutes, in which a crystal's drift hardly
	// changes with its warmth (common practice, no source).
	envelopePoints = 120
	// envelopeOld: where lines came seldom, points are no older than this.
	envelopeOld = 5 * envelopePoints * envelopeWindow
	// envelopeSlopes of points are needed before a slope is believed: less is
	// the jitter of single lines (common practice, no source).
	envelopeSlopes = 8
	// steepest is the most that a clock is believed to run off, of slopeOne: a
	// bridge without a crystal is off by a hundredth (common practice, no source).
	steepest = slopeOne / 100
	slopeOne = int64(1) << 32
	// envelopeStep: a clock that has jumped by so much, microseconds, is measured
	// anew; streams may lag each other by as much. To see that it has lost time
	// takes three points, for a line held up looks the same.
	envelopeStep  = 50_000
	envelopeSteps = 3
	// crystal is how far, in millionths, a clock is taken to be off while its
	// slope is not known: twice what crystals are sold for (common practice, no
	// source).
	crystal = 200
	// mostAhead bounds how far a line is drawn out, so that products fit.
	mostAhead = int64(1) << 36
)

// An envelopePoint is the least delayed line of a window.
type envelopePoint struct{ t, d int64 }

// An envelope estimates host time less bridge time for a line without delay.
// The zero value has heard nothing.
type envelope struct {
	points [envelopePoints]envelopePoint // of closed windows, oldest first
	n      int
	open   envelopePoint // of the window under way
	until  int64         // where it ends
	heard  bool

	t0, d0, slope int64 // the line; slope is of slopeOne
	newest        int64 // bridge time last taken
	rough         int64 // mean height of points over the line, microseconds
	wait          int64 // mean height of lines over it, a 64th of a microsecond
	above         int   // points in a row that lie far above it
}

// take takes a line: its bridge time, unwrapped, and the host's when it was read.
// Times do not go back.
func (e *envelope) take(t, host int64) {
	p := envelopePoint{t, host - t}
	over := p.d - e.offset(t)
	if !e.heard || over < -envelopeStep || over < 0 && e.heaped(p) {
		*e = envelope{heard: true, open: p, until: t + envelopeWindow, t0: t, d0: p.d, newest: t}
		return
	}
	e.newest = t
	if t >= e.until {
		e.close(p)
		over = p.d - e.offset(t)
	} else if p.d < e.open.d {
		e.open = p
	}
	if over < 0 {
		e.d0 += over
		over = 0
	}
	e.wait += min(over, envelopeStep) - e.wait/64
}

// heaped reports whether a line came so much quicker than the least delayed of all
// windows before that no drift explains it: theirs were kept, and came in a heap.
func (e *envelope) heaped(p envelopePoint) bool {
	for _, q := range e.points[:e.n] {
		if p.d >= q.d-envelopeStep-(p.t-q.t)*steepest/slopeOne {
			return false
		}
	}
	return e.n > 0
}

// close ends the window under way; next begins the one after it.
func (e *envelope) close(next envelopePoint) {
	if e.open.d-e.offset(e.open.t) > envelopeStep+4*e.rough {
		if e.above++; e.above >= envelopeSteps { // the clock has lost time
			*e = envelope{heard: true, t0: next.t, d0: next.d}
		}
	} else {
		e.above = 0
	}
	if e.until > 0 {
		e.drop()
		e.points[e.n] = e.open
		e.n++
		e.draw()
	}
	e.open, e.until, e.newest = next, next.t+envelopeWindow, next.t
}

// drop makes room for a point, and lets go of those of long ago.
func (e *envelope) drop() {
	old := 0
	for old < e.n && e.open.t-e.points[old].t > envelopeOld {
		old++
	}
	if e.n == envelopePoints {
		old = max(old, 1)
	}
	copy(e.points[:], e.points[old:e.n])
	e.n -= old
}

// offset is host time less bridge time of a line without delay at t.
func (e *envelope) offset(t int64) int64 {
	dt := min(max(t-e.t0, -mostAhead), mostAhead)
	return e.d0 + dt*e.slope>>32
}

// draw draws the line under the points.
func (e *envelope) draw() {
	points := e.points[:e.n]
	if e.n < envelopeSlopes {
		e.slope = 0
		e.rest(points[0].t)
	} else {
		a, b := under(points)
		e.slope = (b.d - a.d) * (slopeOne / 4) / (b.t - a.t) * 4
		e.slope = min(max(e.slope, -steepest), steepest)
		e.rest(a.t)
	}
	sum, n := int64(0), int64(0)
	for _, p := range points {
		// A heap that was held up, as in a port that nobody read, is no jitter.
		if over := p.d - e.offset(p.t); over <= envelopeStep {
			sum += over
			n++
		}
	}
	e.rough = sum / n // the line touches one at least
}

// rest lays the line, whose slope is known, so that it touches the points from
// below; t is where it is measured from.
func (e *envelope) rest(t int64) {
	e.t0, e.d0 = t, 0
	least := e.points[0].d - e.offset(e.points[0].t)
	for _, p := range e.points[1:e.n] {
		least = min(least, p.d-e.offset(p.t))
	}
	e.d0 = least
}

// under returns the ends of the edge of the points' lower convex hull that lies
// under their mean. There are two points at least, and their times differ.
func under(points []envelopePoint) (a, b envelopePoint) {
	var hull [envelopePoints]envelopePoint
	n, sum := 0, int64(0)
	first := points[0].t
	for _, p := range points {
		sum += p.t - first
		for n >= 2 && below(hull[n-2], p, hull[n-1]) {
			n--
		}
		hull[n] = p
		n++
	}
	mean := first + sum/int64(len(points))
	for i := 1; i < n-1; i++ {
		if hull[i].t >= mean {
			return hull[i-1], hull[i]
		}
	}
	return hull[n-2], hull[n-1]
}

// below reports whether m lies on or above the line from a to b, so that it is
// no corner of what is below.
func below(a, b, m envelopePoint) bool {
	return (m.d-a.d)*(b.t-a.t) >= (b.d-a.d)*(m.t-a.t)
}

// unsure is how far, in microseconds, the offset may be off in nineteen of
// twenty cases, beyond the least delay itself, of which no listening tells.
func (e *envelope) unsure() int64 {
	if !e.heard {
		return 0
	}
	u := 1 + 2*e.rough + e.wait/64/2
	if e.n < envelopeSlopes {
		u += (e.newest - e.first()) * crystal / 1_000_000
	}
	return u
}

// first is the bridge time of the oldest point.
func (e *envelope) first() int64 {
	if e.n > 0 {
		return e.points[0].t
	}
	return e.open.t
}

// slopePPM is the slope in millionths, and how far it may be off; known is false
// while there is none, and where the points lie on no straight line.
func (e *envelope) slopePPM() (ppm, unsure float64, known bool) {
	if e.n < envelopeSlopes || e.slope == steepest || e.slope == -steepest || e.bent() {
		return 0, crystal, false
	}
	span := float64(e.points[e.n-1].t - e.points[0].t)
	return float64(e.slope) / float64(slopeOne) * 1e6, float64(e.unsure()) / span * 1e6, true
}

const (
	// bentMost: points that scatter by less, microseconds, lie on a line that is
	// straight enough (common practice, no source).
	bentMost = 2000
	// bentRatio is the least ratio of von Neumann that points by chance have. It
	// is 2 on average; under 0.8 in one of a hundred sets of eight (from memory:
	// Hart's table of 1942 gives 0.76), in far fewer of more.
	bentRatio = 0.7
)

// bent reports whether the points' heights over the line follow each other too
// smoothly for chance, as after a small step of a clock: the mean square of
// successive differences over the variance (J. von Neumann, "Distribution of the
// ratio of the mean square successive difference to the variance", 1941, from
// memory).
func (e *envelope) bent() bool {
	var mean, square, successive, last float64
	n := float64(e.n)
	for i, p := range e.points[:e.n] {
		over := float64(p.d - e.offset(p.t))
		mean += over / n
		square += over * over
		if i > 0 {
			successive += (over - last) * (over - last)
		}
		last = over
	}
	square -= n * mean * mean
	return square > n*bentMost*bentMost && successive < bentRatio*square
}
