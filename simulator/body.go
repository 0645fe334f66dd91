package simulator

import "math"

// gravity is the standard acceleration of free fall, m/s^2 (ISO 2533).
const gravity = 9.80665

func sqrt(v float64) float64 { return math.Sqrt(v) } // exact to the last digit by IEEE 754

// A foot stands on a foam pad and is hooked to the base by a slack line.
// Both act along the vertical only, the pad upward, the line downward.
type foot struct{ x, y float64 } // place from the centre of gravity, m

// A body is the craft as a rigid body with three turning axes and heave. Its
// axes are those of ISO 1151-1: x forward, y right, z down; p, q, r about
// them, right wing down, nose up and clockwise seen from above positive.
// Angles are the integrals of the rates, good while tilt stays small: the
// lines see to that. The pads carry it sideways, so it does not travel.
type body struct {
	mass     float64
	inertia  [3]float64 // kg m^2, about x, y, z
	feet     [4]foot
	cgHeight float64 // of the centre of gravity over the feet, m

	padK, padC   float64 // N/m, N s/m of one pad
	lineK, lineC float64 // of one line
	play         float64 // m that a foot may rise before its line is taut
	shearK       float64 // N m/rad of the four pads about the vertical
	shearC       float64
	grip         float64 // N m of yaw that a newton on the pads can hold
	anchor       float64 // yaw at which the pads are not sheared, rad

	rate   [3]float64 // rad/s
	accel  [3]float64 // rad/s^2
	angle  [3]float64 // rad
	height float64    // m, 0 when all feet just touch
	climb  float64    // m/s
	lift   float64    // m/s^2, last upward acceleration

	padN  float64 // N, sum of what the pads carry
	lineN float64 // N, sum of the lines' pull
}

// newBody works inertia out from geometry and mass: four motors as points at
// the arms' ends, four arms as rods from the centre, the rest as a box.
func newBody(c *Craft) body {
	mm := func(v float64) float64 { return v / 1000 }
	mass := c.MassG / 1000
	motor, arm := c.MotorG/1000, c.ArmG/1000
	half := mul(mm(c.DiagonalMM)/2, sqrt(0.5)) // of a motor from the centre, along x and along y
	box := mass - mul(4, motor+arm)
	l, w, h := mm(c.BoxLengthMM), mm(c.BoxWidthMM), mm(c.BoxHeightMM)
	h2 := mul(half, half)
	spokes := mul(mul(4, motor), h2) + mul(mul(4, arm), h2)/3
	b := body{
		mass: mass,
		inertia: [3]float64{
			spokes + mul(box/12, mul(w, w)+mul(h, h)),
			spokes + mul(box/12, mul(l, l)+mul(h, h)),
			mul(2, spokes) + mul(box/12, mul(l, l)+mul(w, w)),
		},
		cgHeight: mm(c.CGHeightMM),
		padK:     c.PadNM, padC: c.PadNSM, lineK: c.LineNM, lineC: c.LineNSM,
		play: mm(c.PlayMM), shearK: c.YawNMRad, shearC: c.YawNMSRad,
		grip: mul(0.6, mm(c.FeetLengthMM)/2), // friction 0.6 of foam, about the feet's distance
	}
	cgx, cgy := mm(c.CGForwardMM), mm(c.CGRightMM)
	fx, fy := c.FeetLengthMM/2000, c.FeetWidthMM/2000
	b.feet = [4]foot{{fx - cgx, fy - cgy}, {-fx - cgx, fy - cgy}, {-fx - cgx, -fy - cgy}, {fx - cgx, -fy - cgy}}
	b.height = -mul(mass, gravity) / mul(4, c.PadNM)
	return b
}

// step moves the body on by one inner step under the rotors' thrust (upward,
// N) and torque (N m), with the velocity first and the place after it, which
// keeps the energy of an undamped spring.
func (b *body) step(thrust float64, torque [3]float64) {
	const dt = float64(stepUS) / 1e6
	sr, cr := sine(b.angle[0]/twoPi), cosine(b.angle[0]/twoPi)
	sp, cp := sine(b.angle[1]/twoPi), cosine(b.angle[1]/twoPi)
	up := b.contact(sr, cr, sp, cp, &torque)
	torque[2] += b.shear()

	// Euler's equations: the torque less omega x (I omega).
	w, i := b.rate, b.inertia
	b.accel[0] = (torque[0] - mul(i[2]-i[1], mul(w[1], w[2]))) / i[0]
	b.accel[1] = (torque[1] - mul(i[0]-i[2], mul(w[2], w[0]))) / i[1]
	b.accel[2] = (torque[2] - mul(i[1]-i[0], mul(w[0], w[1]))) / i[2]
	b.lift = (mul(mul(thrust, cr), cp)+up)/b.mass - gravity
	for k := range b.rate {
		b.rate[k] += mul(b.accel[k], dt)
		b.angle[k] += mul(b.rate[k], dt)
	}
	b.climb += mul(b.lift, dt)
	b.height += mul(b.climb, dt)
}

// contact adds the torque of pads and lines and returns their upward force.
// A force F upward at (x, y, h) from the centre of gravity is, in body axes,
// F (sin pitch, -sin roll cos pitch, -cos roll cos pitch).
func (b *body) contact(sr, cr, sp, cp float64, torque *[3]float64) float64 {
	b.padN, b.lineN = 0, 0
	for k := range b.feet {
		f := &b.feet[k]
		rise := b.height + mul(f.x, sp) - mul(f.y, sr)
		speed := b.climb + mul(mul(f.x, cp), b.rate[1]) - mul(mul(f.y, cr), b.rate[0])
		var up float64
		switch {
		case rise < 0:
			up = math.Max(0, -mul(b.padK, rise)-mul(b.padC, speed))
			b.padN += up
		case rise > b.play:
			up = math.Min(0, -mul(b.lineK, rise-b.play)-mul(b.lineC, speed))
			b.lineN -= up
		default:
			continue
		}
		fx, fy, fz := mul(up, sp), -mul(mul(up, sr), cp), -mul(mul(up, cr), cp)
		torque[0] += mul(f.y, fz) - mul(b.cgHeight, fy)
		torque[1] += mul(b.cgHeight, fx) - mul(f.x, fz)
	}
	return b.padN - b.lineN
}

// shear returns the pads' torque about the vertical. They hold by friction:
// what is twisted beyond it slips, and the anchor follows.
func (b *body) shear() float64 {
	most := mul(b.grip, b.padN+b.lineN)
	hold := mul(b.shearK, b.angle[2]-b.anchor)
	if held := clamp(hold, -most, most); held != hold {
		b.anchor = b.angle[2] - held/b.shearK
		hold = held
	}
	return -clamp(hold+mul(b.shearC, b.rate[2]), -most, most)
}
