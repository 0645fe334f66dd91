package simulator

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// still returns a body of the demo craft at rest on its pads.
func still(change func(c *Craft)) body {
	sc := Default()
	if change != nil {
		change(&sc.Craft)
	}
	return newBody(&sc)
}

// seconds moves a body on under a steady thrust and torque.
func (b *body) seconds(s, thrust float64, torque [3]float64) {
	for range int(s*1e6) / stepUS {
		b.step(thrust, torque)
	}
}

// The pads carry the weight: 0.655 kg * 9.80665 m/s^2 over four pads of
// 150 N/m sinks it by 10.706 mm (Hooke's law; g of ISO 2533, from memory).
func TestBodyRestsOnItsPads(t *testing.T) {
	b := still(nil)
	b.seconds(4, 0, [3]float64{})
	assert.InDelta(t, -0.010706, b.height, 1e-6)
	assert.InDelta(t, 0.655*9.80665, b.padN, 1e-6)
	assert.Zero(t, b.lineN)
}

// Off the pads and with the lines slack it falls freely: h = g t^2 / 2.
func TestBodyFalls(t *testing.T) {
	b := still(func(c *Craft) { c.PlayMM = 1000 })
	b.play, b.height = 100, 50
	b.seconds(1, 0, [3]float64{})
	assert.InDelta(t, 50-9.80665/2, b.height, 0.003) // half a step at 9.8 m/s
	assert.Zero(t, b.padN)
}

// Undamped, it bounces with the period of a mass on four springs,
// 2 pi sqrt(m/4k) = 0.20760 s, and neither gains nor loses height.
func TestBodyBouncesWithoutLoss(t *testing.T) {
	b := still(func(c *Craft) { c.PadNSM = 0 })
	rest := b.height
	b.height += 0.003
	var ups []float64
	top := 0.0
	for k := range 20_000_000 / stepUS {
		was := b.height - rest
		b.step(0, [3]float64{})
		if now := b.height - rest; was < 0 && now >= 0 {
			ups = append(ups, float64(k)-was/(now-was))
		}
		if k > 19_000_000/stepUS {
			top = math.Max(top, b.height-rest)
		}
	}
	require.Greater(t, len(ups), 90)
	period := (ups[len(ups)-1] - ups[0]) / float64(len(ups)-1) * stepUS / 1e6
	assert.InDelta(t, 2*math.Pi*math.Sqrt(0.655/600), period, 1e-4)
	assert.InDelta(t, 0.003, top, 1e-5)
}

// A steady torque turns it at torque over inertia: angle = M t^2 / (2 I).
func TestBodyTurnsUnderTorque(t *testing.T) {
	for axis := range 3 {
		b := still(nil)
		b.play, b.height = 1e6, 1000
		var m [3]float64
		m[axis] = 0.002
		b.seconds(0.5, 0, m)
		roll, pitch := b.attitude.angles()
		assert.InEpsilon(t, 0.002/b.inertia[axis]*0.125, [3]float64{roll, pitch, b.heading}[axis], 0.002, axisNames[axis])
	}
}

// The tether holds what lifts: at three times its weight in thrust the craft
// stands a few millimetres over the play of its lines.
func TestTetherHolds(t *testing.T) {
	b := still(nil)
	b.seconds(3, 3*0.655*gravity, [3]float64{})
	assert.InDelta(t, 0.025+2*0.655*gravity/(4*1500), b.height, 1e-5)
	assert.Zero(t, b.padN)
	assert.InDelta(t, 2*0.655*gravity, b.lineN, 1e-3)
}

// Signs are those of ISO 1151-1 (x forward, y right, z down; right wing down,
// nose up, clockwise seen from above positive; from memory): a motor on the
// left lifts the left side, one in front the nose, and one that turns
// counter-clockwise twists the frame clockwise.
func TestSignsOfMotors(t *testing.T) {
	tests := []struct {
		name string
		fast []int // motors that run faster, from 1
		axis int
		sign float64
	}{
		{"left motors: right wing down", []int{3, 4}, 0, +1},
		{"right motors: left wing down", []int{1, 2}, 0, -1},
		{"front motors: nose up", []int{1, 4}, 1, +1},
		{"rear motors: nose down", []int{2, 3}, 1, -1},
		{"m1 and m3, counter-clockwise: clockwise", []int{1, 3}, 2, +1},
		{"m2 and m4, clockwise: counter-clockwise", []int{2, 4}, 2, -1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := New(quietScenario(), 1)
			b.out = [maxMotors]float64{0.2, 0.2, 0.2, 0.2}
			for _, m := range tt.fast {
				b.out[m-1] = 0.3
			}
			for range 100_000 / stepUS {
				b.step()
			}
			for axis, rate := range b.body.rate {
				if axis == tt.axis {
					assert.Greater(t, rate*tt.sign, 0.02)
				} else {
					assert.Less(t, math.Abs(rate), 0.02, axisNames[axis])
				}
			}
		})
	}
}

