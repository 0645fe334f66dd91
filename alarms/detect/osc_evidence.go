package detect

import "math"

// evidence counts looks that agree.
type evidence struct {
	hits  int
	since int64
	hz    float64
	first float64 // frequency at the first
}

// sameTone reports whether two frequencies, found in windows of so many
// seconds, may be of one tone.
func sameTone(a, b, seconds float64) bool { return math.Abs(a-b) <= max(0.1*b, 0.7/seconds) }

// hit takes one look. A tone at another frequency starts anew.
func (e *evidence) hit(at int64, hz, seconds float64) {
	if e.hits > 0 && !sameTone(hz, e.hz, seconds) {
		*e = evidence{}
	}
	if e.hits == 0 {
		e.since, e.first = at, hz
	}
	e.hits++
	e.hz = hz
}

// quietHours is the design of the test of growth: chance alone, in noise of
// the usual power, may ring once in so many hours of armed bench.
const quietHours = 500

// chanceBar is the log-likelihood ratio that growth must reach: the logarithm
// of the number of independent looks in quietHours. Page's cumulative sum of
// log-likelihood ratios runs at least exp(bar) independent looks between false
// alarms (G. Lorden, Annals of Mathematical Statistics 42(6), 1971, 1897-1908;
// from memory).
var chanceBar = math.Log(quietHours * looksAnHour())

// looksAnHour is the number of independent looks of three axes in an hour: one
// for each window's length and band.
func looksAnHour() float64 {
	n := 0.0
	for _, s := range oscSpecs {
		n += 3 * 3600 / s.seconds * float64(len(s.edges)-1)
	}
	return n
}

// A sequence accumulates the evidence of growth over windows that follow each
// other without overlap: S = max(0, S one window ago) + log-likelihood ratio of
// growth against none. Looks come more often than windows end, so that several
// such sums run side by side, one for each phase.
type sequence struct {
	past []float64
	at   []int64
	hz   []float64
	n    int
	span int64 // a window's length, microseconds
}

// newSequence makes one for windows of so many frames that are looked at every
// hop frames: it reaches back by more than a window.
func newSequence(seconds float64, frames, hop int) *sequence {
	keep := (frames+hop-1)/hop + 2
	return &sequence{
		past: make([]float64, keep), at: make([]int64, keep), hz: make([]float64, keep),
		span: int64(seconds * float64(Second)),
	}
}

func (s *sequence) clear() { s.n = 0 }

// leastRise, in standard errors, is the growth that the ratio speaks for: what
// rises by less in a window speaks against growth as much as for it.
const leastRise = 2.5

// add takes the growth of one look in standard errors, and returns the sum.
// For Gaussian errors the log-likelihood ratio of a growth of d standard errors
// against none is d z - d^2/2; the likeliest d that is no less than leastRise
// is taken (a generalised likelihood ratio).
func (s *sequence) add(at int64, z, hz float64) float64 {
	d := max(z, leastRise)
	sum := max(0, s.before(at, hz)) + d*z - d*d/2
	k := s.n % len(s.past)
	s.past[k], s.at[k], s.hz[k] = sum, at, hz
	s.n++
	return sum
}

// before is the sum of the phase whose last window ended where this one begins.
func (s *sequence) before(at int64, hz float64) float64 {
	for i := range min(s.n, len(s.past)) {
		k := (s.n - 1 - i) % len(s.past)
		if at-s.at[k] < s.span {
			continue
		}
		if at-s.at[k] > s.span+s.span/4 || !sameTone(s.hz[k], hz, seconds(s.span)) {
			return 0
		}
		return s.past[k]
	}
	return 0
}
