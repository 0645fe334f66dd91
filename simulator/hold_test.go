package simulator

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// effects returns what each motor's thrust makes: lift, roll, pitch and, but
// for a tri, yaw (ISO 1151-1: right wing down, nose up, clockwise seen from
// above), from bearings that the test names itself.
func effects(bearings, lengths []float64, clockwise []bool, rows int) *mat.Dense {
	var x0, y0 float64
	n := len(bearings)
	e := mat.NewDense(rows, n, nil)
	for m, deg := range bearings {
		x0 += lengths[m] * math.Cos(deg*math.Pi/180) / float64(n)
		y0 += lengths[m] * math.Sin(deg*math.Pi/180) / float64(n)
	}
	for m, deg := range bearings {
		e.Set(0, m, 1)
		e.Set(1, m, -(lengths[m]*math.Sin(deg*math.Pi/180) - y0))
		e.Set(2, m, lengths[m]*math.Cos(deg*math.Pi/180)-x0)
		if rows == 4 {
			e.Set(3, m, map[bool]float64{true: -1, false: 1}[clockwise[m]])
		}
	}
	return e
}

// pseudoInverse is gonum's, by singular values: V S^-1 U^T.
func pseudoInverse(t *testing.T, e *mat.Dense) *mat.Dense {
	var svd mat.SVD
	require.True(t, svd.Factorize(e, mat.SVDThin))
	var u, v, out mat.Dense
	svd.UTo(&u)
	svd.VTo(&v)
	s := svd.Values(nil)
	for c, value := range s {
		for r := range v.RawMatrix().Rows {
			v.Set(r, c, v.At(r, c)/value)
		}
	}
	out.Mul(&v, u.T())
	return &out
}

// Each column of the mixer makes its axis and nothing else, of all ways to do
// it the one with the smallest outputs: gonum's pseudo-inverse but for the
// column's size.
func TestMixerIsThePseudoInverse(t *testing.T) {
	alternating := func(n int) []bool {
		out := make([]bool, n)
		for m := range out {
			out[m] = m%2 == 1
		}
		return out
	}
	tests := []struct {
		layout    string
		bearings  []float64
		lengths   []float64 // m; of one figure, all alike
		clockwise []bool
		rows      int
	}{
		{"quad-x", []float64{45, 135, 225, 315}, []float64{0.1575}, nil, 4},
		{"quad-plus", []float64{90, 180, 270, 360}, []float64{0.1575}, nil, 4},
		{"hex-x", []float64{30, 90, 150, 210, 270, 330}, []float64{0.1575}, nil, 4},
		{"octo-x", []float64{22.5, 67.5, 112.5, 157.5, 202.5, 247.5, 292.5, 337.5}, []float64{0.1575}, nil, 4},
		{"tri", []float64{60, 180, 300}, []float64{0.1575}, nil, 3},
		{custom, []float64{38, 150, 215, 325}, []float64{0.19, 0.14, 0.16, 0.18}, nil, 4},
		{custom, []float64{20, 75, 130, 200, 290}, []float64{0.2, 0.15, 0.17, 0.22, 0.12}, []bool{false, true, false, true, true}, 4},
		{custom, []float64{10, 70, 110, 190, 260, 300, 350}, []float64{0.3, 0.2, 0.25, 0.3, 0.1, 0.22, 0.28}, nil, 4},
	}
	for _, tt := range tests {
		t.Run(tt.layout, func(t *testing.T) {
			sc := Default()
			sc.Craft.Layout, sc.Craft.MassG = tt.layout, 2000
			if tt.clockwise == nil {
				tt.clockwise = alternating(len(tt.bearings))
			}
			for len(tt.lengths) < len(tt.bearings) {
				tt.lengths = append(tt.lengths, tt.lengths[0])
			}
			if tt.layout == custom {
				for m, deg := range tt.bearings {
					sc.Arms = append(sc.Arms, Arm{BearingDeg: deg, LengthMM: tt.lengths[m] * 1000, Clockwise: tt.clockwise[m]})
				}
			}
			sc.Name, sc.Lesson, sc.Seconds, sc.Link.Baud = "mix", "for tests", 1, 0
			require.NoError(t, sc.Check())
			mix := newController(&sc).mix
			n := len(tt.bearings)
			m := mat.NewDense(n, tt.rows, nil)
			for r := range n {
				for c := range tt.rows {
					m.Set(r, c, mix[r][c])
				}
			}
			e := effects(tt.bearings, tt.lengths, tt.clockwise, tt.rows)
			var made mat.Dense
			made.Mul(e, m)
			want := pseudoInverse(t, e)
			for c := range tt.rows {
				for r := range tt.rows {
					if r == c {
						assert.Greater(t, made.At(r, c), 0.1, "axis %d", c)
					} else {
						assert.InDelta(t, 0, made.At(r, c), 1e-9, "axis %d makes none of %d", c, r)
					}
				}
				// The same direction as gonum's column, the largest entry 1 (of
				// throttle the mean).
				column, top, mean := mat.Col(nil, c, want), 0.0, 0.0
				for _, v := range column {
					top = max(top, math.Abs(v))
					mean += v / float64(n)
				}
				if c == 0 {
					top = mean
				}
				for r, v := range column {
					assert.InDelta(t, v/top, mix[r][c], 1e-9, "motor %d, axis %d", r+1, c)
				}
			}
			assert.Equal(t, make([][4]float64, maxMotors-n), mix[n:], "no motor, no output")
		})
	}
}

