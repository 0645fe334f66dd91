package simulator

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/spatial/r3"
)

const stepSeconds = stepUS / 1e6

// adrift returns a body that nothing touches.
func adrift(inertia [3]float64) body {
	b := still(nil)
	b.inertia, b.tied, b.height = inertia, false, 1e9
	return b
}

// momentum returns the angular momentum in ground axes, by the attitude as a
// plain matrix.
func (b *body) momentum() r3.Vec {
	l := [3]float64{b.inertia[0] * b.rate[0], b.inertia[1] * b.rate[1], b.inertia[2] * b.rate[2]}
	return b.toGround(l)
}

func (b *body) toGround(v [3]float64) r3.Vec {
	a := mat.NewDense(3, 3, nil)
	for r := range 3 {
		a.SetRow(r, b.attitude[r][:])
	}
	var g mat.VecDense
	g.MulVec(a, mat.NewVecDense(3, v[:]))
	return r3.Vec{X: g.AtVec(0), Y: g.AtVec(1), Z: g.AtVec(2)}
}

// energy is the kinetic energy of turning, J.
func (b *body) energy() float64 {
	e := 0.0
	for k, w := range b.rate {
		e += b.inertia[k] * w * w / 2
	}
	return e
}

// An unwound angle grows on past half a turn.
type unwound struct {
	begun     bool
	last, sum float64
}

func (u *unwound) add(a float64) {
	if u.begun {
		u.sum += math.Remainder(a-u.last, 2*math.Pi)
	}
	u.begun, u.last = true, a
}

// A symmetric top left to itself, seen from the body: the part of its rate
// across the axis goes round at (I3 - I1)/I1 w3 and keeps its size; seen from
// the ground: the axis goes round the angular momentum at L/I1, at an angle
// whose cosine is I3 w3/L (Goldstein, Classical Mechanics, torque-free motion
// of a rigid body; from memory).
func TestSymmetricTopPrecesses(t *testing.T) {
	tests := []struct {
		name   string
		across float64 // I1 = I2
		along  float64 // I3
		axis   int     // which body axis is the symmetry axis
		w1, w3 float64 // rad/s
	}{
		{"flat, about z", 0.004, 0.007, 2, 1, 3},
		{"flat and fast", 0.004, 0.007, 2, 8, 30},
		{"long, about z", 0.004, 0.001, 2, 2, 6},
		{"long, about x", 0.004, 0.001, 0, 2, 6},
		{"flat, about y", 0.004, 0.0075, 1, 2, 6},
		{"flat, backwards", 0.004, 0.007, 2, 1, -3},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			inertia := [3]float64{tt.across, tt.across, tt.across}
			inertia[tt.axis] = tt.along
			b := adrift(inertia)
			i, j := (tt.axis+1)%3, (tt.axis+2)%3
			b.rate[i], b.rate[tt.axis] = tt.w1, tt.w3
			l := b.momentum()
			size := r3.Norm(l)
			tolerance := math.Pow(tt.w3*stepSeconds, 2) / 2 // it is a method of second order
			// Two axes across the momentum, to see the turning from.
			north := r3.Unit(r3.Cross(l, r3.Vec{X: 1, Y: 2, Z: 3}))
			east := r3.Cross(r3.Scale(1/size, l), north)
			var inside, outside unwound
			const steps = 60_000 // 30 s
			for k := range steps + 1 {
				inside.add(math.Atan2(b.rate[j], b.rate[i]))
				var own [3]float64
				own[tt.axis] = 1
				axis := b.toGround(own)
				outside.add(math.Atan2(r3.Dot(axis, east), r3.Dot(axis, north)))
				if k%1000 == 0 {
					require.InDelta(t, tt.along*tt.w3/size, r3.Dot(axis, l)/size, 20*tolerance, "the angle stays")
					require.InEpsilon(t, tt.w1, math.Hypot(b.rate[i], b.rate[j]), 20*tolerance)
				}
				b.step(0, [3]float64{})
			}
			const seconds = steps * stepSeconds
			t.Logf("in the body %.6f rad/s, from the ground %.6f rad/s", inside.sum/seconds, outside.sum/seconds)
			assert.InEpsilon(t, (tt.along-tt.across)/tt.across*tt.w3, inside.sum/seconds, tolerance)
			assert.InEpsilon(t, size/tt.across, outside.sum/seconds, tolerance)
		})
	}
}

