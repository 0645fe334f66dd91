package simulator

import "math"

// A sense holds what the sensors carry from step to step. Everything is
// sampled as it stands at that instant, with no filter before it: what the
// rotors shake faster than half the sampling rate folds down, as it does on
// real craft.
type sense struct {
	s        Sensors
	path     path
	through  [maxMotors]lines
	worked   int     // the rotor whose lines are worked out next
	gyroStep float64 // standard deviation of one gyro sample, deg/s
	bias     [3]float64
	tare     float64 // N on the load cells at rest
	load     float64 // N, after the amplifier's low-pass
	loadKeep float64
	wash     float64 // N of thrust, for the pressure it draws at the barometer

	stuck             [stuckKinds]int64 // what hangs, until when, us
	lastGyro          [3]float64        // deg/s, what it hangs at
	lastAcc           [3]float64
	readGyro, readAcc bool // there is a value to hang at
}

// What may hang at its last value.
const (
	stuckGyro = iota
	stuckAccel
	stuckERPM
	stuckTemp
	stuckPack
	stuckAir
	stuckLoad
	stuckKinds
)

var stuckNames = []string{"gyro", "accel", "erpm", "temp", "pack", "air", "load"}

// gyroBand is the band that a gyro's own filter passes, Hz; its white noise
// has a standard deviation of density times the root of it.
const gyroBand = 500

func newSense(sc *Scenario, b *body) sense {
	const loadLag = 0.015 // s, common practice for a bridge amplifier, no source
	s := sc.Sensors
	return sense{
		s: s,
		path: path{
			frameHz: s.FrameHz, frameDamping: s.FrameDamping,
			mountHz: s.MountHz, mountDamping: s.MountDamping, strap: s.Strap,
		},
		gyroStep: mul(s.GyroNoise, sqrt(gyroBand)),
		bias:     [3]float64{s.GyroBias, s.GyroBias, s.GyroBias},
		tare:     b.padN - b.lineN,
		loadKeep: approach(float64(stepUS) / 1e6 / loadLag),
	}
}

// step lets the slow sensors follow.
func (s *sense) step(b *Bench, thrust float64) {
	s.load += mul(s.loadKeep, s.trueLift(b)-s.load)
	s.wash += mul(0.01, thrust-s.wash)
	s.worked = (s.worked + 1) % b.motors
	s.through[s.worked] = s.path.lines(b.rotors[s.worked].n, b.sc.Craft.Blades)
}

// trueLift is what the load cells carry less than at rest. Pads press on
// them, lines pull at them.
func (s *sense) trueLift(b *Bench) float64 { return s.tare - (b.body.padN - b.body.lineN) }

// shaken returns what the rotors shake at an instant.
func (s *sense) shaken(b *Bench, ahead float64) (k shake) {
	for m := range b.motors {
		k.add(&b.rotors[m], &s.through[m], b.sc.Craft.Blades, s.s.Ripple, b.prop.diameter, ahead)
	}
	return k
}

// gyro returns one sample in deg/s, ahead microseconds after the last inner
// step: the body's rate, the rotors' shaking, bias, noise, and the sensor's
// own grid of 1/16 deg/s.
func (s *sense) gyro(b *Bench, ahead int64, from *noise) (v [3]float64) {
	if b.now < s.stuck[stuckGyro] && s.readGyro {
		return s.lastGyro
	}
	d := float64(ahead) / 1e6
	k := s.shaken(b, d)
	for axis := range v {
		rate := b.body.rate[axis] + mul(b.body.accel[axis], d) + k.torque[axis]/b.body.inertia[axis]
		v[axis] = clamp(grid(mul(rate, degrees)+s.bias[axis]+mul(s.gyroStep, from.normal()), 16), -2000, 2000)
	}
	s.lastGyro, s.readGyro = v, true
	return v
}

// force returns one sample of the specific force, m/s^2: what the craft's
// weight and climb make in body axes, and the rotors' shaking.
func (s *sense) force(b *Bench, ahead int64) (f [3]float64) {
	if b.now < s.stuck[stuckAccel] && s.readAcc {
		return s.lastAcc
	}
	k := s.shaken(b, float64(ahead)/1e6)
	x, y, z := b.body.attitude.up()
	g := gravity + b.body.lift
	for axis, up := range [3]float64{x, y, z} {
		v := mul(g, up) + s.s.ForceBias + k.force[axis]/b.body.mass + mul(s.s.ForceNoise, b.lineNoise.normal())
		f[axis] = clamp(grid(v, 1000), -400, 400)
	}
	s.lastAcc, s.readAcc = f, true
	return f
}

// loadN returns one sample of the load cells.
func (s *sense) loadN(b *Bench) float64 {
	return clamp(grid(s.load+mul(s.s.LoadNoise, b.lineNoise.normal()), 1000), -2000, 2000)
}

// pascal returns one sample of the barometer.
func (s *sense) pascal(b *Bench) float64 {
	return clamp(grid(s.stillPascal(b)+mul(1.2, b.lineNoise.normal()), 10), 30_000, 120_000)
}

// stillPascal is what it would show without noise: the air it stands in less a
// share of the discs' loading, which the wash draws from the craft's middle.
func (s *sense) stillPascal(b *Bench) float64 {
	area := mul(mul(math.Pi/4, b.prop.area), float64(b.motors))
	return b.sc.Air.Pascal - mul(s.s.Wash, s.wash/area)
}
