package simulator

// A rotor is a motor with its propeller. The drive puts a share of the pack's
// voltage, its output, across the windings. The speed at which back
// electromotive force and the current for the propeller's torque take up that
// voltage is what the rotor tends to, with a first-order lag; with no output
// the drive brakes it by its shorted windings. Thrust and torque are those of
// a propeller that stays in its place, T = CT rho n^2 D^4 and Q = CP/(2 pi)
// rho n^2 D^5.
type rotor struct {
	place int     // which of the craft's places it stands at
	x, y  float64 // place from the centre of gravity, m: forward, right
	spin  float64 // -1 turns counter-clockwise seen from above, +1 clockwise

	thrustBy  float64 // thrust over that of the craft's own propeller, sound
	torqueBy  float64 // the same of torque
	speedBy   float64 // speed constant over the rated one: no two motors are wound alike
	unbalance float64 // kg m
	bent      float64 // share by which one blade differs from the others
	locked    bool    // something holds it
	countBy   float64 // what the drive counts of its turns: 1, or a miscount

	gone      bool    // its propeller is
	intact    float64 // share of its blades that is there
	n, before float64 // rev/s now, and a step ago
	turns     float64 // angle, turns
	gust      float64 // share of thrust by which turbulence lifts it now
	row       int     // of the propeller's table

	thrust float64 // N
	torque float64 // N m, what the air takes
	amps   float64 // of the winding
	watts  float64 // taken from the pack
	eager  float64 // A/V, how fast what it takes from the pack grows with the voltage
	temp   float64 // deg C
}

// propulsion holds what the rotors share.
type propulsion struct {
	rows       []coefficients
	diameter   float64 // m
	area       float64 // D^2, m^2
	forceBy    float64 // rho D^4
	torqueBy   float64 // rho D^5 / (2 pi)
	drive      float64 // share of the way in a step, driven
	brake      float64 // the same with no output
	rotorJ     float64 // kg m^2
	windingOhm float64
	nmPerAmp   float64 // torque constant, which is the volts per rad/s too
	gustKeep   float64 // what is left of a gust after a step
	gustNew    float64 // standard deviation of what a step adds, share of thrust
	heatJK     float64 // heat capacity of a motor, J/K
	ambient    float64 // deg C
}

// What a motor loses and gives off besides its copper (common practice, no
// source): turning magnets lose power in the iron, and the air that the rotor
// moves cools it.
const (
	ironLoss     = 0.001  // W s/rad
	stillCooling = 0.03   // W/K
	fanCooling   = 0.0012 // W/K per rev/s
)

func newPropulsion(c *Craft, a *Air) propulsion {
	d := c.PropellerMM / 1000
	d2 := mul(d, d)
	d4 := mul(d2, d2)
	dt := float64(stepUS) / 1e6
	keep := 1 - approach(dt/a.GustSeconds)
	return propulsion{
		rows:       newPropeller(c),
		diameter:   d,
		area:       d2,
		forceBy:    mul(a.density(), d4),
		torqueBy:   mul(a.density(), mul(d4, d)) / twoPi,
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

// steady returns the speed in rev/s that a voltage keeps up against a torque
// of perTurn n^2 (N m): the root of ke w + R Q/ke = V.
func (p *propulsion) steady(volts, speedBy, perTurn float64) float64 {
	ke := mul(p.nmPerAmp, twoPi) / speedBy // V per rev/s
	a := mul(mul(p.windingOhm, perTurn), speedBy) / p.nmPerAmp
	// 2c / (b + sqrt(b^2 + 4ac)) does not lose digits where a is small.
	return mul(2, volts) / (ke + sqrt(mul(ke, ke)+mul(4, mul(a, volts))))
}

// step moves the rotor on by one inner step under an output at a pack
// voltage; gust is a fresh normal number and ground what the ground adds to
// thrust, as a factor.
func (r *rotor) step(p *propulsion, out, volts, gust, ground float64) {
	const dt = float64(stepUS) / 1e6
	r.before = r.n
	ct, cp := lookUp(p.rows, mul(r.n, p.area), &r.row)
	perTurn := mul(mul(p.torqueBy, cp), r.torqueBy)
	switch {
	case r.locked:
		r.n, r.before = 0, 0
	case out > 0:
		r.n += mul(p.drive, p.steady(mul(out, volts), r.speedBy, perTurn)-r.n)
	default:
		r.n -= mul(p.brake, r.n)
		if r.n < 0.5 { // bearing and magnet friction hold it
			r.n = 0
		}
	}
	// What acts over the step is the speed in its middle: with that at the end
	// the rotor would answer a quarter of a millisecond early.
	n := mul(0.5, r.n+r.before)
	r.turns += mul(n, dt)
	if r.turns >= 1 {
		r.turns -= 1
	}
	r.gust = mul(p.gustKeep, r.gust) + mul(p.gustNew, gust)
	n2 := mul(n, n)
	r.thrust = mul(mul(mul(mul(p.forceBy, ct), r.thrustBy), n2), mul(max(0, 1+r.gust), ground))
	r.torque = mul(perTurn, n2)
	r.heat(p, mul(out, volts))
	if r.watts > 0 && !r.locked {
		// A volt more at the pack, and the windings see out of it; the rotor
		// speeds up by drive/dt of what that means in speed; the current for it
		// flows for out of the time.
		r.eager = mul(mul(mul(out, out), mul(p.rotorJ, p.drive/dt)), mul(r.speedBy, r.speedBy)) / mul(p.nmPerAmp, p.nmPerAmp)
	}
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
// takes, the air's and the rotor's own when it speeds up or slows down, so
// that an output that trembles heats a motor whose mean does not change.
func (r *rotor) heat(p *propulsion, volts float64) {
	const dt = float64(stepUS) / 1e6
	omega := mul(twoPi, r.n)
	accel := mul(twoPi, r.n-r.before) / dt
	// A motor that runs faster a volt makes less torque an ampere.
	r.amps = mul(r.torque+mul(p.rotorJ, accel), r.speedBy) / p.nmPerAmp
	switch {
	case volts <= 0:
		r.amps = 0
	case r.locked:
		r.amps = volts / p.windingOhm
	}
	loss := mul(mul(r.amps, r.amps), p.windingOhm) + mul(ironLoss, omega)
	r.watts, r.eager = 0, 0
	if volts > 0 { // with no output nothing comes from the pack
		r.watts = max(0, mul(r.amps, mul(p.nmPerAmp, omega))/r.speedBy+loss)
	}
	cooling := mul(stillCooling+mul(fanCooling, r.n), r.temp-p.ambient)
	r.temp += mul(loss-cooling, dt/p.heatJK)
}
