// Package window keeps the last values of one measured quantity with the
// times they were taken, and answers for them: mean, spread, slope. Values and
// times come in, numbers go out. It knows nothing of lines, craft or alarms,
// and nothing of clocks: time is whatever the caller counts in.
package window

// perSecond is how many units of time make a second: the engine counts in
// microseconds, and Slope answers per second.
const perSecond = 1e6

// A Ring holds the newest values of one quantity, oldest first. It has a fixed
// capacity and allocates nothing after New: when full, the oldest value makes
// room. Its answers walk over the values, so nothing drifts by rounding
// however long a session lasts; keep rings short where they are asked often.
type Ring struct {
	at    []int64
	value []float64
	head  int // index of the oldest
	count int
}

// New returns an empty ring for at most capacity values (at least one).
func New(capacity int) *Ring {
	capacity = max(capacity, 1)
	return &Ring{at: make([]int64, capacity), value: make([]float64, capacity)}
}

// Push adds a value taken at time at. A value older than the newest one is
// refused: the times of a ring never go back.
func (r *Ring) Push(at int64, value float64) bool {
	if r.count > 0 && at < r.at[r.index(r.count-1)] {
		return false
	}
	if r.count == len(r.at) {
		r.head = r.index(1)
		r.count--
	}
	i := r.index(r.count)
	r.at[i], r.value[i] = at, value
	r.count++
	return true
}

// index turns a place counted from the oldest into one of the arrays.
func (r *Ring) index(i int) int {
	i += r.head
	if i >= len(r.at) {
		i -= len(r.at)
	}
	return i
}

// DropBefore forgets every value taken before time at.
func (r *Ring) DropBefore(at int64) {
	for r.count > 0 && r.at[r.head] < at {
		r.head = r.index(1)
		r.count--
	}
}

// Clear forgets everything.
func (r *Ring) Clear() { r.head, r.count = 0, 0 }

// Count returns how many values there are.
func (r *Ring) Count() int { return r.count }

// At returns value i, counted from the oldest, and its time. i must lie in
// 0..Count()-1.
func (r *Ring) At(i int) (at int64, value float64) {
	i = r.index(i)
	return r.at[i], r.value[i]
}

// Span returns the time from the oldest value to the newest, 0 with fewer
// than two.
func (r *Ring) Span() int64 {
	if r.count < 2 {
		return 0
	}
	return r.at[r.index(r.count-1)] - r.at[r.head]
}

// Mean returns the mean value, 0 when empty.
func (r *Ring) Mean() float64 {
	if r.count == 0 {
		return 0
	}
	sum := 0.0
	for i := range r.count {
		sum += r.value[r.index(i)]
	}
	return sum / float64(r.count)
}

// Range returns the smallest and the largest value, 0 and 0 when empty.
func (r *Ring) Range() (lowest, highest float64) {
	if r.count == 0 {
		return 0, 0
	}
	lowest, highest = r.value[r.head], r.value[r.head]
	for i := 1; i < r.count; i++ {
		v := r.value[r.index(i)]
		lowest, highest = min(lowest, v), max(highest, v)
	}
	return lowest, highest
}

// Min returns the smallest value, 0 when empty.
func (r *Ring) Min() float64 {
	lowest, _ := r.Range()
	return lowest
}

// Max returns the largest value, 0 when empty.
func (r *Ring) Max() float64 {
	_, highest := r.Range()
	return highest
}

// Spread returns the largest value less the smallest.
func (r *Ring) Spread() float64 {
	lowest, highest := r.Range()
	return highest - lowest
}

// Slope returns how fast the value rises, per second, by a straight line
// fitted with least squares; 0 when the times do not tell.
func (r *Ring) Slope() float64 {
	if r.Span() == 0 {
		return 0
	}
	start := r.at[r.head]
	meanT, meanV := 0.0, r.Mean()
	for i := range r.count {
		meanT += float64(r.at[r.index(i)] - start)
	}
	meanT /= float64(r.count)
	tv, tt := 0.0, 0.0
	for i := range r.count {
		k := r.index(i)
		t := float64(r.at[k]-start) - meanT
		tv += t * (r.value[k] - meanV)
		tt += t * t
	}
	return tv / tt * perSecond
}
