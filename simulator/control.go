package simulator

// A pid is the rate loop of one axis. D acts on the measured rate, so that a
// stick that jumps does not kick; I leaks and is limited, since a held craft
// cannot turn and I would grow without end.
type pid struct {
	p, i, d                float64 // output per deg/s, per deg, per deg/s^2
	pLimit, iLimit, dLimit float64 // most that each part may ask for
	keep                   float64 // of I from one sample to the next
	dShare                 float64 // of the way of D's low-pass in a sample
	dt                     float64 // s from one sample to the next

	sum   float64 // I's part of the output
	last  float64 // measured rate a sample ago
	slope float64 // filtered rate of its change, deg/s^2
}

func (c *pid) sample(demand, rate float64, integrate bool) float64 {
	c.slope += mul(c.dShare, (rate-c.last)/c.dt-c.slope)
	c.last = rate
	e := demand - rate
	if integrate {
		c.sum = clamp(mul(c.sum, c.keep)+mul(mul(c.i, c.dt), e), -c.iLimit, c.iLimit)
	} else {
		c.sum = 0
	}
	p := clamp(mul(c.p, e), -c.pLimit, c.pLimit)
	d := clamp(mul(c.d, c.slope), -c.dLimit, c.dLimit)
	return clamp(p+c.sum-d, -1, 1)
}

// maxDelay is the longest delay a loop may have, ticks.
const maxDelay = 64

// A controller turns gyro and sticks into motor outputs. It is asked once a
// tick; every so many ticks it takes a sample and acts, and its outputs hold
// until the next.
type controller struct {
	axis      [3]pid
	mix       mixer
	motors    int
	tail      int // the motor that tilts for yaw, -1 none
	level     bool
	loop      Loop
	every     int // ticks from one sample to the next
	wait      int
	gyroShare float64 // of the way of the gyro's low-pass a tick
	notch     notches

	idleReady, idleLeast float64

	filtered [3]float64         // measured rate after the filters, deg/s
	demand   [3]float64         // deg/s
	u        [3]float64         // controller output, -1..1
	throttle float64            // collective, 0..1
	out      [maxMotors]float64 // motor outputs, 0..1
	tilt     float64            // asked of the tail, -1..1

	late  [maxDelay][maxMotors]float64 // outputs on their way
	head  int
	delay int // ticks
}

// stickZero is the stick below which the motors stay at armed idle.
const stickZero = 0.01

func newController(s *Scenario) controller {
	const dt = float64(tickUS) / 1e6
	all := s.places()
	tri := s.Craft.Layout == "tri"
	m, _ := newMixer(all, !tri)
	c := controller{
		mix: m, motors: len(all), tail: -1,
		level: s.Mode == "level", loop: s.Loop,
		every:     max(1, int(mul(s.Loop.SampleMS, 1000)/float64(tickUS)+0.5)),
		gyroShare: approach(mul(mul(twoPi, s.Loop.GyroCutHz), dt)),
		idleReady: s.Craft.IdleReady, idleLeast: s.Craft.IdleLeast,
		delay: int(mul(s.Loop.DelayMS, 1000)/float64(tickUS) + 0.5),
		notch: newNotches(s),
	}
	if tri {
		c.tail = 1
	}
	sample := mul(float64(c.every), dt)
	for k := range c.axis {
		a := &c.axis[k]
		a.pLimit, a.iLimit, a.dLimit = s.Loop.PLimit, s.Loop.ILimit, s.Loop.DLimit
		a.dt = sample
		a.keep = 1 - approach(sample/s.Loop.ILeakS)
		a.dShare = approach(mul(mul(twoPi, s.Loop.DCutHz), sample))
	}
	g := &s.Gains
	for k, v := range [3][3]float64{{g.RollP, g.RollI, g.RollD}, {g.PitchP, g.PitchI, g.PitchD}, {g.YawP, g.YawI, g.YawD}} {
		c.axis[k].p, c.axis[k].i, c.axis[k].d = mul(v[0], g.Scale), mul(v[1], g.Scale), mul(v[2], g.Scale)
	}
	return c
}

