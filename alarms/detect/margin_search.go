package detect

import (
	"math"
)

// enoughLike: log likelihoods that agree so well are the same.
const enoughLike = 1e-3

// cost is what the search makes small.
func (r *ringFit) cost(p [3]float64) float64 {
	const widest = 3.0 // logarithm; beyond lies nothing that the band can tell
	out := 0.0
	out += outsideBy(p[0], math.Log(0.02/(float64(r.n)*r.dt)), math.Log(widest/r.dt))
	out += outsideBy(p[1], -math.Pi/r.dt, math.Pi/r.dt) * r.dt
	out += outsideBy(p[2], math.Log(1e-3), math.Log(1e5))
	like, _ := r.logLike(p)
	if math.IsInf(like, -1) {
		like = r.flat - 1e6
	}
	return -like + 10*out*out*float64(r.good)
}

func outsideBy(x, lo, hi float64) float64 { return max(lo-x, 0, x-hi) }

// search walks a simplex downhill (J. A. Nelder, R. Mead, Computer Journal
// 7(4), 1965, 308-313; from memory) for so many evaluations or a few more. It
// returns the lowest point and its cost.
func (r *ringFit) search(start, step [3]float64, most int) ([3]float64, float64) {
	first := 0
	if r.fixed {
		first = 1
	}
	corners := 4 - first
	s, h := &r.simplex, &r.heights
	for i := range corners {
		s[i] = start
		if i > 0 {
			s[i][first+i-1] += step[first+i-1]
		}
		h[i] = r.cost(s[i])
	}
	for used := corners; used < most; {
		lo, hi, _ := r.order(corners)
		if h[hi]-h[lo] < enoughLike {
			break
		}
		used += r.walk(first, corners)
	}
	lo, _, _ := r.order(corners)
	return s[lo], h[lo]
}

// order tells the lowest corner, the highest, and the highest but one.
func (r *ringFit) order(corners int) (lo, hi, second int) {
	h := &r.heights
	for i := range corners {
		if h[i] < h[lo] {
			lo = i
		}
		if h[i] > h[hi] {
			hi = i
		}
	}
	second = lo
	for i := range corners {
		if i != hi && h[i] > h[second] {
			second = i
		}
	}
	return lo, hi, second
}

// walk moves the highest corner through the middle of the others, or draws all
// towards the lowest. It returns how often it evaluated.
func (r *ringFit) walk(first, corners int) int {
	s, h := &r.simplex, &r.heights
	lo, hi, second := r.order(corners)
	mid := s[lo]
	for k := first; k < 3; k++ {
		mid[k] = 0
		for i := range corners {
			if i != hi {
				mid[k] += s[i][k] / float64(corners-1)
			}
		}
	}
	at := func(by float64) [3]float64 {
		p := mid
		for k := first; k < 3; k++ {
			p[k] += by * (s[hi][k] - mid[k])
		}
		return p
	}
	p := at(-1)
	c := r.cost(p)
	switch {
	case c < h[lo]:
		far := at(-2)
		if d := r.cost(far); d < c {
			p, c = far, d
		}
		s[hi], h[hi] = p, c
		return 2
	case c < h[second]:
		s[hi], h[hi] = p, c
		return 1
	}
	near := at(0.5)
	if c < h[hi] {
		near = at(-0.5)
	}
	if d := r.cost(near); d < min(c, h[hi]) {
		s[hi], h[hi] = near, d
		return 2
	}
	for i := range corners {
		if i == lo {
			continue
		}
		for k := first; k < 3; k++ {
			s[i][k] = (s[i][k] + s[lo][k]) / 2
		}
		h[i] = r.cost(s[i])
	}
	return corners + 1
}

// against is twice the log likelihood that is lost where the decay is held at
// another value, the rest at its best.
func (r *ringFit) against(decay float64) float64 {
	r.fixed = true
	start := r.best
	start[0] = math.Log(decay)
	_, c := r.search(start, [3]float64{0, 0.5 * decay, 0.5}, 40)
	return 2 * (r.like + c)
}

// curvature gives the standard error of ln decay: the inverse of the observed
// information (B. Efron, D. V. Hinkley, Biometrika 65(3), 1978, 457-482; from
// memory).
func (r *ringFit) curvature() bool {
	step := [3]float64{0.15, 0.15 * math.Exp(r.best[0]), 0.2}
	shifted := func(i, j int, a, b float64) float64 {
		p := r.best
		p[i] += a * step[i]
		p[j] += b * step[j]
		return r.cost(p)
	}
	h := &r.curve
	mid := r.cost(r.best)
	for i := range 3 {
		h[i][i] = (shifted(i, i, 1, 0) + shifted(i, i, -1, 0) - 2*mid) / (step[i] * step[i])
		for j := range i {
			h[i][j] = (shifted(i, j, 1, 1) + shifted(i, j, -1, -1) - shifted(i, j, 1, -1) - shifted(i, j, -1, 1)) / (4 * step[i] * step[j])
			h[j][i] = h[i][j]
		}
	}
	det := h[0][0]*(h[1][1]*h[2][2]-h[1][2]*h[1][2]) -
		h[0][1]*(h[0][1]*h[2][2]-h[1][2]*h[0][2]) +
		h[0][2]*(h[0][1]*h[1][2]-h[1][1]*h[0][2])
	v := (h[1][1]*h[2][2] - h[1][2]*h[1][2]) / det
	if !(v > 0) {
		return false
	}
	r.err = math.Sqrt(v)
	return true
}
