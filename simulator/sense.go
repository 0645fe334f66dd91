package simulator

import "math"

// defaultUnbalance is a rotor's static unbalance, kg m: about 2 g mm, some
// ten times what grade G6.3 of ISO 21940-11 allows so small a rotor. Common
// practice, no source: hobby propellers are not balanced in two planes.
const defaultUnbalance = 2e-6

// A sense holds what the sensors carry from step to step. Everything is
// sampled as it stands at that instant, with no filter before it: what the
// rotors shake faster than half the sampling rate folds down, as it does on
// real craft.
type sense struct {
	s        Sensors
	gyroStep float64 // standard deviation of one gyro sample, deg/s
	tare     float64 // N on the load cells at rest
	load     float64 // N, after the amplifier's low-pass
	loadKeep float64
	wash     float64 // N of thrust, for the pressure it draws at the barometer
}

// gyroBand is the band that a gyro's own filter passes, Hz; its white noise
// has a standard deviation of density times the root of it.
const gyroBand = 500

func newSense(sc *Scenario, b *body) sense {
	const loadLag = 0.015 // s, common practice for a bridge amplifier, no source
	return sense{
		s:        sc.Sensors,
		gyroStep: mul(sc.Sensors.GyroNoise, sqrt(gyroBand)),
		tare:     b.padN - b.lineN,
		loadKeep: approach(float64(stepUS) / 1e6 / loadLag),
	}
}

// step lets the slow sensors follow.
func (s *sense) step(b *Bench, thrust float64) {
	s.load += mul(s.loadKeep, s.trueLift(b)-s.load)
	s.wash += mul(0.01, thrust-s.wash)
}

// trueLift is what the load cells carry less than at rest. Pads press on
// them, lines pull at them.
func (s *sense) trueLift(b *Bench) float64 { return s.tare - (b.body.padN - b.body.lineN) }

// gyro returns one sample of axis k in deg/s, ahead microseconds after the
// last inner step: the body's rate, the rotors' shaking, bias, noise, and
// the sensor's own grid of 1/16 deg/s.
func (s *sense) gyro(b *Bench, k int, ahead int64, from *noise) float64 {
	d := float64(ahead) / 1e6
	rate := b.body.rate[k] + mul(b.body.accel[k], d) + s.shake(b, k, d)
	v := mul(rate, degrees) + s.s.GyroBias + mul(s.gyroStep, from.normal())
	return clamp(grid(v, 16), -2000, 2000)
}

// shake returns the rate that rotating unbalance and the blades' passing
// cause about axis k, rad/s. The force F = U w^2 turns with the rotor in its
// plane, a height over the centre of gravity; its torque integrated once is
// F/w = U w. A blade's passing lifts the arm it passes.
func (s *sense) shake(b *Bench, k int, d float64) float64 {
	const height = 0.03 // m, of the rotor plane over the centre of gravity
	sum := 0.0
	for m := range b.rotors {
		r := &b.rotors[m]
		if r.n == 0 {
			continue
		}
		turns := r.turns + mul(r.n, d)
		push := mul(r.unbalance, mul(twoPi, r.n)) // F/w
		pass := mul(s.s.Ripple, r.thrust) / mul(mul(twoPi, r.n), float64(b.sc.Craft.Blades))
		blade := mul(pass, sine(mul(turns, float64(b.sc.Craft.Blades))))
		c, q := cosine(turns), mul(r.spin, sine(turns))
		switch k {
		case 0:
			sum -= mul(height, mul(push, mul(r.spin, c))) + mul(r.y, blade)
		case 1:
			sum -= mul(height, mul(push, q)) - mul(r.x, blade)
		default:
			sum -= mul(push, mul(r.x, mul(r.spin, c))+mul(r.y, q))
		}
	}
	return sum / b.body.inertia[k]
}

// force returns one sample of the specific force, m/s^2.
func (s *sense) force(b *Bench, ahead int64) (f [3]float64) {
	d := float64(ahead) / 1e6
	sr, cr := sine(b.body.angle[0]/twoPi), cosine(b.body.angle[0]/twoPi)
	sp, cp := sine(b.body.angle[1]/twoPi), cosine(b.body.angle[1]/twoPi)
	g := gravity + b.body.lift
	f = [3]float64{mul(g, sp), -mul(mul(g, sr), cp), -mul(mul(g, cr), cp)}
	for m := range b.rotors {
		r := &b.rotors[m]
		turns := r.turns + mul(r.n, d)
		w := mul(twoPi, r.n)
		push := mul(mul(r.unbalance, w), w) / b.body.mass
		f[0] += mul(push, cosine(turns))
		f[1] += mul(push, mul(r.spin, sine(turns)))
		f[2] -= mul(mul(s.s.Ripple, r.thrust)/b.body.mass, cosine(mul(turns, float64(b.sc.Craft.Blades))))
	}
	for k := range f {
		f[k] = clamp(grid(f[k]+mul(s.s.ForceNoise, b.lineNoise.normal()), 1000), -400, 400)
	}
	return f
}

// loadN returns one sample of the load cells.
func (s *sense) loadN(b *Bench) float64 {
	return clamp(grid(s.load+mul(s.s.LoadNoise, b.lineNoise.normal()), 1000), -2000, 2000)
}

// pascal returns one sample of the barometer: the air it stands in less a
// little of the discs' loading, which the wash draws from the craft's middle.
func (s *sense) pascal(b *Bench) float64 {
	d := b.sc.Craft.PropellerMM / 1000
	area := mul(mul(math.Pi, d), d) // of four discs
	return clamp(grid(b.sc.Air.Pascal-mul(0.08, s.wash/area)+mul(1.2, b.lineNoise.normal()), 10), 30_000, 120_000)
}
