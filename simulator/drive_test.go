package simulator

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/interp"
)

// A driven is a motor on paper: the voltage balance of a brushed or
// electronically commutated motor, V = ke w + R I, Q = kt I, kt = ke in SI
// units (any text on direct-current machines; from memory). It shares no code
// with the simulation.
type driven struct {
	kv, ohm, d, rho, torqueBy float64
	name                      string // of the propeller
}

// at returns speed (rev/s), current and the torque that a voltage keeps up,
// by halving.
func (m driven) at(t *testing.T, volts float64) (n, amps, torque float64) {
	p := propellers[m.name]
	var rpm, cps []float64
	for _, r := range p.rows {
		rpm, cps = append(rpm, r[0]), append(cps, r[2])
	}
	var cp interp.PiecewiseLinear
	require.NoError(t, cp.Fit(rpm, cps))
	ke := 60 / (2 * math.Pi * m.kv) // V s, and N m/A
	size := m.d / (p.diameterIn * 0.0254)
	air := func(n float64) float64 {
		return m.torqueBy * cp.Predict(n*60*size*size) / (2 * math.Pi) * m.rho * n * n * math.Pow(m.d, 5)
	}
	lo, hi := 0.0, volts*m.kv/60
	for range 80 {
		n = (lo + hi) / 2
		if ke*2*math.Pi*n+m.ohm*air(n)/ke < volts {
			lo = n
		} else {
			hi = n
		}
	}
	return n, air(n) / ke, air(n)
}

// drive runs a rotor under an output and a pack voltage.
func (r *rotor) drive(p *propulsion, out, volts, seconds float64) {
	for range int(math.Round(seconds / stepSeconds)) {
		r.step(p, out, volts, 0, 1)
	}
}

// A rotor left to an output comes to the speed, current and torque that the
// motor on paper has; and what it takes from the pack is shaft power, copper
// and iron: of the winding's volts times amps nothing is left over.
func TestMotorBalance(t *testing.T) {
	tests := []struct {
		name   string
		out    float64
		change func(c *Craft, r *rotor)
	}{
		{"demo craft", 0.35, func(*Craft, *rotor) {}},
		{"low", 0.1, func(*Craft, *rotor) {}},
		{"full", 1, func(*Craft, *rotor) {}},
		{"weak magnets run faster, and take more current", 0.4, func(_ *Craft, r *rotor) { r.speedBy = 1.25 }},
		{"more turns run slower, and take less", 0.4, func(_ *Craft, r *rotor) { r.speedBy = 0.8 }},
		{"dragging propeller", 0.4, func(_ *Craft, r *rotor) { r.torqueBy = 1.4 }},
		{"thick leads", 0.4, func(c *Craft, _ *rotor) { c.WindingOhm = 0.005 }},
		{"thin leads", 0.6, func(c *Craft, _ *rotor) { c.WindingOhm = 0.5 }},
		{"large, slow", 0.5, func(c *Craft, _ *rotor) {
			c.Propeller, c.PropellerMM, c.KV, c.WindingOhm = "2x8.0x4.0", 381, 340, 0.06
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			const packVolts = 15.2
			c := Default().Craft
			r := rotor{thrustBy: 1, torqueBy: 1, speedBy: 1, spin: 1}
			tt.change(&c, &r)
			air := Air{Pascal: 101325, Celsius: 15, GustSeconds: 1}
			p := newPropulsion(&c, &air)
			r.drive(&p, tt.out, packVolts, 3)

			m := driven{kv: c.KV * r.speedBy, ohm: c.WindingOhm, d: c.PropellerMM / 1000, rho: 1.225, torqueBy: r.torqueBy, name: c.Propeller}
			n, amps, torque := m.at(t, tt.out*packVolts)
			t.Logf("%.2f rev/s, %.3f A, %.4f N m, %.2f W", r.n, r.amps, r.torque, r.watts)
			assert.InEpsilon(t, n, r.n, 1e-6)
			assert.InEpsilon(t, torque, r.torque, 1e-6)
			assert.InEpsilon(t, amps, r.amps, 1e-6)
			iron := ironLoss * 2 * math.Pi * n
			assert.InEpsilon(t, torque*2*math.Pi*n+amps*amps*c.WindingOhm+iron, r.watts, 1e-6)
			assert.InEpsilon(t, tt.out*packVolts*amps+iron, r.watts, 1e-6)
		})
	}
}

// Without a propeller it runs at KV times the voltage, without current; held
// fast it takes V/R (the same balance).
func TestMotorUnloadedAndHeld(t *testing.T) {
	for _, kv := range []float64{340, 752, 2300} {
		for _, volts := range []float64{1.5, 7.4, 14.8} {
			c := Default().Craft
			c.KV = kv
			p := newPropulsion(&c, &Air{Pascal: 101325, Celsius: 15, GustSeconds: 1})
			r := rotor{speedBy: 1, temp: 15} // no propeller: neither thrust nor torque
			r.drive(&p, volts/16, 16, 3)
			assert.InEpsilon(t, kv*volts, r.n*60, 1e-9)
			assert.InDelta(t, 0, r.amps, 1e-9)
			assert.Zero(t, r.thrust)

			r.locked = true
			r.drive(&p, volts/16, 16, 0.01)
			assert.Zero(t, r.n)
			assert.InEpsilon(t, volts/0.08, r.amps, 1e-9)
			assert.InEpsilon(t, volts*volts/0.08, r.watts, 1e-9)
		}
	}
}