// Nothing that turns freely gains or loses energy or angular momentum (the
// laws of conservation), in a million steps. The bounds of the energy are some
// ten times what was measured: it swings within a band and that band does not widen; momentum
// and matrix suffer from rounding alone (measured: 3e-13 and 2e-13).
func TestFreeTurningKeepsEnergyAndMomentum(t *testing.T) {
	tests := []struct {
		name string
		rate [3]float64
		band float64 // of the energy, relative
	}{
		{"slow tumble", [3]float64{1, 2, 0.5}, 2e-7},
		{"mostly about the middle axis", [3]float64{0.1, 6, 0.1}, 1e-6},
		{"2000 deg/s tumble", [3]float64{20, -15, 25}, 1e-5},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := adrift(still(nil).inertia)
			b.rate = tt.rate
			e0, l0 := b.energy(), b.momentum()
			var early, late, lost float64
			const steps = 1_000_000
			for k := range steps {
				b.step(0, [3]float64{})
				off := math.Abs(b.energy()/e0 - 1)
				switch {
				case k < steps/10:
					early = max(early, off)
				case k >= steps*9/10:
					late = max(late, off)
				}
				if k%1000 == 999 {
					lost = max(lost, r3.Norm(r3.Sub(b.momentum(), l0))/r3.Norm(l0))
				}
			}
			square := 0.0 // how far the matrix is from one that only turns
			for r := range 3 {
				for c := range 3 {
					dot := b.attitude[r][0]*b.attitude[c][0] + b.attitude[r][1]*b.attitude[c][1] + b.attitude[r][2]*b.attitude[c][2]
					if r == c {
						dot--
					}
					square = max(square, math.Abs(dot))
				}
			}
			t.Logf("energy off by %.2g in the first tenth, %.2g in the last; momentum %.2g; matrix %.2g", early, late, lost, square)
			assert.Less(t, early, tt.band)
			assert.Less(t, late, 1.1*early, "the band does not widen")
			assert.Less(t, lost, 1e-11)
			assert.Less(t, square, 1e-11)
		})
	}
}

// Turned about its greatest or its least axis of inertia a body goes on; about
// the middle one it turns over, again and again (the tennis racket theorem).
// The time from one turning over to the next but one is that of Euler's
// solution in elliptic functions, 4 K(k) sqrt(I1 I2 I3/((I3 - I2)(M^2 - 2 E
// I1))), k^2 = (I2 - I1)(2 E I3 - M^2)/((I3 - I2)(M^2 - 2 E I1)), the ends
// changed over where M^2 < 2 E I2 (Landau and Lifshitz, Mechanics, sect. 37;
// from memory); K is gonum's.
func TestMiddleAxisTurnsOver(t *testing.T) {
	inertia := still(nil).inertia
	require.Less(t, inertia[0], inertia[1])
	require.Less(t, inertia[1], inertia[2])
	tests := []struct {
		name  string
		rate  [3]float64
		axis  int
		turns bool // turns over
	}{
		{"least axis", [3]float64{10, 0.05, 0.05}, 0, false},
		{"middle axis", [3]float64{0.05, 10, 0.05}, 1, true},
		{"middle axis, nearer to it", [3]float64{0.0001, 10, 0}, 1, true},
		{"middle axis, backwards", [3]float64{0, -10, 0.02}, 1, true},
		{"greatest axis", [3]float64{0.05, 0.05, 10}, 2, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := adrift(inertia)
			b.rate = tt.rate
			m := r3.Norm(b.momentum())
			e := b.energy()
			overs := 0
			var ups []float64 // when the middle part passes nought upward
			was, middle := b.rate[tt.axis], b.rate[1]
			for k := range 240_000 {
				b.step(0, [3]float64{})
				if b.rate[tt.axis]*was < 0 {
					overs++
				}
				if middle < 0 && b.rate[1] >= 0 {
					ups = append(ups, (float64(k)-middle/(b.rate[1]-middle))*stepSeconds)
				}
				was, middle = b.rate[tt.axis], b.rate[1]
			}
			if tt.turns {
				assert.Greater(t, overs, 10)
			} else {
				assert.Zero(t, overs)
			}
			i1, i2, i3 := inertia[0], inertia[1], inertia[2]
			if m*m < 2*e*i2 {
				i1, i3 = i3, i1
			}
			k2 := (i2 - i1) * (2*e*i3 - m*m) / ((i3 - i2) * (m*m - 2*e*i1))
			want := 4 * mathext.CompleteK(k2) * math.Sqrt(i1*i2*i3/((i3-i2)*(m*m-2*e*i1)))
			require.Greater(t, len(ups), 3)
			got := (ups[len(ups)-1] - ups[0]) / float64(len(ups)-1)
			t.Logf("%d times over in 120 s; period %.6f s, Euler's %.6f s", overs, got, want)
			assert.InEpsilon(t, want, got, 1e-4)
		})
	}
}

