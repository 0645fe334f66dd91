package simulator

import (
	"math"
	"math/cmplx"
)

// A loopTheory is one axis' rate loop on paper: the transfer functions of its
// parts, from the scenario's own figures, with the plant made linear about a
// throttle. It shares no code with the simulation.
type loopTheory struct {
	p, i, d            float64 // per deg/s
	leak               float64 // s
	gyroCut, dCut      float64 // rad/s
	dead               float64 // s, all pure delays
	motorLag           float64 // s
	torquePerOutput    float64 // N m per unit of controller output, slowly moved
	inertia            float64
	stiffness, damping float64 // of the pads about the axis, N m/rad, N m s/rad

	// tick, sample and step are the steps of the gyro's filters, the controller
	// and the rotors in seconds; 0 makes the loop continuous, as textbooks have
	// it.
	tick, sample, step float64

	notchAt []float64 // centres of the notches, rad/s
	notchQ  float64
}

// slopeOf returns how much thrust in N a motor's output adds at a mean output
// and pack voltage, all motors alike: by a finite difference of the speed at
// which the windings' voltage is used up, found by halving.
func slopeOf(sc *Scenario, output, volts, height float64) float64 {
	c := &sc.Craft
	d := c.PropellerMM / 1000
	rho := sc.Air.Pascal / (287.05287 * (sc.Air.Celsius + 273.15))
	coefficient := func(n float64, column int) float64 {
		rows := propellers[c.Propeller].rows
		inch := propellers[c.Propeller].diameterIn * 0.0254
		rpm := n * 60 * d * d / (inch * inch)
		for k := 1; k < len(rows); k++ {
			if rpm < rows[k][0] || k == len(rows)-1 {
				share := math.Min(math.Max((rpm-rows[k-1][0])/(rows[k][0]-rows[k-1][0]), 0), 1)
				return rows[k-1][column] + share*(rows[k][column]-rows[k-1][column])
			}
		}
		return 0
	}
	ke := 60 / (2 * math.Pi * c.KV)
	ratio := d / 2 / (4 * (c.GroundMM/1000 + height))
	thrust := func(o float64) float64 {
		lo, hi := 0.0, 1000.0
		for range 80 {
			n := (lo + hi) / 2
			q := coefficient(n, 2) / (2 * math.Pi) * rho * n * n * math.Pow(d, 5)
			if ke*2*math.Pi*n+c.WindingOhm*q/ke < o*volts {
				lo = n
			} else {
				hi = n
			}
		}
		return coefficient(lo, 1) * rho * lo * lo * math.Pow(d, 4) / (1 - ratio*ratio)
	}
	const h = 1e-4
	return (thrust(output+h) - thrust(output-h)) / (2 * h)
}

// theoryOf makes the loop of roll (0) or pitch (1) about what the bench does
// at a moment.
func theoryOf(sc *Scenario, axis int, b *Bench) loopTheory {
	c := &sc.Craft
	tr := b.Truth()
	g := [2][3]float64{{sc.Gains.RollP, sc.Gains.RollI, sc.Gains.RollD}, {sc.Gains.PitchP, sc.Gains.PitchI, sc.Gains.PitchD}}[axis]
	// What a motor's place and its share in the mixer make of its thrust.
	torque := 0.0
	for m, p := range sc.places() {
		arm := [2]float64{-p.y, p.x}[axis]
		torque += arm * b.control.mix[m][axis+1] * slopeOf(sc, tr.Throttle, tr.Volts, b.body.height)
	}
	half := [2]float64{c.FeetWidthMM, c.FeetLengthMM}[axis] / 2000
	weight := c.MassG / 1000 * 9.80665
	l := loopTheory{
		p: g[0], i: g[1], d: g[2], leak: sc.Loop.ILeakS,
		gyroCut: 2 * math.Pi * sc.Loop.GyroCutHz, dCut: 2 * math.Pi * sc.Loop.DCutHz,
		dead: sc.Loop.DelayMS / 1000, motorLag: c.MotorLagMS / 1000,
		torquePerOutput: torque, inertia: newBody(sc).inertia[axis],
		// Upright on its feet, what the pads carry tips it further.
		stiffness: 4*c.PadNM*half*half - (weight-tr.LiftN)*c.CGHeightMM/1000,
		damping:   4 * c.PadNSM * half * half,
		tick:      0.001, sample: sc.Loop.SampleMS / 1000, step: 0.0005,
		notchQ: sc.Loop.NotchQ,
	}
	if sc.Craft.Hold == "stand" {
		l.stiffness = 4*c.StandNM*half*half - weight*c.CGHeightMM/1000
		l.damping = 4 * c.StandNSM * half * half
	}
	if sc.Loop.Notch {
		for m := range tr.Motors {
			l.notchAt = append(l.notchAt, 2*math.Pi*tr.RPM[m]/60)
		}
	}
	return l
}

