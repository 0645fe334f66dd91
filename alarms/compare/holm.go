package compare

import (
	"cmp"
	"math"
	"slices"
)

// holm decides many tests so that the chance of one false rejection among them
// is at most alpha, however they hang together (Holm, Scand. J. Statistics 6
// (1979) 65). It returns the level at which each was decided: those whose p is
// at most it are rejected. An interval at that level shows what was decided. A p
// of NaN is no test.
func holm(p []float64, alpha float64) (level []float64) {
	order := make([]int, 0, len(p))
	for i, v := range p {
		if !math.IsNaN(v) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(p[i], p[j]) })
	level = make([]float64, len(p))
	left, stopped := len(order), false
	at := alpha
	for _, i := range order {
		if !stopped {
			at = alpha / float64(left)
			stopped = p[i] > at
			left--
		}
		level[i] = at
	}
	return level
}
