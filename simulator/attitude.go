package simulator

// An attitude is how the body lies: the matrix that takes body axes (x
// forward, y right, z down) to axes fixed to the ground.
type attitude [3][3]float64

func level() attitude { return attitude{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} }

// up returns the upward direction in body axes: level, it is (0, 0, -1).
func (a *attitude) up() (x, y, z float64) { return -a[2][0], -a[2][1], -a[2][2] }

// angles returns roll and pitch in radians (ISO 1151-1: right wing down, nose
// up positive).
func (a *attitude) angles() (roll, pitch float64) {
	x, y, z := a.up()
	return arctan2(-y, -z), arctan2(x, sqrt(mul(y, y)+mul(z, z)))
}

// turn rotates the body by an angle about its own axis k, and a vector in
// body axes the other way, so that in ground axes the vector stays.
func (a *attitude) turn(k int, angle float64, v *[3]float64) {
	i, j := (k+1)%3, (k+2)%3
	s, c := smallSine(angle), smallCosine(angle)
	for r := range a {
		p, q := a[r][i], a[r][j]
		a[r][i], a[r][j] = mul(c, p)+mul(s, q), mul(c, q)-mul(s, p)
	}
	p, q := v[i], v[j]
	v[i], v[j] = mul(c, p)+mul(s, q), mul(c, q)-mul(s, p)
}

// drift turns a body freely for a time. The kinetic energy is the sum of
// three parts, one for each axis, and each alone is a plain rotation about
// that axis; played in turn and back (x y z y x with half steps) they keep the
// angular momentum to the last digits, and the energy within a band that does
// not widen (S. Reich 1993; J. Touma, J. Wisdom 1994; from memory).
func (a *attitude) drift(rate, inertia *[3]float64, dt float64) {
	var momentum [3]float64
	for k := range momentum {
		momentum[k] = mul(inertia[k], rate[k])
	}
	turn := func(k int, dt float64) {
		a.turn(k, mul(momentum[k]/inertia[k], dt), &momentum)
	}
	turn(0, dt/2)
	turn(1, dt/2)
	turn(2, dt)
	turn(1, dt/2)
	turn(0, dt/2)
	for k := range momentum {
		rate[k] = momentum[k] / inertia[k]
	}
}
