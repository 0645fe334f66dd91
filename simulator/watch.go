package simulator

import "math"

// OscillationLimit is the peak of controller output that Truth.OverLimitUS
// tells of.
const OscillationLimit = 0.10

// A Truth is what really goes on at this moment: for tests and for scoring,
// never for the lines.
type Truth struct {
	AtUS     int64
	Rate     [3]float64 // deg/s, without noise
	Angle    [3]float64 // deg
	Control  [3]float64
	Throttle float64
	Motors   int                // how many there are
	Out      [maxMotors]float64 // as it reaches the motors
	RPM      [maxMotors]float64 // rev/min
	Celsius  [maxMotors]float64
	ThrustN  [maxMotors]float64
	LiftN    float64
	Volts    float64
	Armed    bool
	Stopped  bool
	// Peak is half of peak to peak of each axis' controller output over the
	// last 0.2 s to 0.3 s, its slow part (under 2 Hz) taken out.
	Peak [3]float64
	// OverLimitUS is when Peak first passed OscillationLimit, -1 not yet.
	OverLimitUS [3]int64
}

// Truth returns what really goes on.
func (b *Bench) Truth() Truth {
	t := Truth{
		AtUS: b.now, Motors: b.motors, Control: b.control.u, Throttle: b.control.throttle, Out: b.out,
		LiftN: b.sense.trueLift(b), Volts: b.pack.volts,
		Armed: b.armed, Stopped: b.stopped,
	}
	roll, pitch := b.body.attitude.angles()
	for k, angle := range [3]float64{roll, pitch, b.body.heading} {
		t.Rate[k] = mul(b.body.rate[k], degrees)
		t.Angle[k] = mul(angle, degrees)
		t.Peak[k] = b.watch.peak(k)
		t.OverLimitUS[k] = b.watch.over[k] - 1
	}
	for m := range b.motors {
		t.RPM[m] = mul(b.rotors[m].n, 60)
		t.ThrustN[m] = b.rotors[m].thrust
		t.Celsius[m] = b.rotors[m].temp
	}
	return t
}

// A watch follows how far the controller outputs swing.
type watch struct {
	slow  [3]float64
	lo    [3][3]float64 // of this 0.1 s and the two before
	hi    [3][3]float64
	ticks int
	over  [3]int64 // us + 1; 0 not yet
}

const blockTicks = 100_000 / tickUS

func (w *watch) tick(now int64, u [3]float64) {
	fresh := w.ticks%blockTicks == 0
	w.ticks++
	for k, v := range u {
		w.slow[k] += mul(0.0126, v-w.slow[k]) // 2 Hz at 1 kHz
		v -= w.slow[k]
		if fresh {
			w.lo[k] = [3]float64{v, w.lo[k][0], w.lo[k][1]}
			w.hi[k] = [3]float64{v, w.hi[k][0], w.hi[k][1]}
		}
		w.lo[k][0] = math.Min(w.lo[k][0], v)
		w.hi[k][0] = math.Max(w.hi[k][0], v)
		if w.over[k] == 0 && w.peak(k) > OscillationLimit {
			w.over[k] = now + 1
		}
	}
}

func (w *watch) peak(k int) float64 {
	return (max(w.hi[k][0], w.hi[k][1], w.hi[k][2]) - min(w.lo[k][0], w.lo[k][1], w.lo[k][2])) / 2
}