// Where the motors stand: clockwise seen from above, m1 the first one right of
// the nose, neighbours turning against each other.
func TestPlacesOfMotors(t *testing.T) {
	b := New(quietScenario(), 1)
	last := -1.0
	for m := range 4 {
		r := &b.rotors[m]
		bearing := math.Atan2(r.y, r.x) * 180 / math.Pi // from the nose, clockwise
		if bearing < 0 {
			bearing += 360
		}
		assert.InDelta(t, 45+90*float64(m), bearing, 1e-9)
		assert.Greater(t, bearing, last)
		last = bearing
		assert.Equal(t, -b.rotors[(m+1)%4].spin, r.spin)
	}
}

// Sticks, demands, controller outputs, motors and the turn itself all go the
// same way.
func TestSignsOfSticks(t *testing.T) {
	for axis, name := range axisNames {
		for _, sign := range []float64{1, -1} {
			sc := quietScenario()
			sc.Craft.PadNM, sc.Craft.PadNSM = 20, 0.5 // soft, so that it can turn
			sc.Craft.YawNMRad = 0.05
			sc.Events = append(sc.Events, Event{At: 3, Do: name, To: 0.3 * sign, Over: 0.05})
			b := New(sc, 1)
			playUntil(b, 3.15)
			tr := b.Truth()
			assert.Greater(t, sign*b.control.demand[axis], 20.0, name)
			assert.Greater(t, sign*tr.Control[axis], 0.01, name)
			assert.Greater(t, sign*tr.Rate[axis], 2.0, name)
			more := 0.0
			for m := range tr.Motors {
				more += b.control.mix[m][axis+1] * tr.Out[m]
			}
			assert.Greater(t, sign*more, 0.01, name)
		}
	}
}

// At rest the specific force on z is -9.81; with the right wing down the y
// axis looks down and feels the pads' push as a negative force, with the nose
// up the x axis looks up and feels it as a positive one.
func TestSignsOfForce(t *testing.T) {
	b := New(quietScenario(), 1)
	playUntil(b, 0.1)
	f := b.sense.force(b, 0)
	assert.InDelta(t, 0, f[0], 0.01)
	assert.InDelta(t, 0, f[1], 0.01)
	assert.InDelta(t, -9.81, f[2], 0.01)
	var still [3]float64
	b.body.attitude = level() // first the nose up, then the right wing down
	b.body.attitude.turn(1, 0.2, &still)
	b.body.attitude.turn(0, 0.1, &still)
	f = b.sense.force(b, 0)
	assert.InDelta(t, 9.80665*math.Sin(0.2), f[0], 0.02)
	assert.InDelta(t, -9.80665*math.Sin(0.1)*math.Cos(0.2), f[1], 0.02)
	b.sense.s.ForceBias = 0.5
	assert.InDelta(t, f[0]+0.5, b.sense.force(b, 0)[0], 0.02)
}

// A craft that lies on its back comes to rest: friction on the ground takes
// turning away whichever way up it lies.
func TestBodyComesToRestUpsideDown(t *testing.T) {
	for _, turn := range []float64{-5, 5} {
		b := still(nil)
		b.attitude = attitude{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}} // half a turn of roll
		b.height = -b.cgHeight
		b.rate[2] = turn
		spin := math.Abs(turn)
		for range 30 {
			b.seconds(0.2, 0, [3]float64{})
			assert.LessOrEqual(t, math.Abs(b.rate[2]), spin+1e-3, "nothing drives it")
			spin = math.Max(math.Abs(b.rate[2]), 0.5)
		}
		for axis, w := range b.rate {
			assert.InDelta(t, 0, w, 0.02, axisNames[axis])
		}
	}
}
