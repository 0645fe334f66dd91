package detect

import "math"

// ninety is the 95 % quantile of the normal distribution: 5 % on each side
// leave an interval of 90 %.
const ninety = 1.645

// A forecast says when a growing tone passes its limit: seconds from the end
// of the window that it was seen in, and the ends of the interval that holds
// the truth nine times in ten. high is infinite where growth is not sure.
type forecast struct {
	s, low, high float64
	known        bool
}

// ahead computes the forecast of a tone. The logarithm of the amplitude is a
// straight line with errors in both its value now and its slope; where it
// crosses the limit is a ratio of two normal variables, whose interval is
// Fieller's (E. C. Fieller, J. Royal Statistical Society B 16(2), 1954, 175-185;
// from memory): all t for which the line at t lies within its own error of the
// limit.
func (t *oscTone) ahead(limit float64) forecast {
	left := math.Log(limit / t.amplitude)
	switch {
	case !t.ok || t.growth <= 0:
		return forecast{}
	case left <= 0:
		return forecast{known: true}
	}
	k := ninety * ninety
	va, c, vg := t.logVar, t.logGrowth, t.growthErr*t.growthErr
	f := forecast{s: left / t.growth, high: math.Inf(1), known: true}
	// (left - growth s)^2 = k (va + 2 c s + vg s^2)
	p, q, r := t.growth*t.growth-k*vg, left*t.growth+k*c, left*left-k*va
	root := math.Sqrt(max(q*q-p*r, 0))
	switch {
	case p > 0:
		f.low, f.high = max((q-root)/p, 0), (q+root)/p
	case r > 0 && q+root > 0:
		f.low = r / (q + root)
	}
	return f
}

// since counts the forecast from now instead of from the end of its window.
func (f forecast) since(at, now int64) forecast {
	age := seconds(now - at)
	f.s, f.low, f.high = max(f.s-age, 0), max(f.low-age, 0), max(f.high-age, 0)
	return f
}
