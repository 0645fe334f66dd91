package detect

import (
	"math"
	"slices"
)

// robustSlope returns the Theil-Sen slope of y over t, the median of the slopes
// of all pairs, and its standard error. Up to 29 % of the points may be wild. H.
// Theil, Proc. Koninklijke Nederlandse Akademie van Wetenschappen 53, 1950; P.
// K. Sen, J. American Statistical Association 63, 1968, 1379-1389 (from memory).
// pairs is room for n(n-1)/2 slopes.
//
// The error is that of a least-squares slope under noise whose size the median
// residual tells (1.4826 times it is the standard deviation of normal noise):
// Theil-Sen is within a tenth of that.
func robustSlope(t, y, pairs []float64) (slope, se float64, ok bool) {
	pairs = pairs[:0]
	for i := range t {
		for j := range i {
			if t[i] != t[j] {
				pairs = append(pairs, (y[i]-y[j])/(t[i]-t[j]))
			}
		}
	}
	if len(t) < 3 || len(pairs) < 3 {
		return 0, 0, false
	}
	slope = medianOf(pairs)
	pairs = pairs[:0]
	mean := 0.0
	for i := range t {
		pairs = append(pairs, y[i]-slope*t[i])
		mean += t[i] / float64(len(t))
	}
	level := medianOf(pairs)
	spread := 0.0
	for i := range t {
		pairs[i] = math.Abs(y[i] - slope*t[i] - level)
		spread += (t[i] - mean) * (t[i] - mean)
	}
	return slope, 1.4826 * medianOf(pairs) / math.Sqrt(spread), true
}

// medianOf sorts v.
func medianOf(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

// heatCurve is a temperature that tends to an end, T = end + (now - end)
// exp(-t/tau): a lump of metal that takes a steady power and is cooled in
// proportion to its excess over the air (lumped capacitance; Y. A. Cengel, Heat
// and Mass Transfer, chapter 4; page seen).
type heatCurve struct {
	end, tau, now float64
	known         bool // told apart from a straight line
}

const (
	// curveLeast points at least, and curveSpan: a time constant longer than so
	// many times what was seen of it is a straight line, as far as anyone can
	// tell: its end depends on noise.
	curveLeast = 8
	curveSpan  = 2.0
	// curveSure: what the curve explains over the line, in variances of the
	// noise: four standard errors.
	curveSure = 16
	// curveMiss: residuals over so many variances of the noise are none of noise:
	// the power has changed meanwhile. A variance of five degrees of freedom is
	// over it once in fifty times.
	curveMiss = 2.7
)

// fitCurve fits a curve to y over t (rising, seconds), whose noise has at least
// the standard deviation floor. known is false where a straight line, or no
// single curve, is as likely.
func fitCurve(t, y []float64, floor float64) heatCurve {
	n := len(t)
	if n < curveLeast {
		return heatCurve{}
	}
	span := t[n-1] - t[0]
	// Time constants from a twentieth to ten times the span, then the golden
	// section about the best.
	const steps = 16
	best, at := math.Inf(1), 0
	tau := func(k float64) float64 { return span * 0.05 * math.Pow(200, k/(steps-1)) }
	for k := range steps {
		if r, _, _ := curveRest(t, y, tau(float64(k))); r < best {
			best, at = r, k
		}
	}
	low, high := float64(max(at-1, 0)), float64(min(at+1, steps-1))
	const golden = 0.6180339887498949
	for range 24 {
		a, b := high-golden*(high-low), low+golden*(high-low)
		ra, _, _ := curveRest(t, y, tau(a))
		rb, _, _ := curveRest(t, y, tau(b))
		if ra < rb {
			high = b
		} else {
			low = a
		}
	}
	c := heatCurve{tau: tau((low + high) / 2)}
	rest, end, rise := curveRest(t, y, c.tau)
	c.end = end
	c.now = end + rise*math.Exp(-span/c.tau)
	noise := max(secondNoise(y), floor*floor)
	variance := max(rest/float64(n-3), noise)
	c.known = rest <= curveMiss*noise*float64(n-3) && lineRest(t, y)-rest > curveSure*variance &&
		rise < 0 && c.tau < curveSpan*span
	return c
}

// curveRest fits end + rise exp(-(t-t0)/tau) by least squares and returns what
// is left, in squares.
func curveRest(t, y []float64, tau float64) (rest, end, rise float64) {
	return lineOf(t, y, func(t float64) float64 { return math.Exp(-t / tau) })
}

// lineRest is what a straight line leaves.
func lineRest(t, y []float64) float64 {
	rest, _, _ := lineOf(t, y, func(t float64) float64 { return t })
	return rest
}

// lineOf fits a + b x by least squares, x a function of the time since the first.
func lineOf(t, y []float64, of func(float64) float64) (rest, a, b float64) {
	n := float64(len(t))
	mx, my := 0.0, 0.0
	for i := range t {
		mx += of(t[i]-t[0]) / n
		my += y[i] / n
	}
	xx, xy, yy := 0.0, 0.0, 0.0
	for i := range t {
		dx, dy := of(t[i]-t[0])-mx, y[i]-my
		xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
	}
	if xx <= 0 {
		return yy, my, 0
	}
	b = xy / xx
	return max(yy-b*xy, 0), my - b*mx, b
}

// secondNoise is the variance of white noise on a smooth curve: its second
// differences have six times as much.
func secondNoise(y []float64) float64 {
	sum := 0.0
	for i := 2; i < len(y); i++ {
		d := y[i] - 2*y[i-1] + y[i-2]
		sum += d * d
	}
	return sum / 6 / float64(max(len(y)-2, 1))
}

// until returns the seconds until the curve reaches a limit, +Inf where it ends
// below it, 0 where it is there.
func (c *heatCurve) until(limit float64) float64 {
	switch {
	case c.now >= limit:
		return 0
	case c.end <= limit:
		return math.Inf(1)
	}
	return c.tau * math.Log((c.end-c.now)/(c.end-limit))
}
