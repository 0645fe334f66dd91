package detect

import "math"

const (
	marginPast      = 256        // speeds kept of each rotor
	marginLineEvery = Second / 8 // between two of them: 32 s, the longest window
	// lineThere: a line or fold that lay within the ringing's width for this
	// share of the window is looked at closer.
	lineThere = 0.05
	// lineTurns is how far a line's phase must have wandered from that of a
	// steady one, in radians rms, before its reported speed can tell it from
	// ringing: ringing turned back by it loses 1-exp(-1/2), 40 %, of its
	// memory, and a line wins more than that.
	lineTurns = 1.0
	// lineUnlike: what has lost so much of its memory is no line.
	lineUnlike = 0.8
)

// marginLines is the history of the rotors' speeds over a ringing's window.
type marginLines struct {
	speeds
	phase [mostEnvelope]float64 // of one line, for each point of an envelope
}

// judge tells whether the ringing that r holds, at f hertz and cut out of a
// stream of the given pace up to now, is a rotor's line or the fold of one:
// alike, unlike, or notKnown where speeds are not reported or too steady.
func (l *marginLines) judge(r *ringFit, f, rate float64, now int64) likeness {
	if !l.known(now) {
		return notKnown
	}
	out := unlike
	width := math.Exp(r.best[0]) / (2 * math.Pi)
	for m := range l.motors {
		for _, order := range [...]float64{1, 2, l.blades} {
			if l.share(m, order, f, 2*width, rate, now, float64(r.n)*r.dt) < lineThere {
				continue
			}
			switch l.follows(r, m, order, rate, now) {
			case alike:
				return alike
			case notKnown:
				out = notKnown
			}
		}
	}
	return out
}

// share is the share of the window in which a rotor's line, or its fold, lay
// so near to f.
func (l *marginLines) share(m int, order, f, room, rate float64, now int64, window float64) float64 {
	in, all := 0.0, 0.0
	for i := range l.rows() {
		k := l.row(i)
		if seconds(now-l.at[k]) > window {
			break
		}
		all++
		if v := l.hz[k][m]; v > 0 && math.Abs(fold(order*v, rate)-f) < room+lineError*order*v {
			in++
		}
	}
	if all == 0 {
		return 0
	}
	return in / all
}

// follows compares the envelope's memory as it is with its memory after it was
// turned back by the rotor's own wandering. A line comes to rest by that, and
// ringing loses its memory.
func (l *marginLines) follows(r *ringFit, m int, order, rate float64, now int64) likeness {
	if !l.turn(r, m, order, rate, now) {
		return notKnown
	}
	lag := int(math.Round(min(math.Exp(-r.best[0]), 0.7) / r.dt))
	lag = min(max(lag, 1), r.n/4)
	mean, spread, n := 0.0, 0.0, 0.0
	for i := lag; i < r.n; i++ {
		mean += l.phase[i] - l.phase[i-lag]
		n++
	}
	mean /= n
	var plain, turned complex128
	for i := lag; i < r.n; i++ {
		d := l.phase[i] - l.phase[i-lag] - mean
		spread += d * d
		if !r.real[i] || !r.real[i-lag] {
			continue
		}
		p := r.z[i] * complex(real(r.z[i-lag]), -imag(r.z[i-lag]))
		s, c := math.Sincos(d)
		plain += p
		turned += p * complex(c, -s)
	}
	switch {
	case math.Sqrt(spread/n) < lineTurns:
		return notKnown
	case sq(turned) > lineUnlike*lineUnlike*sq(plain):
		return alike
	}
	return unlike
}

// turn works out the phase of a line, or of its fold, at the envelope's points.
func (l *marginLines) turn(r *ringFit, m int, order, rate float64, now int64) bool {
	k := 0 // steps back from the newest speed
	last := l.rows() - 1
	if last < 1 {
		return false
	}
	phase := 0.0
	for i := r.n - 1; i >= 0; i-- {
		at := now - int64(float64(r.n-1-i)*r.dt*float64(Second))
		for k < last-1 && l.at[l.row(k+1)] > at {
			k++
		}
		a, b := l.row(k+1), l.row(k)
		va, vb := l.hz[a][m], l.hz[b][m]
		if va == 0 || vb == 0 {
			return false
		}
		share := min(max(seconds(at-l.at[a])/seconds(l.at[b]-l.at[a]), 0), 1.5)
		v := order * (va + share*(vb-va))
		// The fold runs backwards where the line lies under a multiple of the pace.
		hz := v - rate*math.Round(v/rate)
		if hz < 0 {
			hz = -hz
		}
		l.phase[i] = -phase
		phase += 2 * math.Pi * hz * r.dt
	}
	return true
}
