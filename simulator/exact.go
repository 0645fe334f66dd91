package simulator

import "math"

// The same seed must give the same bytes on every processor. Go may fuse a
// product and a sum into one rounding on some of them, and math.Exp and
// math.Sin are not the same to the last digit everywhere. So products go
// through mul, and the few functions needed are built here from plain sums.

// mul returns a*b, rounded: the conversion forbids fusing it with a sum.
func mul(a, b float64) float64 { return float64(a * b) }

const twoPi = 2 * math.Pi

// degrees in a radian
const degrees = 180 / math.Pi

// sine returns sin(2 pi turns) to about 1e-11.
func sine(turns float64) float64 {
	t := turns - math.Floor(turns)
	switch {
	case t > 0.75:
		t -= 1
	case t > 0.25:
		t = 0.5 - t
	}
	r := mul(t, twoPi)
	q := mul(r, r)
	s := 1 - q/210
	s = 1 - mul(q/156, s)
	s = 1 - mul(q/110, s)
	s = 1 - mul(q/72, s)
	s = 1 - mul(q/42, s)
	s = 1 - mul(q/20, s)
	s = 1 - mul(q/6, s)
	return mul(r, s)
}

// cosine returns cos(2 pi turns).
func cosine(turns float64) float64 { return sine(turns + 0.25) }

// approach returns 1 - exp(-x), the share of the way that a first-order lag
// goes in x time constants.
func approach(x float64) float64 {
	if x > 40 {
		return 1
	}
	halvings := 0
	for x > 0.5 {
		x /= 2
		halvings++
	}
	// exp(-x) - 1 by its series, then squared back up.
	sum, term := 0.0, 1.0
	for k := 1; k < 18; k++ {
		term = mul(term, -x) / float64(k)
		sum += term
	}
	e := 1 + sum
	if halvings == 0 {
		return -sum
	}
	for range halvings {
		e = mul(e, e)
	}
	return 1 - e
}

// clamp keeps v between lo and hi.
func clamp(v, lo, hi float64) float64 { return math.Min(math.Max(v, lo), hi) }

// grid rounds v to a whole number of 1/steps: what a sensor or a line of so
// many decimals carries.
func grid(v, steps float64) float64 { return math.Floor(mul(v, steps)+0.5) / steps }

// smallSine returns sin(x), x in radians: by its series where x is small.
func smallSine(x float64) float64 {
	if x > 0.25 || x < -0.25 {
		return sine(x / twoPi)
	}
	q := mul(x, x)
	s := 1 - mul(q, 1.0/72)
	s = 1 - mul(mul(q, 1.0/42), s)
	s = 1 - mul(mul(q, 1.0/20), s)
	s = 1 - mul(mul(q, 1.0/6), s)
	return mul(x, s)
}

// smallCosine returns cos(x), x in radians.
func smallCosine(x float64) float64 {
	if x > 0.25 || x < -0.25 {
		return cosine(x / twoPi)
	}
	q := mul(x, x)
	c := 1 - mul(q, 1.0/90)
	c = 1 - mul(mul(q, 1.0/56), c)
	c = 1 - mul(mul(q, 1.0/30), c)
	c = 1 - mul(mul(q, 1.0/12), c)
	return 1 - mul(mul(q, 0.5), c)
}

// arctan2 returns the angle of the point (x, y), -pi..pi, to about 1e-12.
func arctan2(y, x float64) float64 {
	switch {
	case x == 0 && y == 0:
		return 0
	case x < 0 && y < 0:
		return arctan2(-y, -x) - math.Pi
	case x < 0:
		return math.Pi - arctan2(y, -x)
	case y < 0:
		return -arctan2(-y, x)
	case y > x:
		return math.Pi/2 - arctan2(x, y)
	}
	// Halved twice by tan(a/2) = t / (1 + sqrt(1 + t^2)), then its series.
	t := y / x
	for range 2 {
		t /= 1 + sqrt(1+mul(t, t))
	}
	q := mul(t, t)
	s := 0.0
	for k := 21; k >= 1; k -= 2 {
		s = 1/float64(k) - mul(q, s)
	}
	return mul(4, mul(t, s))
}

func sqrt(v float64) float64 { return math.Sqrt(v) } // exact to the last digit by IEEE 754
