package simulator

// Of a controller that keeps a height: throttle stick for each metre that is
// lacking, and for each metre that is lacking a second (common practice, no
// source: a craft of half hovering output climbs a metre in about two seconds).
const (
	keepP = 0.05
	keepI = 0.15
)

// A keeper is a craft's height-keeping: it adds to the throttle stick until the
// barometer says that the height is met. On a tether it never is, and the
// integral winds up.
type keeper struct {
	on     bool
	target float64 // m over where it was switched on
	pascal float64 // there
	sum    float64 // the integral's part of the throttle
}

// start has the craft keep a height so many metres over this one; 0 lets go.
func (k *keeper) start(b *Bench, metres float64) {
	*k = keeper{on: metres != 0, target: metres, pascal: b.sense.stillPascal(b)}
}

// tick returns the sticks as the controller takes them.
func (k *keeper) tick(b *Bench, stick [4]float64) [4]float64 {
	if !k.on || !b.armed || b.stopped || stick[stickThrottle] < stickZero {
		k.sum = 0
		return stick
	}
	// The hydrostatic equation, dp = -rho g dh.
	height := (k.pascal - b.sense.stillPascal(b)) / mul(b.sc.Air.density(), gravity)
	lacks := k.target - height
	k.sum = clamp(k.sum+mul(mul(keepI, float64(tickUS)/1e6), lacks), -1, 1)
	stick[stickThrottle] = clamp(stick[stickThrottle]+mul(keepP, lacks)+k.sum, stickZero, 1)
	return stick
}

// turnMixer turns over what an axis of the controller does to the motors.
func (b *Bench) turnMixer(axis int) {
	for m := range b.control.mix {
		b.control.mix[m][axis+1] = -b.control.mix[m][axis+1]
	}
}