// With no output a rotor that still turns takes nothing from the pack: what it
// loses comes out of its own motion (conservation of energy).
func TestMotorBrakedTakesNothing(t *testing.T) {
	r, p := spin(Default().Craft, 110)
	require.Greater(t, r.watts, 20.0)
	for range 200 {
		r.step(&p, 0, 16, 0, 1)
		require.Greater(t, r.n, 10.0)
		require.Zero(t, r.watts)
		require.Zero(t, r.amps)
	}
}

// Driven and braked, each with its own time constant: 63.212 %, 86.466 %,
// 95.021 % of the way after one, two, three (definition, recomputed).
func TestMotorLagsOfAllLengths(t *testing.T) {
	for _, ms := range []float64{5, 20, 80, 300} {
		c := Default().Craft
		c.MotorLagMS, c.BrakeLagMS, c.CT, c.CP = ms, 2*ms, 0.15, 0.1
		up, p := spin(c, 0)
		up.n = 0
		down, _ := spin(c, 200)
		goal := 2 * p.volts(100)
		for k, share := range []float64{0.63212, 0.86466, 0.95021} {
			up.drive(&p, 0.5, goal, ms/1000)
			down.drive(&p, 0, goal, 2*ms/1000)
			assert.InDelta(t, share, up.n/100, 1e-5, "%v ms, %d times", ms, k+1)
			assert.InDelta(t, share, 1-down.n/200, 1e-5, "%v ms, %d times", ms, k+1)
		}
	}
}

// A steady loss warms a motor to T = Ta + P/G (1 - exp(-t G/C)): 63.212 %,
// 86.466 %, 95.021 % of the way after one, two, three times C/G (a body of one
// heat capacity; definition, recomputed). Held fast, the loss is V^2/R and
// still air cools it; turning, the loss is copper and iron, and its own wind
// cools it.
func TestMotorWarms(t *testing.T) {
	tests := []struct {
		name   string
		locked bool
		n      float64 // rev/s
	}{{"held fast", true, 0}, {"100 rev/s", false, 100}, {"180 rev/s", false, 180}}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := Default().Craft
			r, p := spin(c, tt.n)
			volts := 1.2
			loss := volts * volts / c.WindingOhm
			conductance := 0.03
			r.locked = tt.locked
			if !tt.locked {
				volts = p.volts(tt.n)
				amps := r.torque * c.KV * 2 * math.Pi / 60
				loss = amps*amps*c.WindingOhm + 0.001*2*math.Pi*tt.n
				conductance += 0.0012 * tt.n
			}
			r.temp = 15
			tau := c.MotorHeatJK / conductance
			for k, share := range []float64{0.63212, 0.86466, 0.95021} {
				r.drive(&p, 1, volts, tau)
				assert.InEpsilon(t, share*loss/conductance, r.temp-15, 3e-5, "after %d time constants", k+1)
			}
			t.Logf("%.2f W, %.3f W/K, %.1f s", loss, conductance, tau)
		})
	}
}

// An output that trembles heats the motor by the current that speeds the
// rotor up and down, though its mean speed does not change. For a first-order
// lag the speed swings by A/sqrt(1 + (w tau)^2), its change by w times that;
// the torque for it is J times, the current over kt, and the copper takes half
// of R I^2 (transfer function of a first-order lag; rms of a sine). The
// temperature follows with the lag of the motor's heat.
func TestTremblingOutputHeats(t *testing.T) {
	tests := []struct{ hz, swing, lag float64 }{
		{100, 0.2, 50}, {100, 0.1, 50}, {40, 0.2, 50}, {100, 0.2, 20}, {25, 0.1, 100},
	}
	for _, tt := range tests {
		c := Default().Craft
		c.MotorLagMS = tt.lag
		p := newPropulsion(&c, &Air{Pascal: 101325, Celsius: 15, GustSeconds: 1})
		const volts, mean, seconds = 15.0, 0.4, 60
		speed := c.KV * volts / 60 // rev/s at full output
		calm := rotor{speedBy: 1, temp: 15, n: mean * speed}
		shaky := calm
		heat, turned := 0.0, 0.0
		const steps = seconds / stepSeconds
		for k := range int(steps) {
			calm.step(&p, mean, volts, 0, 1)
			shaky.step(&p, mean+tt.swing*math.Sin(2*math.Pi*tt.hz*float64(k)*stepSeconds), volts, 0, 1)
			heat += shaky.amps * shaky.amps * c.WindingOhm / steps
			turned += shaky.n / steps
		}
		w, tau := 2*math.Pi*tt.hz, tt.lag/1000
		accel := 2 * math.Pi * tt.swing * speed * w / math.Hypot(1, w*tau)
		amps := c.RotorGCM2 * 1e-7 * accel / (60 / (2 * math.Pi * c.KV))
		copper := amps * amps * c.WindingOhm / 2
		conductance := 0.03 + 0.0012*mean*speed
		rise := copper / conductance * (1 - math.Exp(-seconds*conductance/c.MotorHeatJK))
		t.Logf("%v Hz +-%v: %.3f W, on paper %.3f W; %.3f K over the calm one, on paper %.3f K", tt.hz, tt.swing, heat, copper, shaky.temp-calm.temp, rise)
		assert.InEpsilon(t, mean*speed, turned, 1e-3)
		assert.InEpsilon(t, copper, heat, 0.002)
		assert.InEpsilon(t, rise, shaky.temp-calm.temp, 0.002)
	}
}
