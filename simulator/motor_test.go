package simulator

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// spin returns a rotor brought to a speed in rev/s, and its propulsion.
func spin(c Craft, n float64) (rotor, propulsion) {
	air := Air{Pascal: 101325, Celsius: 15, GustSeconds: 1} // sea level, ISO 2533
	p := newPropulsion(&c, &air)
	r := rotor{thrustBy: 1, torqueBy: 1, speedBy: 1, spin: 1, temp: air.Celsius, n: n}
	r.step(&p, 1, p.volts(n), 0, 1)
	return r, p
}

// volts returns what keeps a sound rotor at a speed.
func (p *propulsion) volts(n float64) float64 {
	var k int
	_, cp := lookUp(p.rows, n*p.area, &k)
	q := cp * p.torqueBy * n * n
	return p.nmPerAmp*2*math.Pi*n + p.windingOhm*q/p.nmPerAmp
}

// Thrust and torque of published static rows: coefficients and speeds of the
// UIUC Propeller Database (Brandt, Deters, Ananda, Dantsker, Selig; found in
// a compiled copy), thrust and power worked out by hand from the definitions
// CT = T/(rho n^2 D^4), CP = P/(rho n^3 D^5) with rho 1.225 (recomputed).
func TestThrustOfPublishedRows(t *testing.T) {
	tests := []struct {
		name        string
		mm, rpm     float64
		ct, cp      float64
		thrust, pow float64 // N, W
	}{
		{"DA4002 9 x 6.75", 228.6, 1546.667, 0.125931, 0.088432, 0.279940, 1.158413},
		{"8 x 4 electric", 203.2, 3037, 0.0892, 0.0392, 0.477291, 2.157353},
		{"10 x 4.7 slow", 254.0, 2377, 0.1059, 0.0431, 0.847467, 3.470689},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := Default().Craft
			c.PropellerMM, c.CT, c.CP = tt.mm, tt.ct, tt.cp
			r, _ := spin(c, tt.rpm/60)
			assert.InEpsilon(t, tt.thrust, r.thrust, 1e-5)
			assert.InEpsilon(t, tt.pow, r.torque*2*math.Pi*tt.rpm/60, 1e-5)
		})
	}
}

// No propeller hovers on less power than momentum theory asks: P = T vh with
// vh = sqrt(T/(2 rho A)), 14.0236 W for 2.5 N and 203.2 mm (Leishman,
// Principles of Helicopter Aerodynamics, ch. 2; formula from memory, value
// recomputed). The demo craft's share of it, its figure of merit, must be one
// that small propellers have, and agree with 0.797885 CT^1.5/CP.
func TestPropellerKeepsMomentumTheory(t *testing.T) {
	ideal := func(thrust, d float64) float64 {
		return thrust * math.Sqrt(thrust/(2*1.225*math.Pi*d*d/4))
	}
	require.InDelta(t, 14.0236, ideal(2.5, 0.2032), 1e-3)
	c := Default().Craft
	r, _ := spin(c, 100)
	merit := ideal(r.thrust, c.PropellerMM/1000) / (r.torque * 2 * math.Pi * r.n)
	var k int
	rows := newPropeller(&c)
	ct, cp := lookUp(rows, r.n*0.178*0.178, &k)
	assert.InDelta(t, 0.797885*math.Pow(ct, 1.5)/cp, merit, 1e-3)
	assert.Greater(t, merit, 0.4)
	assert.Less(t, merit, 0.75)
}

// A first-order lag has gone 63.212 % of the way after one time constant,
// 86.466 % after two, 95.021 % after three (definition, recomputed).
func TestMotorLag(t *testing.T) {
	c := Default().Craft
	c.CT, c.CP = 0.15, 0.1 // so that the goal does not move on the way
	r, p := spin(c, 0)
	r.n = 0
	for k, share := range []float64{0.63212, 0.86466, 0.95021} {
		for range int(c.MotorLagMS*1000) / stepUS {
			r.step(&p, 0.5, 2*p.volts(100), 0, 1)
		}
		assert.InDelta(t, share, r.n/100, 1e-5, "after %d time constants", k+1)
	}
}

// Stopped, a rotor of under 200 mm stands within a second.
func TestMotorStands(t *testing.T) {
	r, p := spin(Default().Craft, 110)
	for range 1_000_000 / stepUS {
		r.step(&p, 0, 16, 0, 1)
	}
	assert.Zero(t, r.n)
	assert.Zero(t, r.thrust)
}

// 14 poles are 7 pole pairs: 12 000 rev/min are 84 000 electrical ones
// (definition, recomputed).
func TestElectricalSpeed(t *testing.T) {
	b := New(quietScenario(), 1)
	for m := range b.motors {
		b.rotors[m].n = 200
	}
	var sum float64
	for range 200 {
		b.bridge.begin(decode.ERPM, b.now)
		b.bridge.measure(b, b.now)
		for m := range 4 {
			v, ok := b.bridge.sample.Get(m)
			require.True(t, ok)
			assert.InEpsilon(t, 84000, v, 0.006)
			sum += v / 800
		}
	}
	assert.InEpsilon(t, 84000, sum, 0.0002)
}

// The square of the speed and the fourth power of the diameter: a 130 mm
// propeller among 178 mm ones makes 0.2845 of their thrust at their speed.
func TestSmallPropeller(t *testing.T) {
	sc, err := Load("weak-motor")
	require.NoError(t, err)
	b := New(sc, 1)
	assert.InDelta(t, 0.28451, b.rotors[2].thrustBy, 1e-5)
	assert.InDelta(t, 0.20779, b.rotors[2].torqueBy, 1e-5)
	assert.InDelta(t, 1, b.rotors[0].thrustBy, 0)
}

// Rotating unbalance pushes with U w^2: 1 g mm at 16 000 rev/min makes
// 2.8074 N (ISO 21940-11; formula from memory, value recomputed), which the
// accelerometer sees over the craft's mass.
func TestUnbalanceForce(t *testing.T) {
	sc := quietScenario()
	sc.Sensors.FrameHz = 0
	b := New(sc, 1)
	for m := range b.motors {
		b.rotors[m].unbalance = 0
	}
	b.rotors[0].unbalance, b.rotors[0].n = 1e-6, 16000.0/60
	for range b.motors {
		b.sense.step(b, 0) // works out what gets through
	}
	top := 0.0
	for us := range int64(4000) { // one turn takes 3750 us
		f := b.sense.force(b, us)
		top = math.Max(top, f[0])
	}
	assert.InEpsilon(t, 2.8074/0.655, top, 0.002)
}
