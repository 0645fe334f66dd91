package simulator

import "math"

// A foot stands on a foam pad and is hooked to the base by a slack line; on a
// stand, a bolt does both. All act along the vertical only, the pad upward,
// the line downward.
type foot struct {
	x, y   float64 // place from the centre of gravity, m
	broken bool    // its line or bolt has let go
}

// A body is the craft as a rigid body with three turning axes and heave. Its
// axes are those of ISO 1151-1: x forward, y right, z down; rates about them,
// right wing down, nose up and clockwise seen from above positive. What holds
// it keeps it from travelling sideways.
type body struct {
	mass     float64
	inertia  [3]float64 // kg m^2, about x, y, z
	feet     [4]foot
	tips     [maxMotors]foot // the arms' ends, as high as the centre of gravity
	arms     int
	reach    float64 // m^2, of the furthest arm's end from the centre of gravity, squared
	cgHeight float64 // of the centre of gravity over the feet, m

	padK, padC   float64 // N/m, N s/m of one pad
	lineK, lineC float64 // of one line
	play         float64 // m that a foot may rise before its line is taut
	tied         bool    // there are lines or bolts at all
	shearK       float64 // N m/rad of the four pads about the vertical
	shearC       float64
	grip         float64 // N m of yaw that a newton on the pads can hold
	anchor       float64 // yaw at which the pads are not sheared, rad

	rate     [3]float64 // rad/s
	accel    [3]float64 // rad/s^2
	attitude attitude
	heading  float64 // rad, sum of the turning about the vertical
	height   float64 // m, 0 when all feet just touch
	climb    float64 // m/s
	lift     float64 // m/s^2, last upward acceleration

	padN  float64 // N, sum of what the pads carry
	lineN float64 // N, sum of the lines' pull
}

// newBody works inertia out from geometry and mass: motors as points at the
// arms' ends, arms as rods from the centre, the rest as a box.
func newBody(sc *Scenario) body {
	c := &sc.Craft
	mm := func(v float64) float64 { return v / 1000 }
	mass := c.MassG / 1000
	motor, arm := c.MotorG/1000, c.ArmG/1000
	all := sc.places()
	box := mass - mul(float64(len(all)), motor+arm)
	l, w, h := mm(c.BoxLengthMM), mm(c.BoxWidthMM), mm(c.BoxHeightMM)
	var xx, yy float64
	for _, p := range all {
		xx += mul(p.x, p.x)
		yy += mul(p.y, p.y)
	}
	point := motor + arm/3
	b := body{
		mass: mass,
		inertia: [3]float64{
			mul(point, yy) + mul(box/12, mul(w, w)+mul(h, h)),
			mul(point, xx) + mul(box/12, mul(l, l)+mul(h, h)),
			mul(point, xx+yy) + mul(box/12, mul(l, l)+mul(w, w)),
		},
		attitude: level(), tied: c.Hold != "free",
		cgHeight: mm(c.CGHeightMM),
		padK:     c.PadNM, padC: c.PadNSM, lineK: c.LineNM, lineC: c.LineNSM,
		play: mm(c.PlayMM), shearK: c.YawNMRad, shearC: c.YawNMSRad,
		grip: mul(0.6, mm(c.FeetLengthMM)/2), // friction 0.6 of foam, about the feet's distance
	}
	if c.Hold == "stand" {
		b.padK, b.padC, b.lineK, b.lineC, b.play = c.StandNM, c.StandNSM, c.StandNM, c.StandNSM, mm(c.StandPlayMM)
		b.grip = 1e6 // bolts do not slip
	}
	cgx, cgy := mm(c.CGForwardMM), mm(c.CGRightMM)
	fx, fy := c.FeetLengthMM/2000, c.FeetWidthMM/2000
	for k, at := range [4][2]float64{{fx, fy}, {-fx, fy}, {-fx, -fy}, {fx, -fy}} {
		b.feet[k] = foot{x: at[0] - cgx, y: at[1] - cgy}
	}
	b.arms = len(all)
	for m, p := range all {
		t := foot{x: p.x - cgx, y: p.y - cgy}
		b.tips[m] = t
		b.reach = math.Max(b.reach, mul(t.x, t.x)+mul(t.y, t.y))
	}
	b.height = -mul(mass, gravity) / mul(4, b.padK)
	return b
}

