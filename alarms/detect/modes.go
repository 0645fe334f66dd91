package detect

import (
	"math"

	"tetherbell/decode"
)

// An arm is where a motor sits, in arm lengths: x forward, y right, z down as
// in ISO 1151-1, and its turning direction against its neighbours.
type arm struct {
	x, y, turn float64
}

// An airframe is a craft's layout seen from above.
type airframe struct {
	arms  [decode.MaxMotors]arm
	count int
	twist bool // neighbours turn opposite ways, so that yaw is a mode of the motors
}

// airframeOf places the motors of a layout: evenly around, numbered clockwise
// seen from above, m1 the first one right of the nose. On quad-plus a motor
// sits on the nose itself, so that m1 is the right one and m4 the nose.
func airframeOf(layout string) (airframe, bool) {
	var f airframe
	first := 0.0 // degrees from the nose to m1, clockwise
	switch layout {
	case "quad-x":
		f.count, first = 4, 45
	case "quad-plus":
		f.count, first = 4, 90
	case "hex-x":
		f.count, first = 6, 30
	case "octo-x":
		f.count, first = 8, 22.5
	case "tri":
		f.count, first = 3, 60
	default:
		return f, false
	}
	f.twist = f.count%2 == 0
	for i := range f.count {
		a := (first + 360*float64(i)/float64(f.count)) * math.Pi / 180
		f.arms[i] = arm{math.Cos(a), math.Sin(a), float64(1 - 2*(i%2))}
	}
	return f, true
}

// modes are the parts of the motors' differences, as shares of their mean.
// Positive is what pushes the axis the positive way by ISO 1151-1: roll right
// side down, pitch nose up. The sign of yaw is that of m1's group.
type modes struct {
	roll, pitch, yaw float64
	rest             float64 // root mean square of what no axis explains
	forward, right   float64 // centre of thrust, arm lengths from the middle
}

// split breaks thrusts down into modes by least squares. On evenly spaced arms
// the mean and the modes are at right angles to each other, so each one's
// least-squares part is its own projection.
func (f *airframe) split(thrust []float64) modes {
	var m modes
	mean := 0.0
	for _, t := range thrust {
		mean += t
	}
	mean /= float64(len(thrust))
	if mean <= 0 {
		return m
	}
	var roll, pitch, yaw, all, xx, yy float64
	for i, t := range thrust {
		a, e := f.arms[i], t/mean-1
		roll -= e * a.y // thrust on the right lifts the right side
		pitch += e * a.x
		yaw += e * a.turn
		all += e * e
		xx += a.x * a.x
		yy += a.y * a.y
	}
	n := float64(len(thrust))
	m.roll, m.pitch = roll/yy, pitch/xx
	if f.twist {
		m.yaw = yaw / n
	}
	// Parseval: what the modes do not hold is left over.
	left := all - m.roll*m.roll*yy - m.pitch*m.pitch*xx - m.yaw*m.yaw*n
	m.rest = math.Sqrt(max(left, 0) / n)
	m.forward, m.right = pitch/n, -roll/n
	return m
}

// holds reports whether an axis (roll, pitch, yaw) is among the main modes:
// at least half of the largest.
func (m *modes) holds(axis int) bool {
	of := [3]float64{math.Abs(m.roll), math.Abs(m.pitch), math.Abs(m.yaw)}
	return 2*of[axis] >= max(of[0], of[1], of[2])
}

// unexplained returns the share of the motors' differences that is left when
// one cause is taken out: weight off centre (roll and pitch), a twist (yaw),
// or motor alone (counted from 0). 1 when there are no differences.
func (f *airframe) unexplained(thrust []float64, alone int) (centre, twist, one float64) {
	m := f.split(thrust)
	n := float64(len(thrust))
	var xx, yy, all, mean float64
	for i, t := range thrust {
		mean += t / n
		xx += f.arms[i].x * f.arms[i].x
		yy += f.arms[i].y * f.arms[i].y
	}
	if mean <= 0 {
		return 1, 1, 1
	}
	for _, t := range thrust {
		all += (t/mean - 1) * (t/mean - 1)
	}
	if all == 0 {
		return 1, 1, 1
	}
	centre = 1 - (m.roll*m.roll*yy+m.pitch*m.pitch*xx)/all
	twist = 1 - m.yaw*m.yaw*n/all
	// One motor up by d, the others level: against the mean it stands at
	// d(n-1)/n and they at -d/n. The projection on that shape is e*n/(n-1).
	e := thrust[alone]/mean - 1
	one = 1 - e*e*n/(n-1)/all
	return centre, twist, one
}
