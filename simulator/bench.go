package simulator

// The clock counts whole microseconds. The body and the rotors are stepped
// every stepUS, the controller every tickUS, and Next returns every sliceUS:
// well under the 0.1 s within which an alarm must come.
const (
	stepUS  = 500
	tickUS  = 1000
	sliceUS = 5000
)

// A Bench is a craft on its tether with a bridge beside it. It is made by
// New, driven by Next, and not safe for use by two goroutines.
type Bench struct {
	sc    Scenario
	now   int64 // us since the start
	end   int64
	left  []Event // still to come, by time
	hands hands

	body    body
	rotors  [4]rotor
	prop    propulsion
	control controller
	pack    pack

	airNoise  noise
	gyroNoise noise // of what the controller reads
	lineNoise noise // of what the bridge reads

	armed, stopped, controlOK bool
	stuck                     [4]bool    // the output stays when the motors are stopped
	stuckAt                   [4]float64 // where it stays
	out                       [4]float64 // what reaches the motors

	sense  sense
	bridge bridge
	watch  watch
}

// New puts a scenario on the bench. The same scenario and seed give the same
// bytes on every machine. It panics when the scenario cannot be run: ask
// Check first for one that you altered.
func New(sc Scenario, seed uint64) *Bench {
	if err := sc.Check(); err != nil {
		panic("simulator: " + err.Error())
	}
	b := &Bench{
		sc: sc, end: microseconds(sc.Seconds), controlOK: true,
		body: newBody(&sc.Craft), prop: newPropulsion(&sc.Craft, &sc.Air), control: newController(&sc),
		pack:      newPack(&sc.Craft),
		airNoise:  newNoise(seed, streamAir),
		gyroNoise: newNoise(seed, streamSensor), lineNoise: newNoise(seed, streamLines),
	}
	b.left = sortedEvents(sc.Events)
	b.layOut(newNoise(seed, streamParts))
	b.settle()
	b.sense = newSense(&sc, &b.body)
	b.bridge = newBridge(&sc, seed)
	return b
}

// layOut places the motors: clockwise seen from above, m1 the first one right
// of the nose.
func (b *Bench) layOut(parts noise) {
	c := &b.sc.Craft
	half := mul(c.DiagonalMM/2000, sqrt(0.5))
	for m, at := range [4][2]float64{{half, half}, {-half, half}, {-half, -half}, {half, -half}} {
		r := &b.rotors[m]
		r.x, r.y = at[0]-c.CGForwardMM/1000, at[1]-c.CGRightMM/1000
		r.spin = -mix[m][2]
		r.thrustBy, r.torqueBy, r.unbalance = 1, 1, defaultUnbalance
		r.speedBy = 1 + mul(motorSpread, parts.normal())
		r.temp = b.sc.Air.Celsius
		r.turns = float64(m) / 5 // no two in step at the start
	}
	for _, s := range b.sc.Motors {
		r, by := &b.rotors[s.Motor-1], 1.0
		if s.PropellerMM > 0 {
			by = s.PropellerMM / c.PropellerMM
		}
		by4 := mul(mul(by, by), mul(by, by)) // the laws of thrust and torque
		r.thrustBy, r.torqueBy = mul(s.Thrust, by4), mul(by4, by)
		r.unbalance = mul(s.Unbalance, 1e-6)
	}
}

// motorSpread is the standard deviation of a motor's speed over the rated one
// (common practice, no source).
const motorSpread = 0.008

// settle lets the craft come to rest on its pads before the session begins.
func (b *Bench) settle() {
	for range 4_000_000 / stepUS {
		b.body.step(0, [3]float64{})
	}
	b.body.rate, b.body.climb = [3]float64{}, 0
	b.body.angle[2], b.body.anchor = 0, 0
}

// Next appends the lines of the next few milliseconds to dst. untilUS is when
// they are due, in microseconds since the start: a caller at the real pace
// waits until then before it sends them. There may be none: silence takes
// time too. done is true with the last piece. Next allocates nothing where
// dst has room.
func (b *Bench) Next(dst []byte) (out []byte, untilUS int64, done bool) {
	stop := min(b.now+sliceUS, b.end)
	for b.now < stop {
		b.happen()
		if b.now%tickUS == 0 {
			b.tick()
		}
		dst = b.bridge.emit(b, dst, b.now+stepUS)
		b.step()
		b.now += stepUS
	}
	return dst, b.now, b.now >= b.end
}

// tick lets the controller act.
func (b *Bench) tick() {
	var gyro, angle [3]float64
	stick := b.hands.at(b.now)
	for k := range gyro {
		gyro[k] = b.sense.gyro(b, k, 0, &b.gyroNoise)
		angle[k] = mul(b.body.angle[k], degrees)
	}
	run := b.armed && !b.stopped
	b.control.tick(gyro, angle, stick, run)
	for m := range b.out {
		b.out[m] = b.control.out[m]
		if b.stuck[m] {
			if run {
				b.stuckAt[m] = b.out[m]
			} else {
				b.out[m] = b.stuckAt[m]
			}
		}
	}
	b.watch.tick(b.now, b.control.u)
}

// step moves the craft on by one inner step.
func (b *Bench) step() {
	thrust := 0.0
	var torque [3]float64
	power := 0.0
	for m := range b.rotors {
		r := &b.rotors[m]
		r.step(&b.prop, b.out[m], b.pack.volts, b.airNoise.normal())
		thrust += r.thrust
		torque[0] -= mul(r.y, r.thrust)
		torque[1] += mul(r.x, r.thrust)
		torque[2] += r.reaction(&b.prop)
		power += r.watts
	}
	b.pack.step(power)
	b.body.step(thrust, torque)
	b.sense.step(b, thrust)
}