// lag is a first-order lag: continuous, or as y += share (x - y) every step.
func lag(s complex128, t, step float64) complex128 {
	if step == 0 {
		return 1 / (1 + s*complex(t, 0))
	}
	keep := math.Exp(-step / t)
	return complex(1-keep, 0) / (1 - complex(keep, 0)*cmplx.Exp(-s*complex(step, 0)))
}

// middle is what taking the middle of a step's two ends does.
func middle(s complex128, step float64) complex128 {
	return (1 + cmplx.Exp(-s*complex(step, 0))) / 2
}

// hold is what holding a value over a step does.
func hold(s complex128, step float64) complex128 {
	if step == 0 {
		return 1
	}
	x := s * complex(step, 0)
	return (1 - cmplx.Exp(-x)) / x
}

// pid is the controller, deg/s to output.
func (l *loopTheory) pid(s complex128) complex128 {
	i, d := 1/(s+complex(1/l.leak, 0)), s
	if l.sample > 0 {
		late := cmplx.Exp(-s * complex(l.sample, 0))
		i = complex(l.sample, 0) / (1 - complex(math.Exp(-l.sample/l.leak), 0)*late)
		d = (1 - late) / complex(l.sample, 0)
	}
	return complex(l.p, 0) + complex(l.i, 0)*i + complex(l.d, 0)*d*lag(s, 1/l.dCut, l.sample)
}

// notches is the response of all notches, (s^2 + w^2) / (s^2 + s w/Q + w^2)
// each, by the bilinear transform warped to keep the centre.
func (l *loopTheory) notches(s complex128) complex128 {
	all := complex(1, 0)
	for _, w := range l.notchAt {
		x := cmplx.Tanh(s*complex(l.tick/2, 0)) / complex(math.Tan(w*l.tick/2), 0)
		all *= (x*x + 1) / (x*x + x/complex(l.notchQ, 0) + 1)
	}
	return all
}

// at returns the open loop's response at s.
func (l *loopTheory) at(s complex128) complex128 {
	plant := complex(l.torquePerOutput, 0) * s / (complex(l.inertia, 0)*s*s + complex(l.damping, 0)*s + complex(l.stiffness, 0))
	held := hold(s, l.step)
	if l.sample > 0 { // an output lasts for so many steps of the rotors
		steps := int(math.Round(l.sample / l.step))
		sum := complex(0, 0)
		for k := range steps {
			sum += cmplx.Exp(-s * complex(float64(k)*l.step, 0))
		}
		held *= sum / complex(float64(steps), 0)
	}
	return complex(180/math.Pi, 0) * l.pid(s) * plant * held *
		l.notches(s) * lag(s, l.motorLag, l.step) * middle(s, l.step) * lag(s, 1/l.gyroCut, l.tick) * cmplx.Exp(-s*complex(l.dead, 0))
}

// ultimate returns the factor on all gains at which the loop neither grows
// nor dies away, and the frequency in rad/s: where the phase of the open loop
// is half a turn behind (the ultimate gain and period of Ziegler and Nichols,
// Trans. ASME 64, 1942, by the phase condition).
func (l *loopTheory) ultimate() (factor, omega float64) {
	least := math.Inf(1)
	im := func(w float64) float64 { return imag(l.at(complex(0, w))) }
	for w := 2.0; w < 600; w *= 1.01 {
		lo, hi := w, w*1.01
		if (im(lo) < 0) == (im(hi) < 0) {
			continue
		}
		for range 60 {
			mid := (lo + hi) / 2
			if (im(mid) < 0) == (im(lo) < 0) {
				lo = mid
			} else {
				hi = mid
			}
		}
		// The smallest factor that any crossing of the negative real axis has.
		if re := real(l.at(complex(0, lo))); re < 0 && -1/re < least {
			least, omega = -1/re, lo
		}
	}
	return least, omega
}

// pole returns the growth (1/s, real) and frequency (rad/s, imaginary) of the
// loop with all gains times factor: the root of 1 + factor L(s) = 0 by
// Newton's method from the ultimate point.
func (l *loopTheory) pole(factor float64) complex128 {
	_, w := l.ultimate()
	s := complex(0, w)
	k := complex(factor, 0)
	for range 50 {
		const h = 1e-4
		f := 1 + k*l.at(s)
		slope := (k*l.at(s+h) - k*l.at(s-h)) / (2 * h)
		s -= f / slope
	}
	return s
}
