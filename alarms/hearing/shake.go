package hearing

import "math"

// step moves everything on by one step of the loops.
func (d *Drawing) step() {
	d.steps++
	t := d.Now()
	d.moveThrottle(t)
	d.moveRotors()
	// Gains are not changed in mid-move: the sticks rest then.
	if resting := t > d.Begin-1.5 && t < d.Begin+0.1; d.Sticks && t > d.nextStick {
		d.moveStick(t, resting)
	}
	if d.Taps && t > d.nextTap {
		d.nextTap = t + 0.4 + 2*d.rng.Float64()
		a := &d.axes[d.rng.IntN(3)]
		// A knock of 5 to 40 deg/s within five milliseconds.
		a.tap = (5 + 35*d.rng.Float64()) / 0.005 * float64(1-2*d.rng.IntN(2))
		a.tapLeft = 0.005
	}
	rising := d.Growth > 0 && !d.Healthy && t >= d.Begin
	for i := range d.axes {
		a := &d.axes[i]
		switch {
		case rising && i == d.Axis():
			a.now = a.gain
		case d.Nearing:
			a.now = a.gain * (0.7 - 0.3*math.Cos(2*math.Pi*t/30))
		}
		d.moveAxis(a)
	}
}

func (d *Drawing) moveThrottle(t float64) {
	if !d.Ramps {
		return
	}
	if t > d.throttleIn {
		d.throttleIn = t + 0.5 + 3*d.rng.Float64()
		d.throttleTo = 0.12 + 0.4*d.rng.Float64()
	}
	// A hand moves the stick over half a second or so.
	d.throttle += (d.throttleTo - d.throttle) * d.h / 0.25
}

// moveRotors turns the rotors: speed goes with the root of thrust, and each
// wanders by itself.
func (d *Drawing) moveRotors() {
	for m := range d.rotors {
		r := &d.rotors[m]
		r.wander += d.h*(-r.wander/2) + 0.8*math.Sqrt(d.h)*d.rng.NormFloat64()
		want := 330*math.Sqrt(d.throttle)*(1+r.off) + r.wander
		if r.hz == 0 {
			r.hz = want
		}
		r.hz += (want - r.hz) * d.h / 0.06
		r.phase += 2 * math.Pi * r.hz * d.h
		if r.phase > 2*math.Pi*1e6 {
			r.phase = math.Mod(r.phase, 2*math.Pi)
		}
		d.said[m][d.saidAt] = r.hz
	}
	d.saidAt = (d.saidAt + 1) % len(d.said[0])
}

// moveStick draws the next move of the sticks: a step, a doublet's first half
// or back to the middle. It is held under what would put an output of 0.04 to
// it at once, and under 40 deg/s.
func (d *Drawing) moveStick(t float64, resting bool) {
	d.nextStick = t + 0.25 + 1.5*d.rng.Float64()
	if resting {
		d.nextStick = d.Begin + 0.1
	}
	for i := range d.axes {
		a := &d.axes[i]
		switch k := d.rng.IntN(3); {
		case resting || k == 1:
			a.wants = 0
		case k == 0:
			a.wants = -a.wants
		default:
			a.wants = min(40, 0.04/a.now) * (2*d.rng.Float64() - 1)
		}
	}
}

func (d *Drawing) moveAxis(a *axis) {
	const stick = 2 * math.Pi * 3 // hand and stick shaping, rad/s, critically damped
	a.demandV += d.h * (stick*stick*(a.wants-a.demand) - 2*stick*a.demandV)
	a.demand += d.h * a.demandV
	gyro := d.noise * GyroDensity * math.Sqrt(0.5/d.h) * d.rng.NormFloat64()
	if d.Lines > 0 {
		for m := range d.rotors {
			r := &d.rotors[m]
			v := r.hz / 230 // of half throttle; forces go with its square
			gyro += v * v * (a.lineGain[m][0]*math.Sin(r.phase+a.lineTurn[m][0]) + a.lineGain[m][1]*math.Sin(d.blades*r.phase+a.lineTurn[m][1]))
		}
	}
	// Rotor wash on the arms: torque noise, half of it below 4 Hz.
	const washHz = 4.0
	a.turbulence += d.h * 2 * math.Pi * washHz * (d.Wash*math.Sqrt(0.5/d.h)*d.rng.NormFloat64() - a.turbulence)
	torque := a.turbulence
	if d.Drift {
		// What the integrators of a held craft wind up against: about 3 % of
		// full output, moving within some seconds.
		a.pull += d.h*(-a.pull/4) + 0.03*a.push*math.Sqrt(d.h/2)*d.rng.NormFloat64()
		a.pullSlow += (a.pull - a.pullSlow) * d.h / 0.7
		a.torque += (a.pullSlow - a.torque) * d.h / 0.7
		torque += a.torque
	}
	if a.tapLeft > 0 {
		torque += a.tap
		a.tapLeft -= d.h
	}
	a.step(gyro, torque, a.demand)
}
