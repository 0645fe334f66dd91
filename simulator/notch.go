package simulator

// A notch takes one line out of a signal: the second-order digital filter of
// the bilinear transform, H(s) = (s^2 + 1) / (s^2 + s/Q + 1) (R. Bristow-
// Johnson, Cookbook formulae for audio equalizer biquad filter coefficients;
// from memory). It lets its centre's neighbours pass from f/Q away.
type notch struct {
	b0, b1, a2 float64 // the other two coefficients are b0 and b1 again
}

// tune sets the centre, in turns a sample, and the quality.
func (n *notch) tune(turns, q float64) {
	alpha := sine(turns) / mul(2, q)
	n.b0 = 1 / (1 + alpha)
	n.b1 = mul(mul(-2, cosine(turns)), n.b0)
	n.a2 = mul(1-alpha, n.b0)
}

// memory is what a notch keeps of one axis (transposed direct form II).
type memory struct{ s1, s2 float64 }

func (n *notch) filter(m *memory, x float64) float64 {
	y := mul(n.b0, x) + m.s1
	m.s1 = mul(n.b1, x-y) + m.s2
	m.s2 = mul(n.b0, x) - mul(n.a2, y)
	return y
}

// notches follow the rotors: one for each, at its speed as the drive's
// electrical speed and the configured magnet poles make it out. A wrong count
// puts them beside the lines.
type notches struct {
	on     bool
	q      float64
	scale  float64 // turns a tick of the centre per rev/s of the rotor
	least  float64 // turns a tick under which one is left out
	motors int
	tuned  int // the next to be tuned: one a tick, since speeds change slowly
	each   [maxMotors]notch
	runs   [maxMotors]bool
	past   [3][maxMotors]memory
}

func newNotches(s *Scenario) notches {
	const dt = float64(tickUS) / 1e6
	poles := s.Loop.NotchPoles
	if poles == 0 {
		poles = s.Craft.Poles
	}
	return notches{
		on: s.Loop.Notch, q: s.Loop.NotchQ, motors: len(s.places()),
		scale: mul(dt, float64(s.Craft.Poles)/float64(poles)),
		least: mul(20, dt), // 20 Hz: under it, it would only delay the loop
	}
}

// follow tunes the next of the notches to its rotor's speed in rev/s.
func (n *notches) follow(rotors []rotor) {
	if !n.on {
		return
	}
	k := n.tuned
	n.tuned = (k + 1) % n.motors
	turns := mul(n.scale, mul(rotors[k].n, rotors[k].countBy))
	runs := turns > n.least && turns < 0.45
	if runs {
		n.each[k].tune(turns, n.q)
		if !n.runs[k] {
			for axis := range n.past {
				n.past[axis][k] = memory{}
			}
		}
	}
	n.runs[k] = runs
}

// filter passes one axis' sample through all of them.
func (n *notches) filter(axis int, x float64) float64 {
	if !n.on {
		return x
	}
	for k := range n.motors {
		if n.runs[k] {
			x = n.each[k].filter(&n.past[axis][k], x)
		}
	}
	return x
}