// Any run of turns about the body's own axes, held against gonum's rotations
// by quaternions, played in the opposite order.
func TestAttitudeAgreesWithQuaternions(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	axes := [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	for range 200 {
		a, v := level(), [3]float64{1, -2, 3}
		n := 1 + random.IntN(12)
		turns := make([]r3.Rotation, n)
		for k := range turns {
			axis, angle := random.IntN(3), 6*(random.Float64()-0.5)
			a.turn(axis, angle, &v)
			turns[k] = r3.NewRotation(angle, axes[axis])
		}
		for c, p := range axes {
			for k := n - 1; k >= 0; k-- {
				p = turns[k].Rotate(p)
			}
			for r, want := range [3]float64{p.X, p.Y, p.Z} {
				require.InDelta(t, want, a[r][c], 1e-9)
			}
		}
		for r, want := range [3]float64{1, -2, 3} { // in ground axes the vector stayed
			require.InDelta(t, want, a[r][0]*v[0]+a[r][1]*v[1]+a[r][2]*v[2], 1e-9)
		}
	}
}

// Turned about z by yaw, then y by pitch, then x by roll, the angles read
// those again, whatever the yaw (ISO 1151-1; the product of the three
// matrices).
func TestAnglesReadBack(t *testing.T) {
	for _, yaw := range []float64{0, 1, -2.5, 3} {
		for roll := -3.1; roll < 3.14; roll += 0.31 {
			for pitch := -1.5; pitch < 1.55; pitch += 0.25 {
				a := level()
				var v [3]float64
				a.turn(2, yaw, &v)
				a.turn(1, pitch, &v)
				a.turn(0, roll, &v)
				x, y, z := mat.NewDense(3, 3, []float64{1, 0, 0, 0, math.Cos(roll), -math.Sin(roll), 0, math.Sin(roll), math.Cos(roll)}),
					mat.NewDense(3, 3, []float64{math.Cos(pitch), 0, math.Sin(pitch), 0, 1, 0, -math.Sin(pitch), 0, math.Cos(pitch)}),
					mat.NewDense(3, 3, []float64{math.Cos(yaw), -math.Sin(yaw), 0, math.Sin(yaw), math.Cos(yaw), 0, 0, 0, 1})
				var product mat.Dense
				product.Mul(z, y)
				product.Mul(&product, x)
				for r := range 3 {
					for c := range 3 {
						require.InDelta(t, product.At(r, c), a[r][c], 5e-11)
					}
				}
				gotRoll, gotPitch := a.angles()
				require.InDelta(t, roll, gotRoll, 1e-9)
				require.InDelta(t, pitch, gotPitch, 1e-9)
			}
		}
	}
}

// The library's functions are the oracle for ours.
func TestAnglesAgreeWithTheLibrary(t *testing.T) {
	for x := -7.0; x < 7; x += 0.00037 {
		require.InDelta(t, math.Sin(x), smallSine(x), 1e-11, "smallSine(%v)", x)
		require.InDelta(t, math.Cos(x), smallCosine(x), 1e-11, "smallCosine(%v)", x)
	}
	for x := -0.25; x <= 0.25; x += 1e-5 {
		require.InDelta(t, math.Sin(x), smallSine(x), 2e-14)
		require.InDelta(t, math.Cos(x), smallCosine(x), 2e-14)
	}
	for a := -math.Pi + 1e-6; a <= math.Pi; a += 0.0004 {
		for _, size := range []float64{1e-12, 1, 3e7} {
			y, x := size*math.Sin(a), size*math.Cos(a)
			require.InDelta(t, math.Atan2(y, x), arctan2(y, x), 1e-12, "arctan2 at %v", a)
		}
	}
	for _, p := range [][2]float64{{0, 0}, {0, 1}, {1, 0}, {-1, 0}, {0, -1}, {1, 1}, {-1, 1}, {-1, -1}, {1, -1}, {1e-300, 1}, {1, 1e-300}} {
		assert.InDelta(t, math.Atan2(p[0], p[1]), arctan2(p[0], p[1]), 1e-15)
	}
}
