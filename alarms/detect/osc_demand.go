package detect

import "math"

const (
	// laguerreTau is the time constant of the Laguerre functions, seconds. The
	// demand itself and five of them span the answer of a rate loop, from the
	// first kick to about a quarter of a second; what is slower is drift, which
	// the windows remove. B. Wahlberg, IEEE Trans. Automatic Control 36(5), 1991,
	// 551-562 (from memory) gives the method.
	laguerreTau = 0.03
	// highPass takes out what is slower than any oscillation watched (hertz).
	highPass = 0.4
	// forgetDemand is how much demand movement is remembered, in units of the
	// movement that makes the model known: old settings are forgotten when
	// new movement teaches better, never while the sticks rest.
	forgetDemand = 20
	// learnDemand is the demand movement that makes the model known: a stick
	// pulse of 30 deg/s for a tenth of a second, (deg/s)^2 s (common practice,
	// no source).
	learnDemand = 90.0
	// ridge keeps the model at nothing where nothing was taught, (deg/s)^2 s.
	ridge = 1.0
	// doubtKnown is the share of the predicted answer that a known model may
	// be wrong by: the craft's gain changes with throttle by about that much
	// over a spin-up (common practice, no source).
	doubtKnown = 0.3
	// doubtGain is the controller output that a demand of 1 deg/s may make
	// where the answer is not known yet: full output for 200 deg/s, a very
	// tight loop.
	doubtGain = 0.005
)

// demand learns, as the craft runs, how controller output and rate answer the
// demand, so that what the pilot asked for can be taken out.
type demand struct {
	pole   float64
	gain   float64
	state  [basis]float64
	hp     [3]highpass
	r      [basis][basis]float64 // sum of products of the basis
	cu, cy [basis]float64
	theta  [2][basis]float64 // answers of output and rate
	taught float64           // (deg/s)^2 s
	still  bool              // nothing is learned: an oscillation would be taken for an answer
	rests  bool              // the pilot's hand rests
	turns  swing             // of the demand
}

// highpass is a first-order filter that takes out offset and drift.
type highpass struct {
	k, x, y float64
	live    bool
}

func newHighpass(rate float64) highpass {
	return highpass{k: 1 / (1 + 2*math.Pi*highPass/rate)}
}

func (h *highpass) next(x float64) float64 {
	if !h.live {
		h.live, h.x = true, x
		return 0
	}
	h.y = h.k * (h.y + x - h.x)
	h.x = x
	return h.y
}

func newDemand(rate float64) demand {
	p := math.Exp(-1 / (laguerreTau * rate))
	d := demand{pole: p, gain: 1 - p}
	for i := range d.hp {
		d.hp[i] = newHighpass(rate)
	}
	return d
}

// next turns one instant of output, rate and demand into a frame, and learns.
func (d *demand) next(x [3]float64, real bool, rate float64) frame {
	u, y, r := d.hp[0].next(x[0]), d.hp[1].next(x[1]), d.hp[2].next(x[2])
	// The demand itself, then the Laguerre functions: a low-pass (scaled to pass
	// a steady demand unchanged), and all-passes of the same pole after it.
	d.state[0] = r
	s0 := d.pole*d.state[1] + d.gain*r
	prev, old := s0, d.state[1]
	d.state[1] = s0
	for i := 2; i < basis; i++ {
		s := d.pole*d.state[i] + old - d.pole*prev
		old, d.state[i] = d.state[i], s
		prev = s
	}
	d.turns.take(r, rate)
	f := frame{real: real}
	copy(f.v[:basis], d.state[:])
	f.v[sigU], f.v[sigY] = u, y
	if real && !d.still && !d.fedBack() {
		d.learn(u, y, rate)
	}
	return f
}

// fedBack reports whether the demand is the craft's own: it swings although the
// pilot's hand rests.
func (d *demand) fedBack() bool { return d.rests && d.turns.swings() }

func (d *demand) learn(u, y, rate float64) {
	power := 0.0
	for _, s := range d.state {
		power += s * s
	}
	power /= basis
	if power < 1 { // under 1 deg/s: nothing to learn but noise
		return
	}
	dt := 1 / rate
	keep := 1.0
	if d.taught > forgetDemand*learnDemand {
		keep = 1 - min(power*dt/(forgetDemand*learnDemand), 0.5)
	}
	d.taught = d.taught*keep + power*dt
	for i := range basis {
		for j := 0; j <= i; j++ {
			d.r[i][j] = d.r[i][j]*keep + d.state[i]*d.state[j]*dt
		}
		d.cu[i] = d.cu[i]*keep + d.state[i]*u*dt
		d.cy[i] = d.cy[i]*keep + d.state[i]*y*dt
	}
}

// known reports whether the answer to the demand has been taught.
func (d *demand) known() bool { return d.taught >= learnDemand }

// solve brings the model up to date; called a few times a second.
func (d *demand) solve() {
	var l [basis][basis]float64
	for i := range basis {
		for j := 0; j <= i; j++ {
			s := d.r[i][j]
			if i == j {
				s += ridge
			}
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = s / l[j][j]
				continue
			}
			if s <= 0 || math.IsNaN(s) {
				d.theta = [2][basis]float64{}
				return
			}
			l[i][i] = math.Sqrt(s)
		}
	}
	for c, rhs := range [2]*[basis]float64{&d.cu, &d.cy} {
		x := *rhs
		for i := range basis {
			for k := range i {
				x[i] -= l[i][k] * x[k]
			}
			x[i] /= l[i][i]
		}
		for i := basis - 1; i >= 0; i-- {
			for k := i + 1; k < basis; k++ {
				x[i] -= l[k][i] * x[k]
			}
			x[i] /= l[i][i]
		}
		d.theta[c] = x
	}
}

// takeOut subtracts from the newest frames x of signal c (0 output, 1 rate) what
// the demand explains of them.
func (d *demand) takeOut(x []float64, c int, l *level) {
	var v [basis][]float64
	for i := range v {
		v[i] = l.newest(l.v[i], len(x))
	}
	for k := range x {
		s := 0.0
		for i, t := range d.theta[c] {
			s += t * v[i][k]
		}
		x[k] -= s
	}
}
