package decode

const (
	// ticksLearn ticks tell how far apart ticks are.
	ticksLearn = 5
	// stoodLeast, milliseconds, and stoodBy times the usual way between two ticks
	// without one: whoever makes them was not let run (common practice, no source).
	stoodLeast = 150
	stoodBy    = 5
	// ticksMean is how many ticks the usual way is the mean of.
	ticksMean = 16
)

// Ticks tells by the ticks of the host's clock when whoever made them stood
// still: a program that was stopped, a machine that slept. A recording has the
// ticks, so that it tells the same. The zero value is ready.
type Ticks struct {
	last  int64
	n     int
	usual float64 // milliseconds
}

// Next takes a tick, milliseconds since any fixed start, and returns for how
// many milliseconds before it nobody ticked, 0 where they come as they do.
func (t *Ticks) Next(ms int64) (stood int64) {
	step := ms - t.last
	t.last = ms
	if t.n++; t.n == 1 || step < 0 {
		return 0
	}
	if t.n > ticksLearn && step >= stoodLeast && float64(step) >= stoodBy*t.usual {
		t.n = max(t.n-1, ticksLearn)
		return step
	}
	t.usual += (float64(step) - t.usual) / float64(min(t.n-1, ticksMean))
	return 0
}