// The cells under the bench read lift, whatever holds the craft: pads that
// carry less, lines or bolts that pull (statics). Nothing but its weight comes
// off them when it is free. The amplifier's lag of 15 ms passes 63.212 % in
// that time.
func TestLoadCellsReadLift(t *testing.T) {
	for _, hold := range []string{"tether", "stand", "free"} {
		for _, lift := range []float64{0, 2, 5, 6.3, 6.6, 10, 18} {
			if hold == "free" && lift > weight {
				continue
			}
			sc := quietScenario()
			sc.Craft.Hold = hold
			b := New(sc, 1)
			for range 10_000_000 / stepUS {
				b.body.step(lift, [3]float64{})
				b.sense.step(b, lift)
			}
			assert.InDelta(t, lift, b.sense.loadN(b), 0.006, "%s, %v N", hold, lift)
			assert.InDelta(t, max(0, lift-weight), b.body.lineN, 0.005, "%s, %v N", hold, lift)
			assert.InDelta(t, max(0, weight-lift), b.body.padN, 0.005, "%s, %v N", hold, lift)
		}
	}
	b := New(quietScenario(), 1)
	b.body.padN -= 4 // suddenly
	for range 15_000 / stepUS {
		b.sense.step(b, 4)
	}
	assert.InDelta(t, 4*0.63212, b.sense.load, 1e-4)
}

// On the bench, what the cells read is what the propellers of the published
// tables make together.
func TestLoadCellsReadTheRotors(t *testing.T) {
	for _, hold := range []string{"tether", "stand"} {
		for _, throttle := range []float64{0.3, 0.8} {
			sc := quietScenario()
			sc.Craft.Hold = hold
			sc.Gains.Scale = 0.5 // on so stiff a stand the whole of them would make it swing
			sc.Events[1].To = throttle
			b := New(sc, 1)
			playUntil(b, 12)
			sum := 0.0
			for _, r := range b.rotors[:4] {
				sum += r.thrust
			}
			t.Logf("%s, throttle %v: rotors %.3f N, cells %.3f N", hold, throttle, sum, b.sense.loadN(b))
			assert.InDelta(t, sum, b.sense.loadN(b), 0.02)
		}
	}
}

// A line or bolt pulls by its stiffness beyond its play, and when it is broken
// not at all; the others do as before. The pads are not touched by it (Hooke's
// law).
func TestBrokenLineCarriesNothing(t *testing.T) {
	for _, hold := range []string{"tether", "stand"} {
		for foot := range 4 {
			whole := still(func(c *Craft) { c.Hold = hold })
			var torque, less [3]float64
			whole.height = whole.play + 0.004 // all four are taut
			whole.contact(0, 0, -1, &torque)
			require.InDelta(t, 4*whole.lineK*0.004, whole.lineN, 1e-9)

			broken := whole
			broken.feet[foot].broken = true
			broken.contact(0, 0, -1, &less)
			assert.InDelta(t, 3*whole.lineK*0.004, broken.lineN, 1e-9)
			f := broken.feet[foot]
			pull := whole.lineK * 0.004
			assert.InDelta(t, -f.y*pull, less[0]-torque[0], 1e-9, "roll, foot %d", foot+1)
			assert.InDelta(t, f.x*pull, less[1]-torque[1], 1e-9, "pitch, foot %d", foot+1)

			broken.height = -0.005 // it still stands on its pad
			broken.contact(0, 0, -1, &less)
			assert.InDelta(t, 4*broken.padK*0.005, broken.padN, 1e-9)
		}
	}
	// With all four gone it flies away, and the cells carry none of it.
	sc := quietScenario()
	b := New(sc, 1)
	for k := range b.body.feet {
		b.body.feet[k].broken = true
	}
	for range 2_000_000 / stepUS {
		b.body.step(8, [3]float64{})
		b.sense.step(b, 8)
	}
	assert.Zero(t, b.body.lineN)
	assert.Greater(t, b.body.height, 1.0)
	assert.InDelta(t, weight, b.sense.loadN(b), 0.005)
}

// Thrown on its side without a tether it comes to rest on its feet and arms'
// ends: the pads carry its weight, and nothing goes on turning.
func TestArmsStrikeTheGround(t *testing.T) {
	b := still(func(c *Craft) { c.Hold = "free" })
	b.height = 0.05
	b.rate = [3]float64{6, 1, 0}
	b.seconds(6, 0, [3]float64{})
	x, y, z := b.attitude.up()
	low := 1.0
	for k := range b.arms {
		low = math.Min(low, b.height+b.cgHeight+b.tips[k].x*x+b.tips[k].y*y)
	}
	assert.InDelta(t, 0, math.Sqrt(b.rate[0]*b.rate[0]+b.rate[1]*b.rate[1]), 0.05)
	assert.InDelta(t, 0.655*9.80665, b.padN, 0.1)
	assert.Greater(t, low, -0.03, "up is (%.2f %.2f %.2f)", x, y, z)
}

func TestCrossedLeads(t *testing.T) {
	sc := quietScenario()
	sc.Motors = []MotorSpec{{Motor: 1, Leads: 4, Thrust: 1, Torque: 1, Speed: 1}, {Motor: 4, Leads: 1, Thrust: 1, Torque: 1, Speed: 1}}
	plain, crossed := New(quietScenario(), 1), New(sc, 1)
	assert.Equal(t, plain.rotors[3].y, crossed.rotors[0].y)
	assert.Equal(t, plain.rotors[3].spin, crossed.rotors[0].spin)
	assert.Equal(t, plain.rotors[1].y, crossed.rotors[1].y)
	sc.Motors = sc.Motors[:1]
	assert.ErrorContains(t, sc.Check(), "two motors on the leads of motor 4")
	sc.Motors[0].Leads = 5
	assert.ErrorContains(t, sc.Check(), "motor 1: leads: 5 is not within 1..4")
}
