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
	motors  int
	rotors  [maxMotors]rotor
	prop    propulsion
	disc    float64 // m, of the rotors over the ground with the feet just touching
	tilt    float64 // of a tri's tail, turns
	control controller
	keep    keeper
	pack    pack

	airNoise  noise
	gyroNoise noise // of what the controller reads
	lineNoise noise // of what the bridge reads

	armed, stopped, controlOK bool
	heard                     [4]float64         // the sticks, as the control link brought them last
	stuck                     [maxMotors]bool    // the output stays when the motors are stopped
	stuckAt                   [maxMotors]float64 // where it stays
	out                       [maxMotors]float64 // what reaches the motors

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
		disc: sc.Craft.GroundMM / 1000,
		body: newBody(&sc), prop: newPropulsion(&sc.Craft, &sc.Air), control: newController(&sc),
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

// layOut places the motors, each a little different by chance, and those
// with something wrong.
func (b *Bench) layOut(parts noise) {
	c := &b.sc.Craft
	all := b.sc.places()
	b.motors = len(all)
	stands := standing(b.motors, b.sc.Motors)
	for m := range all {
		r, at := &b.rotors[m], all[stands[m]]
		r.x, r.y, r.spin = at.x-c.CGForwardMM/1000, at.y-c.CGRightMM/1000, at.spin
		r.thrustBy, r.torqueBy, r.countBy, r.unbalance, r.intact = 1, 1, 1, defaultUnbalance, 1
		r.place = stands[m]
		r.speedBy = 1 + mul(motorSpread, parts.normal())
		r.temp = b.sc.Air.Celsius
		r.turns = float64(m) / 5 // no two in step at the start
		r.turns -= float64(int(r.turns))
	}
	for _, s := range b.sc.Motors {
		r, by := &b.rotors[s.Motor-1], 1.0
		if s.PropellerMM > 0 {
			by = s.PropellerMM / c.PropellerMM
		}
		by4 := mul(mul(by, by), mul(by, by)) // the laws of thrust and torque
		r.thrustBy, r.torqueBy = mul(s.Thrust, by4), mul(s.Torque, mul(by4, by))
		r.unbalance = mul(s.Unbalance, 1e-6)
		r.bent = s.Bent
		r.speedBy = mul(r.speedBy, s.Speed)
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
	b.body.heading, b.body.anchor = 0, 0
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
	gyro := b.sense.gyro(b, 0, &b.gyroNoise)
	roll, pitch := b.body.attitude.angles()
	angle := [3]float64{mul(roll, degrees), mul(pitch, degrees), 0}
	run := b.armed && !b.stopped
	b.control.notch.follow(b.rotors[:b.motors])
	b.control.tick(gyro, angle, b.keep.tick(b, b.sticks(b.now)), run)
	for m := range b.motors {
		b.out[m] = b.control.out[m]
		if b.stuck[m] {
			if run {
				b.stuckAt[m] = b.out[m]
			} else {
				b.out[m] = b.stuckAt[m]
			}
		}
	}
	b.tiltTail()
	b.watch.tick(b.now, b.control.u)
}

// sticks returns where the craft believes the sticks to be: without a control
// link, where they were.
func (b *Bench) sticks(now int64) [4]float64 {
	if b.controlOK {
		b.heard = b.hands.at(now)
	}
	return b.heard
}

// A tri's tail motor tilts by up to tailTilt turns either way, as fast as a
// small servo follows (common practice, no source).
const (
	tailTilt = 30.0 / 360
	tailLag  = 0.05 // s
)

func (b *Bench) tiltTail() {
	if b.control.tail >= 0 {
		const share = 0.0198 // of the way a tick: 1 - exp(-1 ms / tailLag)
		b.tilt += mul(share, mul(tailTilt, b.control.tilt)-b.tilt)
	}
}

// step moves the craft on by one inner step.
func (b *Bench) step() {
	thrust, power, eager := 0.0, 0.0, 0.0
	var torque [3]float64
	x, y, _ := b.body.attitude.up()
	for m := range b.motors {
		r := &b.rotors[m]
		over := b.disc + b.body.height + mul(r.x, x) + mul(r.y, y)
		r.step(&b.prop, b.out[m], b.pack.volts, b.airNoise.normal(), groundEffect(b.prop.diameter/2, over))
		up := r.thrust
		if r.place == b.control.tail { // tilted to the right, it pushes the tail to the left
			side := mul(r.thrust, sine(b.tilt))
			up = mul(r.thrust, cosine(b.tilt))
			torque[0] -= mul(rotorHeight, side)
			torque[2] -= mul(r.x, side)
		}
		thrust += up
		torque[0] -= mul(r.y, up)
		torque[1] += mul(r.x, up)
		torque[2] += r.reaction(&b.prop)
		power += r.watts
		eager += r.eager
	}
	b.pack.step(power, eager)
	b.body.step(thrust, torque)
	b.sense.step(b, thrust)
}