// step moves the body on by one inner step under the rotors' thrust (along
// the craft's own upward axis, N) and torque (N m), with the velocity first
// and the place after it, which keeps the energy of an undamped spring. The
// turning between is Euler's equations' own, played exactly.
func (b *body) step(thrust float64, torque [3]float64) {
	const dt = float64(stepUS) / 1e6
	x, y, z := b.attitude.up()
	held := b.contact(x, y, z, &torque)
	b.shear(x, y, z, &torque)

	w, i := &b.rate, &b.inertia
	b.accel[0] = (torque[0] - mul(i[2]-i[1], mul(w[1], w[2]))) / i[0]
	b.accel[1] = (torque[1] - mul(i[0]-i[2], mul(w[2], w[0]))) / i[1]
	b.accel[2] = (torque[2] - mul(i[1]-i[0], mul(w[0], w[1]))) / i[2]
	b.lift = (mul(thrust, -z)+held)/b.mass - gravity
	for k := range w {
		w[k] += mul(torque[k], dt) / i[k]
	}
	b.attitude.drift(w, i, dt)
	b.heading += mul(-mul(x, w[0])-mul(y, w[1])-mul(z, w[2]), dt)
	b.climb += mul(b.lift, dt)
	b.height += mul(b.climb, dt)
}

// contact adds the torque of pads and lines and returns their upward force.
// (x, y, z) is the upward direction in body axes.
func (b *body) contact(x, y, z float64, torque *[3]float64) float64 {
	b.padN, b.lineN = 0, 0
	if low := b.height + b.cgHeight; mul(low, math.Abs(low)) < mul(b.reach, mul(x, x)+mul(y, y)) {
		b.padN = b.strike(x, y, z, torque)
	}
	// Feet lie in a plane; what they share is worked out once.
	base := b.height + mul(b.cgHeight, z) + b.cgHeight
	wx, wy, wz := b.rate[0], b.rate[1], b.rate[2]
	most := mul(mostHold, mul(b.mass, gravity))
	h := b.cgHeight
	for k := range b.feet {
		f := &b.feet[k]
		rise := base + mul(f.x, x) + mul(f.y, y)
		if rise >= 0 && (rise <= b.play || !b.tied || f.broken) {
			continue
		}
		// The foot's own speed, omega x r, along the vertical.
		speed := b.climb + mul(x, mul(wy, h)-mul(wz, f.y)) + mul(y, mul(wz, f.x)-mul(wx, h)) + mul(z, mul(wx, f.y)-mul(wy, f.x))
		var up float64
		if rise < 0 {
			up = clamp(-mul(b.padK, rise)-mul(b.padC, speed), 0, most)
			b.padN += up
		} else {
			up = clamp(-mul(b.lineK, rise-b.play)-mul(b.lineC, speed), -most, 0)
			b.lineN -= up
		}
		fx, fy, fz := mul(up, x), mul(up, y), mul(up, z)
		torque[0] += mul(f.y, fz) - mul(h, fy)
		torque[1] += mul(h, fx) - mul(f.x, fz)
		torque[2] += mul(f.x, fy) - mul(f.y, fx)
	}
	return b.padN - b.lineN
}

// mostHold is what one pad or line gives at most, in weights of the craft: what
// is stiffer than the steps can follow must not make motion out of nothing.
const mostHold = 100

// strike has the arms' ends meet the ground, as softly as a pad does, and
// returns their upward force.
func (b *body) strike(x, y, z float64, torque *[3]float64) float64 {
	sum := 0.0
	for k := range b.arms {
		f := &b.tips[k]
		rise := b.height + b.cgHeight + mul(f.x, x) + mul(f.y, y)
		if rise >= 0 {
			continue
		}
		w := &b.rate
		speed := b.climb - mul(x, mul(w[2], f.y)) + mul(y, mul(w[2], f.x)) + mul(z, mul(w[0], f.y)-mul(w[1], f.x))
		up := math.Max(0, -mul(b.padK, rise)-mul(b.padC, speed))
		sum += up
		fx, fy, fz := mul(up, x), mul(up, y), mul(up, z)
		torque[0] += mul(f.y, fz)
		torque[1] -= mul(f.x, fz)
		torque[2] += mul(f.x, fy) - mul(f.y, fx)
	}
	return sum
}

// shear adds the pads' torque about the vertical. They hold by friction: what
// is twisted beyond it slips, and the anchor follows. (x, y, z) is the upward
// direction in body axes; heading counts about the downward one.
func (b *body) shear(x, y, z float64, torque *[3]float64) {
	most := mul(b.grip, b.padN+b.lineN)
	hold := mul(b.shearK, b.heading-b.anchor)
	if held := clamp(hold, -most, most); held != hold {
		b.anchor = b.heading - held/b.shearK
		hold = held
	}
	w := &b.rate
	turning := -mul(x, w[0]) - mul(y, w[1]) - mul(z, w[2])
	held := clamp(hold+mul(b.shearC, turning), -most, most)
	torque[0] += mul(held, x)
	torque[1] += mul(held, y)
	torque[2] += mul(held, z)
}
