package simulator

// A rotor is a motor with its propeller. Its speed follows the output with a
// first-order lag; with no output the drive brakes it by its shorted
// windings. Thrust and torque are those of a propeller at rest in still air,
// T = CT rho n^2 D^4 and Q = CP/(2 pi) rho n^2 D^5, with constant
// coefficients: near idle real ones are some per cent lower.
type rotor struct {
	x, y float64 // place from the centre, m: forward, right
	spin float64 // -1 turns counter-clockwise seen from above, +1 clockwise

	thrustBy  float64 // thrust over that of the craft's own propeller, sound
	torqueBy  float64 // the same of torque
	speedBy   float64 // speed over the rated one: no two motors are wound alike
	unbalance float64 // kg m

	n, before float64 // rev/s now, and a step ago
	turns     float64 // angle, turns
	gust      float64 // share of thrust by which turbulence lifts it now

	thrust float64 // N
	torque float64 // N m, what the air takes
	amps   float64 // of the winding
	watts  float64 // taken from the pack
	temp   float64 // deg C
}

// propulsion holds what the rotors share.
type propulsion struct {
	kt, kq     float64 // thrust and torque per n^2
	full       float64 // rev/s at full output and the reference voltage
	reference  float64 // V
	drive      float64 // share of the way in a step, driven
	brake      float64 // the same with no output
	rotorJ     float64 // kg m^2
	windingOhm float64
	nmPerAmp   float64
	gustKeep   float64 // what is left of a gust after a step
	gustNew    float64 // standard deviation of what a step adds, share of thrust
	heatJK     float64 // heat capacity of a motor, J/K
	ambient    float64 // deg C
}

// Coefficients and masses of the demo craft's drive. No published row for a
// propeller of three blades and 178 mm was at hand: two-bladed ones of
// similar size lie between CT 0.089, CP 0.039 (8 x 4) and CT 0.127, CP 0.089
// (9 x 6.75; Brandt, Deters, Ananda, Dantsker, Selig, UIUC Propeller
// Database, static rows, seen in a compiled copy); a third blade adds some.
const (
	defaultCT  = 0.125
	defaultCP  = 0.060
	airDensity = 1.225 // kg/m^3, ISO 2533 sea level
)

// ironLoss is what turning magnets lose in the iron, W s/rad (common practice,
// no source).
const ironLoss = 0.001

func newPropulsion(c *Craft, a *Air) propulsion {
	d := c.PropellerMM / 1000
	d2 := mul(d, d)
	d4 := mul(d2, d2)
	dt := float64(stepUS) / 1e6
	keep := 1 - approach(dt/a.GustSeconds)
	return propulsion{
		kt:         mul(mul(c.CT, airDensity), d4),
		kq:         mul(mul(c.CP/twoPi, airDensity), mul(d4, d)),
		full:       c.FullRPM / 60,
		reference:  mul(c.ReferenceV, float64(c.Cells)),
		drive:      approach(dt / (c.MotorLagMS / 1000)),
		brake:      approach(dt / (c.BrakeLagMS / 1000)),
		rotorJ:     mul(c.RotorGCM2, 1e-7),
		windingOhm: c.WindingOhm,
		nmPerAmp:   60 / mul(twoPi, c.KV),
		gustKeep:   keep,
		gustNew:    mul(a.Gust, sqrt(1-mul(keep, keep))),
		heatJK:     c.MotorHeatJK,
		ambient:    a.Celsius,
	}
}

// step moves the rotor on by one inner step under an output at a pack
// voltage; gust is a fresh normal number.
func (r *rotor) step(p *propulsion, out, volts, gust float64) {
	const dt = float64(stepUS) / 1e6
	r.before = r.n
	if out > 0 {
		want := mul(mul(mul(out, p.full), r.speedBy), volts/p.reference)
		r.n += mul(p.drive, want-r.n)
	} else {
		r.n -= mul(p.brake, r.n)
		if r.n < 0.5 { // bearing and magnet friction hold it
			r.n = 0
		}
	}
	r.turns += mul(r.n, dt)
	if r.turns >= 1 {
		r.turns -= 1
	}
	r.gust = mul(p.gustKeep, r.gust) + mul(p.gustNew, gust)
	n2 := mul(r.n, r.n)
	r.thrust = mul(mul(mul(p.kt, r.thrustBy), n2), 1+r.gust)
	r.torque = mul(mul(p.kq, r.torqueBy), n2)
	r.heat(p, out, dt)
}

// reaction returns the torque on the frame about the downward axis: the
// frame is pushed against the sense of the rotor's turning, by what the air
// takes and by what speeds the rotor up.
func (r *rotor) reaction(p *propulsion) float64 {
	const perStep = 1e6 / float64(stepUS)
	speedUp := mul(mul(twoPi, p.rotorJ), mul(r.n-r.before, perStep))
	return -mul(r.spin, r.torque+speedUp)
}

// heat follows the winding: copper loss by the current that the torque
// takes, cooled by the air the rotor moves.
func (r *rotor) heat(p *propulsion, out, dt float64) {
	omega := mul(twoPi, r.n)
	accel := mul(twoPi, r.n-r.before) / dt
	r.amps = (r.torque + mul(p.rotorJ, accel)) / p.nmPerAmp
	if out <= 0 {
		r.amps = 0
	}
	loss := mul(mul(r.amps, r.amps), p.windingOhm) + mul(ironLoss, omega)
	r.watts = mul(r.amps, mul(p.nmPerAmp, omega)) + loss
	if r.watts < 0 {
		r.watts = 0
	}
	cooling := mul(0.03+mul(0.0012, r.n), r.temp-p.ambient)
	r.temp += mul(loss-cooling, dt/p.heatJK)
}
