package report

import "math"

// A scale maps values onto places of a picture.
type scale struct {
	lo, hi   float64 // values
	from, to float64 // their places
	log      bool
}

// at is the place of a value; what lies outside is put on the edge.
func (s scale) at(v float64) float64 {
	lo, hi := s.lo, s.hi
	if s.log {
		lo, hi, v = math.Log10(lo), math.Log10(hi), math.Log10(max(v, s.lo))
	}
	share := min(max((v-lo)/(hi-lo), 0), 1)
	return s.from + share*(s.to-s.from)
}

// niceStep is the least of 1, 2 and 5 times a power of ten that divides a span
// into at most so many parts.
func niceStep(span float64, parts int) float64 {
	raw := span / float64(parts)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= raw*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// ticks are the multiples of a step within lo..hi.
func ticks(lo, hi, step float64) []float64 {
	var all []float64
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+step*1e-9; k++ {
		all = append(all, k*step)
	}
	return all
}

// padded gives a range some room, so that no curve runs along the frame, and
// the distance of its ticks. What begins at nought keeps it as its foot.
func padded(lo, hi float64, parts int, fromZero bool) (float64, float64, float64) {
	const room = 0.06 // of the range
	if !(hi > lo) {
		pad := max(math.Abs(lo)*0.05, 0.01)
		hi += pad
		if lo != 0 || !fromZero {
			lo -= pad
		}
	}
	pad := (hi - lo) * room
	step := niceStep(hi-lo, parts)
	if !fromZero || lo < 0 {
		lo -= pad
	}
	if !fromZero || hi > 0 {
		hi += pad
	}
	return lo, hi, step
}

// tickText writes a tick's value with as many decimals as its step needs.
func tickText(v, step float64) string {
	decimals := int(math.Ceil(-math.Log10(step) - 1e-9))
	return fixed(v, min(max(decimals, 0), 9))
}

// timeSteps are the distances of time ticks, in seconds, that people read
// without reckoning.
var timeSteps = []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800}

// timeStep divides a length into at most so many parts.
func timeStep(length float64, parts int) float64 {
	for _, s := range timeSteps {
		if length/s <= float64(parts) {
			return s
		}
	}
	return niceStep(length, parts)
}

// timeText is a time's label on an axis of that length.
func timeText(t, length float64) string {
	if length < 120 {
		return fixed(t, 1)
	}
	return clock(t)
}
