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
		share, part := (g.edge-g.t)/(t-g.t), g.edge-g.t
		at := [3]float64{
			g.x[0] + float64(share*(x[0]-g.x[0])),
			g.x[1] + float64(share*(x[1]-g.x[1])),
			g.x[2] + float64(share*(x[2]-g.x[2])),
		}
		g.sum(part, &at)
		mean := [3]float64{g.acc[0] / g.step, g.acc[1] / g.step, g.acc[2] / g.step}
		out(mean, g.hits > 0)
		g.acc, g.hits = [3]float64{}, 0
		g.t, g.x = g.edge, at
		g.edge += g.step
	}
	g.sum(t-g.t, &x)
	g.t, g.x = t, x
	g.hits++
}

// sum adds what lies under the straight lines from the last point to at.
func (g *grid) sum(part float64, at *[3]float64) {
	g.acc[0] += float64(part * (g.x[0] + at[0]) / 2)
	g.acc[1] += float64(part * (g.x[1] + at[1]) / 2)
	g.acc[2] += float64(part * (g.x[2] + at[2]) / 2)
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

// halfTaps points make the filter that halves a rate: a linear-phase half-band
// filter (Lagrange interpolation of order six: 3, 0, -25, 0, 150, 256, 150, 0,
// -25, 0, 3 over 512), flat within 1 % up to 0.22 of the rate it is fed at.
const halfTaps = 11

func halfBand(x *[halfTaps]float64) float64 {
	return (256*x[5] + 150*(x[6]+x[4]) - 25*(x[8]+x[2]) + 3*(x[10]+x[0])) / 512
}

// half halves the rate of frames by that filter, of output, rate and demand
// alone.
type half struct {
	v      [3][halfRoom]float64
	real   [halfRoom]bool
	end, n int
}

// halfRoom is how many frames a half holds before it moves the newest to the
// front.
const halfRoom = 64

func (h *half) clear() { h.end, h.n = 0, 0 }

// add takes the frame and, for every second one, puts a filtered one in its
// place.
func (h *half) add(f *frame) bool {
	if h.end == halfRoom {
		const keep = halfTaps - 1
		for i := range h.v {
			copy(h.v[i][:keep], h.v[i][halfRoom-keep:])
		}
		copy(h.real[:keep], h.real[halfRoom-keep:])
		h.end = keep
	}
	at := h.end
	h.v[0][at], h.v[1][at], h.v[2][at], h.real[at] = f.v[sigU], f.v[sigY], f.v[0], f.real
	h.end++
	if h.n++; h.n < halfTaps || h.n%2 == 1 {
		return false
	}
	from := h.end - halfTaps
	f.v[sigU] = halfBand((*[halfTaps]float64)(h.v[0][from:]))
	f.v[sigY] = halfBand((*[halfTaps]float64)(h.v[1][from:]))
	f.v[0] = halfBand((*[halfTaps]float64)(h.v[2][from:]))
	f.real = h.real[from+5] || h.real[from+6]
	return true
}
