package simulator

// A pid is the rate loop of one axis. D acts on the measured rate, so that a
// stick that jumps does not kick; I leaks and is limited, since a held craft
// cannot turn and I would grow without end.
type pid struct {
	p, i, d float64 // output per deg/s, per deg, per deg/s^2
	limit   float64 // of I
	keep    float64 // of I a tick
	dShare  float64 // of the way of D's low-pass a tick

	sum   float64 // I's part of the output
	last  float64 // measured rate a tick ago
	slope float64 // filtered rate of its change, deg/s^2
}

func (c *pid) tick(demand, rate float64, integrate bool) float64 {
	const dt = float64(tickUS) / 1e6
	c.slope += mul(c.dShare, (rate-c.last)/dt-c.slope)
	c.last = rate
	e := demand - rate
	if integrate {
		c.sum = clamp(mul(c.sum, c.keep)+mul(mul(c.i, dt), e), -c.limit, c.limit)
	} else {
		c.sum = 0
	}
	return clamp(mul(c.p, e)+c.sum-mul(c.d, c.slope), -1, 1)
}

// mix says what each axis adds to each motor's output: roll (right wing
// down) by the left motors, pitch (nose up) by the front ones, yaw
// (clockwise) by the two that turn counter-clockwise.
var mix = [4][3]float64{
	{-1, +1, +1}, // m1 front right, turns counter-clockwise
	{-1, -1, -1}, // m2 rear right, clockwise
	{+1, -1, +1}, // m3 rear left, counter-clockwise
	{+1, +1, -1}, // m4 front left, clockwise
}

// maxDelay is the longest delay a loop may have, ticks.
const maxDelay = 64

// A controller turns gyro and sticks into motor outputs, once a tick.
type controller struct {
	axis      [3]pid
	level     bool
	loop      Loop
	gyroShare float64 // of the way of the gyro's low-pass a tick

	idleReady, idleLeast float64

	filtered [3]float64 // measured rate after the low-pass, deg/s
	demand   [3]float64 // deg/s
	u        [3]float64 // controller output, -1..1
	throttle float64    // collective, 0..1
	out      [4]float64 // motor outputs, 0..1

	late  [maxDelay][4]float64 // outputs on their way
	head  int
	delay int // ticks
}

// stickZero is the stick below which the motors stay at armed idle.
const stickZero = 0.01

func newController(s *Scenario) controller {
	const dt = float64(tickUS) / 1e6
	c := controller{
		level: s.Mode == "level", loop: s.Loop,
		gyroShare: approach(mul(mul(twoPi, s.Loop.GyroCutHz), dt)),
		idleReady: s.Craft.IdleReady, idleLeast: s.Craft.IdleLeast,
		delay: int(mul(s.Loop.DelayMS, 1000)/float64(tickUS) + 0.5),
	}
	for k := range c.axis {
		c.axis[k].limit = s.Loop.ILimit
		c.axis[k].keep = 1 - approach(dt/s.Loop.ILeakS)
		c.axis[k].dShare = approach(mul(mul(twoPi, s.Loop.DCutHz), dt))
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
		c.filtered[k] += mul(c.gyroShare, gyro[k]-c.filtered[k])
	}
	c.ask(angle, stick)
	flying := armed && stick[0] >= stickZero
	for k := range c.axis {
		u := c.axis[k].tick(c.demand[k], c.filtered[k], flying)
		if !armed {
			u = 0
		}
		c.u[k] = u
	}
	slot := &c.late[c.head]
	switch {
	case !armed:
		c.throttle = 0
		*slot = [4]float64{}
	case !flying:
		c.throttle = c.idleReady
		*slot = [4]float64{c.idleReady, c.idleReady, c.idleReady, c.idleReady}
	default:
		c.throttle = c.idleLeast + mul(stick[0], 1-c.idleLeast)
		*slot = c.share()
	}
	from := c.head - c.delay
	if from < 0 {
		from += maxDelay
	}
	c.out = c.late[from]
	c.head = (c.head + 1) % maxDelay
	if !armed {
		c.out = [4]float64{} // a stop does not wait
	}
}

// ask sets the demanded rates from the sticks.
func (c *controller) ask(angle [3]float64, stick [4]float64) {
	for k := range 2 {
		if c.level {
			want := mul(stick[k+1], c.loop.MaxAngle) - angle[k]
			c.demand[k] = clamp(mul(c.loop.LevelGain, want), -c.loop.MaxRate, c.loop.MaxRate)
		} else {
			c.demand[k] = mul(stick[k+1], c.loop.MaxRate)
		}
	}
	c.demand[2] = mul(stick[3], c.loop.MaxYawRate)
}

// share mixes throttle and controller outputs into motor outputs. Where they
// do not fit between the least output and full, the throttle gives way
// first, then the motor's own limit cuts.
func (c *controller) share() (out [4]float64) {
	top := 0.0
	for m := range out {
		out[m] = c.throttle + mul(mix[m][0], c.u[0]) + mul(mix[m][1], c.u[1]) + mul(mix[m][2], c.u[2])
		top = max(top, out[m])
	}
	over := max(0, top-1)
	for m := range out {
		out[m] = clamp(out[m]-over, c.idleLeast, 1)
	}
	return out
}
