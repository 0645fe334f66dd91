package detect

import "math"

// Signals of one axis on their way through the grid: the demand's response
// basis first, then the controller output and the measured rate.
const (
	basis   = 6 // Laguerre functions that describe the response to the demand
	sigU    = basis
	sigY    = basis + 1
	signals = basis + 2
)

// A frame is one instant of the even grid.
type frame struct {
	v    [signals]float64
	real bool // a sample lies in its cell; false: bridged over a hole
}

// grid turns samples at their own times into frames at even ones: each frame
// is the mean of the straight lines between the samples over its cell, so
// jitter and lost lines are judged by their time stamps. The cell's mean
// lowers what is fast by sinc(f/rate); droop undoes it.
type grid struct {
	step float64 // microseconds a frame
	live bool
	t    float64 // time of the last sample
	x    [3]float64
	edge float64 // end of the cell that is being filled
	acc  [3]float64
	hits int
}

// gridRate is the pace of the grid for a stream's pace.
func gridRate(stream float64) float64 {
	return stream / max(1, math.Floor(stream/fullGridRate))
}

// start begins at a sample; the first cell ends one step later.
func (g *grid) start(t float64, x [3]float64) {
	g.live, g.t, g.x = true, t, x
	g.edge = t + g.step
	g.acc, g.hits = [3]float64{}, 1
}

// add takes a sample and hands every cell that it completes to out.
func (g *grid) add(t float64, x [3]float64, out func(x [3]float64, real bool)) {
	if !g.live {
		g.start(t, x)
		return
	}
	if t <= g.t {
		return // a repeat, or a stamp out of order
	}
	for t >= g.edge {
		share := (g.edge - g.t) / (t - g.t)
		var at [3]float64
		for i := range at {
			at[i] = g.x[i] + float64(share*(x[i]-g.x[i]))
			g.acc[i] += float64((g.edge - g.t) * (g.x[i] + at[i]) / 2)
			g.acc[i] /= g.step
		}
		out(g.acc, g.hits > 0)
		g.acc, g.hits = [3]float64{}, 0
		g.t, g.x = g.edge, at
		g.edge += g.step
	}
	for i := range x {
		g.acc[i] += float64((t - g.t) * (g.x[i] + x[i]) / 2)
	}
	g.t, g.x = t, x
	g.hits++
}

// droop is the amplitude that the grid leaves of a sinusoid of f hertz: the
// cell's mean, and the straight lines between samples that come at rate.
func droop(f, rate, step float64) float64 {
	d := sinc(f * step / float64(Second))
	if rate > 0 {
		s := sinc(f / rate)
		d *= s * s
	}
	return max(d, 0.5)
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// half halves the rate of frames with a linear-phase half-band filter of
// eleven points (Lagrange interpolation of order six: 3, 0, -25, 0, 150, 256,
// 150, 0, -25, 0, 3 over 512), flat within 1 % up to 0.22 of the rate it is
// fed at.
type half struct {
	ring [11]frame
	n    int
}

// add takes a frame and returns a filtered one for every second.
func (h *half) add(f *frame, out *frame) bool {
	h.ring[h.n%11] = *f
	h.n++
	if h.n < 11 || h.n%2 == 1 {
		return false
	}
	at := func(back int) *frame { return &h.ring[(h.n-1-back)%11] }
	for i := range signals {
		out.v[i] = (256*at(5).v[i] +
			150*(at(4).v[i]+at(6).v[i]) -
			25*(at(2).v[i]+at(8).v[i]) +
			3*(at(0).v[i]+at(10).v[i])) / 512
	}
	out.real = at(5).real || at(4).real
	return true
}

// ringFrames is the depth of a level: the longest window at the highest rate
// that a level may have for it.
const ringFrames = 1280

// level is one rate of the pyramid: the newest frames, and the half below.
type level struct {
	rate float64 // frames a second
	ring [ringFrames]frame
	n    int
	down half
}

func (l *level) push(f *frame) {
	l.ring[l.n%ringFrames] = *f
	l.n++
}

// back returns the frame that lies i frames before the newest.
func (l *level) back(i int) *frame { return &l.ring[(l.n-1-i)%ringFrames] }
