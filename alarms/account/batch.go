package account

import "math"

// batches is a mean of successive batch means with a standard error that holds
// for values that follow each other: the method of batch means (G. S. Fishman,
// Principles of Discrete Event Simulation, 1978, chapter 5; from memory). Batches
// that are much longer than the memory of what is measured are independent. Where
// they are not yet, the correlation r of neighbours widens the error by
// (1+r)/(1-r), which is exact for a memory that dies away exponentially.
type batches struct {
	n           int
	mean, over  float64 // Welford's recurrence (Technometrics 4, 1962, 419-420; from memory)
	first, last float64
	pairs       int
	product     float64 // of neighbours, less the first value each
	left, right float64 // sums of the earlier and the later ones of the pairs, so too
}

// leastBatches: fewer have no scatter to speak of.
const leastBatches = 3

// mostMemory bounds the correlation that is allowed for: beyond it the batches
// say too little of themselves.
const mostMemory = 0.9

// add takes the mean of one batch; joined says that it follows the last one
// without a break.
func (b *batches) add(v float64, joined bool) {
	if b.n == 0 {
		b.first = v
	}
	if joined && b.n > 0 {
		x, y := b.last-b.first, v-b.first
		b.pairs++
		b.product += x * y
		b.left += x
		b.right += y
	}
	b.n++
	off := v - b.mean
	b.mean += off / float64(b.n)
	b.over += off * (v - b.mean)
	b.last = v
}

// memory is the correlation of neighbours, 0 where it is not over nought by more
// than chance makes it.
func (b *batches) memory() float64 {
	if b.pairs < leastBatches || b.over <= 0 {
		return 0
	}
	n, m := float64(b.pairs), b.mean-b.first
	cov := (b.product - m*(b.left+b.right) + n*m*m) / n
	// An estimate from few pairs lies 1/n under the truth (M. S. Bartlett's
	// approximation; from memory).
	r := cov/(b.over/float64(b.n)) + 1/n
	if r < 1/math.Sqrt(n) {
		return 0
	}
	return min(r, mostMemory)
}

// se is the standard error of the mean; ok is false with too few batches.
func (b *batches) se() (se float64, ok bool) {
	if b.n < leastBatches {
		return 0, false
	}
	r := b.memory()
	return math.Sqrt(b.over / float64(b.n-1) / float64(b.n) * (1 + r) / (1 - r)), true
}
