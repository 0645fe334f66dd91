package simulator

// What shakes the frame, rotor by rotor, and on its way to the sensors: mass
// unbalance turns with the rotor; a bent blade lifts and drags otherwise than
// the rest, so that the lift's centre goes round too; each blade pushes the
// arm when it passes over it. The frame answers with its resonance, and the
// mount of the controller passes on what its stiffness lets through.

// defaultUnbalance is a rotor's static unbalance, kg m: about 2 g mm, some
// ten times what grade G6.3 of ISO 21940-11 allows so small a rotor. Common
// practice, no source: hobby propellers are not balanced in two planes.
const defaultUnbalance = 2e-6

const (
	rotorHeight = 0.03 // m, of the rotor plane over the centre of gravity
	liftRadius  = 0.35 // of the diameter, where a blade's lift may be put together (0.7 R, common practice)
)

// A path is how the frame and the mount pass vibration on.
type path struct {
	frameHz, frameDamping float64 // 0: rigid
	mountHz, mountDamping float64 // 0: bolted
	strap                 float64 // share of what goes past the mount, along what lies against it
}

// resonance returns the dynamic magnification of a frequency: what a mode of
// the frame moves over what it would if it were stiff, 1/sqrt((1-r^2)^2 +
// (2 zeta r)^2) (any text on vibration; e.g. S. S. Rao, Mechanical
// Vibrations, forced vibration; from memory).
func resonance(hz, natural, damping float64) float64 {
	if natural <= 0 {
		return 1
	}
	r := hz / natural
	stiff := 1 - mul(r, r)
	loss := mul(2, mul(damping, r))
	return 1 / sqrt(mul(stiff, stiff)+mul(loss, loss))
}

// transmissibility returns what a soft mount passes on of a frequency,
// sqrt((1 + (2 zeta r)^2) / ((1-r^2)^2 + (2 zeta r)^2)) (the same texts).
func transmissibility(hz, natural, damping float64) float64 {
	if natural <= 0 {
		return 1
	}
	loss := mul(2, mul(damping, hz/natural))
	return mul(sqrt(1+mul(loss, loss)), resonance(hz, natural, damping))
}

// gain returns what reaches the sensors of a vibration of a frequency.
func (p *path) gain(hz float64) float64 {
	mount := transmissibility(hz, p.mountHz, p.mountDamping)
	return mul(resonance(hz, p.frameHz, p.frameDamping), mount+mul(p.strap, 1-mount))
}

// lines are what of a rotor's once, twice and blade-pass vibration gets
// through.
type lines struct{ once, twice, pass float64 }

func (p *path) lines(n float64, blades int) lines {
	return lines{p.gain(n), p.gain(mul(2, n)), p.gain(mul(float64(blades), n))}
}

// power returns the angle theta times k, given as cosine and sine.
func power(c, s float64, k int) (ck, sk float64) {
	ck, sk = 1, 0
	for range k {
		ck, sk = mul(ck, c)-mul(sk, s), mul(sk, c)+mul(ck, s)
	}
	return ck, sk
}

// A shake is what all rotors together make the sensors feel at an instant.
type shake struct {
	torque [3]float64 // torque integrated over time, N m s
	force  [3]float64 // N
}

// add adds one rotor's part, ahead seconds after its last step. A turning
// force or torque of amplitude A integrated once over time is A/w.
func (k *shake) add(r *rotor, through *lines, blades int, ripple, diameter, ahead float64) {
	if r.n == 0 {
		return
	}
	turns := r.turns + mul(r.n, ahead)
	c, s := cosine(turns), sine(turns)
	w := mul(twoPi, r.n)
	lever := mul(liftRadius, diameter)
	// One blade that differs by a share, of so many: its lift goes round at
	// its radius, and its drag pushes the shaft around.
	odd := r.bent / float64(blades)
	tilt := mul(mul(odd, r.thrust), lever) // N m
	push := mul(mul(r.unbalance, w), w) + mul(odd, r.torque/lever)

	// In the plane, once a turn: (c, spin s) and its integral (s, -spin c)/w.
	once := mul(push, through.once)
	fx, fy := mul(once, c), mul(once, mul(r.spin, s))
	ix, iy := mul(once, s)/w, -mul(once, mul(r.spin, c))/w
	k.force[0] += fx
	k.force[1] += fy
	rock := mul(tilt, through.once) / w
	k.torque[0] += mul(rotorHeight, iy) + mul(rock, s)
	k.torque[1] += -mul(rotorHeight, ix) - mul(rock, mul(r.spin, c))
	k.torque[2] += mul(r.x, iy) - mul(r.y, ix)

	// Upward, where blades pass over the arm: each alike makes the blade-pass
	// line alone, one that differs makes the lower ones too.
	beat := mul(ripple, r.thrust)
	cb, sb := power(c, s, blades)
	c2, s2 := mul(c, c)-mul(s, s), mul(2, mul(s, c))
	pass := mul(beat, through.pass)
	low1, low2 := mul(mul(beat, odd), through.once), mul(mul(beat, odd), through.twice)
	up := mul(pass, cb) + mul(low1, c) + mul(low2, c2)
	sum := (mul(pass, sb)/float64(blades) + mul(low1, s) + mul(low2, s2)/2) / w
	k.force[2] -= up
	k.torque[0] -= mul(r.y, sum)
	k.torque[1] += mul(r.x, sum)
}