// tick reads the gyro (deg/s) and the sticks (throttle, roll, pitch, yaw)
// and sets the outputs; angle is the attitude in deg as the craft knows it.
func (c *controller) tick(gyro, angle [3]float64, stick [4]float64, armed bool) {
	for k := range gyro {
		c.filtered[k] += mul(c.gyroShare, c.notch.filter(k, gyro[k])-c.filtered[k])
	}
	slot := &c.late[c.head]
	if c.wait--; c.wait > 0 && armed {
		from := c.head - 1
		if from < 0 {
			from += maxDelay
		}
		*slot = c.late[from]
	} else {
		c.wait = c.every
		c.act(slot, angle, stick, armed)
	}
	from := c.head - c.delay
	if from < 0 {
		from += maxDelay
	}
	c.out = c.late[from]
	c.head = (c.head + 1) % maxDelay
	if !armed {
		// A stop does not wait, and what was on its way is gone.
		c.out, c.tilt, c.late = [maxMotors]float64{}, 0, [maxDelay][maxMotors]float64{}
	}
}

// act takes one sample: demands, the rate loops, the mixer.
func (c *controller) act(slot *[maxMotors]float64, angle [3]float64, stick [4]float64, armed bool) {
	c.ask(angle, stick)
	flying := armed && stick[0] >= stickZero
	for k := range c.axis {
		u := c.axis[k].sample(c.demand[k], c.filtered[k], flying)
		if !armed {
			u = 0
		}
		c.u[k] = u
	}
	*slot = [maxMotors]float64{}
	switch {
	case !armed:
		c.throttle = 0
	case !flying:
		c.throttle = c.idleReady
		for m := range c.motors {
			slot[m] = c.idleReady
		}
	default:
		c.throttle = c.idleLeast + mul(stick[0], 1-c.idleLeast)
		c.share(slot)
	}
	if c.tail >= 0 && flying {
		c.tilt = c.u[2]
	}
}

// ask sets the demanded rates from the sticks, a reversed channel the wrong
// way.
func (c *controller) ask(angle [3]float64, stick [4]float64) {
	for k, reversed := range [3]bool{c.loop.RollReversed, c.loop.PitchReversed, c.loop.YawReversed} {
		if reversed {
			stick[k+1] = -stick[k+1]
		}
	}
	for k := range 2 {
		if c.level {
			want := mul(stick[k+1], c.loop.MaxAngle) - angle[k]
			c.demand[k] = clamp(mul(c.loop.LevelGain, want), -c.loop.MaxRate, c.loop.MaxRate)
		} else {
			c.demand[k] = mul(stick[k+1], c.loop.MaxRate)
		}
	}
	c.demand[2] = mul(stick[3], c.loop.MaxYaw)
}

// share mixes throttle and controller outputs into motor outputs. What does
// not fit between the least output and full gives way in this order: the
// throttle downward, then yaw by what is still too much, then each motor's
// own limit cuts.
func (c *controller) share(out *[maxMotors]float64) {
	for again := range 2 {
		yaw := c.u[2]
		if c.tail >= 0 {
			yaw = 0
		}
		top, part := 0.0, 0.0
		for m := range c.motors {
			x := &c.mix[m]
			twist := mul(x[3], yaw)
			out[m] = mul(x[0], c.throttle) + mul(x[1], c.u[0]) + mul(x[2], c.u[1]) + twist
			if out[m] > top {
				top, part = out[m], twist
			}
		}
		over := top - 1
		if over <= 0 {
			break
		}
		if room := c.throttle - c.idleLeast; again > 0 || over <= room || part <= 0 {
			for m := range c.motors {
				out[m] -= min(over, max(room, 0))
			}
			break
		}
		// The throttle alone cannot make room: yaw gives up what it adds.
		left := over - max(c.throttle-c.idleLeast, 0)
		c.u[2] = mul(c.u[2], max(0, 1-left/part))
	}
	for m := range c.motors {
		out[m] = clamp(out[m], c.idleLeast, 1)
	}
}
