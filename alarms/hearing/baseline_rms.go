package hearing

import "math"

// Baselines returns the published detectors, fresh, in the order of the
// tables: fixed threshold on the RMS, count of integrated absolute errors,
// decay ratio, decay ratio with an amplitude gate. Each must be Reset before
// its first frame, takes frames in order of time, and shares nothing with the
// others.
func Baselines() []Baseline {
	return []Baseline{&rmsLevel{}, &iaeCount{}, &decayRatio{}, &decayRatio{gated: true}}
}

// rmsWindow is the stretch the RMS looks at, seconds: a few cycles of the
// slowest oscillation of interest.
const rmsWindow = 1.0

// An rmsLevel is the plain level detector: RMS of the controller output over
// the newest second, less its mean. It tells 0 until a second was seen, since
// the RMS of a shorter stretch swings more and would ring falsely.
type rmsLevel struct {
	ring   []rmsFrame
	oldest int
	n      int
	full   bool // a second was seen

	// Sums over the ring. Outputs are shares of full: what rounding leaves in
	// the sums lies far under the stream's last digit for hours.
	sum, square [3]float64
}

type rmsFrame struct {
	t float64
	x [3]float64
}

// Name implements Baseline.
func (r *rmsLevel) Name() string { return "RMS threshold" }

// Reset implements Baseline.
func (r *rmsLevel) Reset(rate float64) {
	// A stream may run somewhat faster than it promised.
	if n := int(1.25*rate*rmsWindow) + 16; len(r.ring) != n {
		r.ring = make([]rmsFrame, n)
	}
	r.oldest, r.n, r.full = 0, 0, false
	r.sum, r.square = [3]float64{}, [3]float64{}
}

// Take implements Baseline.
func (r *rmsLevel) Take(f *Frame) {
	for r.n > 0 && r.ring[r.oldest].t <= f.T-rmsWindow {
		r.drop()
		r.full = true
	}
	if r.n == len(r.ring) {
		r.drop()
	}
	at := r.oldest + r.n
	if at >= len(r.ring) {
		at -= len(r.ring)
	}
	r.ring[at] = rmsFrame{f.T, f.Output}
	r.n++
	for i, v := range f.Output {
		r.sum[i] += v
		r.square[i] += v * v
	}
}

// drop takes the oldest frame out of the sums.
func (r *rmsLevel) drop() {
	for i, v := range r.ring[r.oldest].x {
		r.sum[i] -= v
		r.square[i] -= v * v
	}
	r.n--
	if r.oldest++; r.oldest == len(r.ring) {
		r.oldest = 0
	}
}

// Score implements Baseline: the RMS.
func (r *rmsLevel) Score(i int) float64 {
	if !r.full || r.n < 2 {
		return 0
	}
	n := float64(r.n)
	return math.Sqrt(max(0, r.square[i]-r.sum[i]*r.sum[i]/n) / n)
}
