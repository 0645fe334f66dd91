package detect

import (
	"math"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// An arm is where a motor sits from the middle of all motors, in mean arm
// lengths: x forward, y right, z down as in ISO 1151-1, and whether its
// propeller turns as that of m1 does (+1) or against it (-1).
type arm struct {
	x, y, turn float64
}

// An airframe is a craft's layout seen from above.
type airframe struct {
	arms  [decode.MaxMotors]arm
	count int
	twist bool    // propellers turn both ways, so that yaw is a mode of the motors
	mm    float64 // one arm length in millimetres, 0 not known
}

// airframeOf places the motors of a craft. Those of a layout with a name stand
// evenly around, numbered clockwise seen from above, m1 the first one right of
// the nose, neighbours turning against each other. On quad-plus a motor sits on
// the nose itself, so that m1 is the right one and m4 the nose. Those of a
// custom layout stand where the craft file says.
func airframeOf(c *craft.Craft) (airframe, bool) {
	f := airframe{mm: c.ArmMM}
	first := 0.0 // degrees from the nose to m1, clockwise
	switch c.Layout {
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
	case "custom":
		return custom(c.Arms)
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

// custom places the motors of a layout of one's own, from the middle of them
// all: that is where the weight must lie for all to lift alike.
func custom(arms []craft.Arm) (airframe, bool) {
	f := airframe{count: len(arms)}
	if f.count < 3 || f.count > decode.MaxMotors {
		return f, false
	}
	n := float64(f.count)
	var x, y float64
	for i, a := range arms {
		sin, cos := math.Sincos(a.BearingDeg * math.Pi / 180)
		f.arms[i] = arm{a.LengthMM * cos, a.LengthMM * sin, 1}
		if a.Clockwise != arms[0].Clockwise {
			f.arms[i].turn, f.twist = -1, true
		}
		x += a.LengthMM * cos / n
		y += a.LengthMM * sin / n
		f.mm += a.LengthMM / n
	}
	for i := range f.count {
		f.arms[i].x = (f.arms[i].x - x) / f.mm
		f.arms[i].y = (f.arms[i].y - y) / f.mm
	}
	return f, true
}

// A column is one value for each motor.
type column [decode.MaxMotors]float64

// columns are the shapes that the mixer can make, one value for each motor:
// all alike, roll, pitch, and yaw where it is a mode.
func (f *airframe) columns() []column {
	c := make([]column, 3, 4)
	var yaw column
	for i, a := range f.arms[:f.count] {
		// Thrust on the right lifts the right side, which is roll the other way.
		c[0][i], c[1][i], c[2][i], yaw[i] = 1, -a.y, a.x, a.turn
	}
	if f.twist {
		c = append(c, yaw)
	}
	return c
}

// modes are the parts of the motors' differences, as shares of their mean.
// Positive is what pushes the axis the positive way by ISO 1151-1: roll right
// side down, pitch nose up. The sign of yaw is that of m1's group.
type modes struct {
	roll, pitch, yaw float64
	rest             float64 // root mean square of what no axis explains
	forward, right   float64 // centre of thrust, arm lengths from the motors' middle
}

// split breaks thrusts down into the mixer's modes by least squares.
func (f *airframe) split(thrust []float64) modes {
	var m modes
	e, ok := differences(thrust)
	if !ok {
		return m
	}
	x, left := leastSquares(f.columns(), e[:f.count])
	m.roll, m.pitch = x[1], x[2]
	if f.twist {
		m.yaw = x[3]
	}
	n := float64(f.count)
	m.rest = math.Sqrt(left / n)
	for i, a := range f.arms[:f.count] {
		m.forward += (1 + e[i]) * a.x / n
		m.right += (1 + e[i]) * a.y / n
	}
	return m
}

// differences are the thrusts over their mean, less 1.
func differences(thrust []float64) (e column, ok bool) {
	mean := 0.0
	for _, t := range thrust {
		mean += t / float64(len(thrust))
	}
	if !(mean > 0) {
		return e, false
	}
	for i, t := range thrust {
		e[i] = t/mean - 1
	}
	return e, true
}

// dependent: a column of which less than this is left, when those before it are
// taken out, is one of them again. Rounding leaves 1e-16.
const dependent = 1e-9

// leastSquares finds the weights of columns that come closest to y, and the
// sum of squares that is left, by Gram and Schmidt's factors Q and R, each
// column taken through twice. A column that those before it make up gets 0.
func leastSquares(cols []column, y []float64) (x [5]float64, left float64) {
	var q [5]column
	var r [5][5]float64
	var qy [5]float64
	n := len(y)
	dot := func(a, b *column) (s float64) {
		for i := range n {
			s += a[i] * b[i]
		}
		return s
	}
	var rest column
	copy(rest[:], y)
	for k := range cols {
		q[k] = cols[k]
		whole := math.Sqrt(dot(&q[k], &q[k]))
		for range 2 {
			for j := range k {
				p := dot(&q[j], &q[k])
				r[j][k] += p
				for i := range n {
					q[k][i] -= p * q[j][i]
				}
			}
		}
		size := math.Sqrt(dot(&q[k], &q[k]))
		if size <= dependent*whole {
			q[k] = column{}
			continue
		}
		r[k][k] = size
		for i := range n {
			q[k][i] /= size
		}
		qy[k] = dot(&q[k], &rest)
		for i := range n {
			rest[i] -= qy[k] * q[k][i]
		}
	}
	for k := len(cols) - 1; k >= 0; k-- {
		if r[k][k] == 0 {
			continue
		}
		x[k] = qy[k]
		for j := k + 1; j < len(cols); j++ {
			x[k] -= r[k][j] * x[j]
		}
		x[k] /= r[k][k]
	}
	return x, dot(&rest, &rest)
}

// holds reports whether an axis (roll, pitch, yaw) is among the main modes:
// at least half of the largest.
func (m *modes) holds(axis int) bool {
	of := [3]float64{math.Abs(m.roll), math.Abs(m.pitch), math.Abs(m.yaw)}
	return 2*of[axis] >= max(of[0], of[1], of[2])
}

// unexplained returns the share of the motors' differences, in squares, that
// is left when one cause is taken out by least squares: weight off centre (roll
// and pitch), a twist (yaw), or motor alone (counted from 0). 1 when there are
// no differences.
func (f *airframe) unexplained(thrust []float64, alone int) (centre, twist, one float64) {
	e, ok := differences(thrust)
	c := f.columns()
	y := e[:f.count]
	_, all := leastSquares(c[:1], y)
	if !ok || all == 0 {
		return 1, 1, 1
	}
	part := func(cols ...column) float64 {
		_, left := leastSquares(cols, y)
		return left / all
	}
	var single column
	single[alone] = 1
	centre, twist, one = part(c[:3]...), 1, part(c[0], single)
	if f.twist {
		twist = part(c[0], c[3])
	}
	return centre, twist, one
}
