package hearing

import (
	"math"
	"sort"
)

// What the count of integrated absolute errors is set to. The method is
// T. Hägglund, "A control-loop performance monitor", Control Engineering
// Practice 3, 1543-1551, 1995. The criterion 2a/w, the count of 10 and the 50
// ultimate periods are from memory, and so is the form of the forgetting: the
// count falls exponentially with that time as its time constant.
const (
	// iaeHz is the ultimate frequency. That of a craft on the bench is not
	// known beforehand, so one has to serve for all; at another frequency f the
	// tolerated amplitude is in effect f/8 of what is set, and too high for
	// fast oscillations.
	iaeHz     = 8.0
	iaeAlarm  = 10.0
	iaeMemory = 50 / iaeHz // seconds

	// iaeCorner of the high pass, hertz. The original watches the control
	// error, which has no mean; the controller output has one, and it moves.
	iaeCorner = 0.5

	// The tolerated amplitude is what would be set by hand (1 % of the range
	// in the original, from memory). Here it is the threshold to be tuned, so
	// a bank of them runs side by side.
	iaeBank  = 48
	iaeLeast = 0.0005
	iaeMost  = 0.3
)

// An iaeCount is Hägglund's detector: the absolute value of the high-passed
// controller output is integrated from one zero crossing to the next; at the
// crossing the half cycle counts as a disturbance when the integral exceeds
// 2a/w; enough of them in a short time are an oscillation.
type iaeCount struct {
	begun bool
	t     float64
	// weight is what a half cycle that ends now adds to the counts. It grows
	// where all counts should shrink, so that only the counts a half cycle
	// reaches are touched.
	weight     float64
	amplitudes [iaeBank]float64 // tolerated, rising
	axes       [3]iaeAxis
}

type iaeAxis struct {
	in, out float64 // of the high pass, newest
	above   bool    // the half cycle under way lies above zero
	area    float64 // under it up to now
	counts  [iaeBank]float64
	alarms  int // so many of the smallest amplitudes have the alarm
}

// Name implements Baseline.
func (c *iaeCount) Name() string { return "IAE count (Hägglund 1995)" }

// Reset implements Baseline. The rate does not matter: all is done by the time
// stamps.
func (c *iaeCount) Reset(float64) {
	*c = iaeCount{weight: 1}
	for k := range c.amplitudes {
		c.amplitudes[k] = iaeLeast * math.Pow(iaeMost/iaeLeast, float64(k)/(iaeBank-1))
	}
}

// Take implements Baseline.
func (c *iaeCount) Take(f *Frame) {
	dt := f.T - c.t
	if !c.begun {
		c.begun, c.t = true, f.T
		for i, v := range f.Output {
			c.axes[i].in = v
		}
		return
	}
	if dt <= 0 {
		return
	}
	c.t = f.T
	c.weight *= math.Exp(dt / iaeMemory)
	if c.weight > 1e9 {
		c.rescale()
	}
	// The high pass is exact for an input that runs straight from frame to
	// frame, however far they lie apart.
	const corner = 2 * math.Pi * iaeCorner
	stay := math.Exp(-corner * dt)
	pass := (1 - stay) / (corner * dt)
	for i := range c.axes {
		a := &c.axes[i]
		was := a.out
		a.out = stay*was + pass*(f.Output[i]-a.in)
		a.in = f.Output[i]
		if integral, crossed := a.integrate(was, dt); crossed {
			c.count(a, integral)
		}
		for a.alarms > 0 && a.counts[a.alarms-1] < iaeAlarm*c.weight {
			a.alarms--
		}
	}
}

// integrate adds the straight line from the last value to the newest, dt
// apart. Where it crosses zero, it returns the integral of the half cycle that
// ends there, and the rest of the line begins the next.
func (a *iaeAxis) integrate(was, dt float64) (integral float64, crossed bool) {
	size, now := math.Abs(was), math.Abs(a.out)
	if a.out == 0 || (a.out > 0) == a.above {
		a.area += (size + now) / 2 * dt
		return 0, false
	}
	at := dt * size / (size + now)
	integral = a.area + size/2*at
	a.area, a.above = now/2*(dt-at), a.out > 0
	return integral, true
}

// count counts a half cycle for all amplitudes it exceeds: integral > 2a/w.
func (c *iaeCount) count(a *iaeAxis, integral float64) {
	n := sort.SearchFloat64s(c.amplitudes[:], integral*math.Pi*iaeHz)
	for k := range n {
		a.counts[k] += c.weight
	}
	// Each half cycle counts for all amplitudes below one of them, so the
	// counts fall with the amplitude and the alarms are the first few.
	for a.alarms < n && a.counts[a.alarms] >= iaeAlarm*c.weight {
		a.alarms++
	}
}

// rescale keeps weight and counts from growing without end.
func (c *iaeCount) rescale() {
	for i := range c.axes {
		for k := range c.axes[i].counts {
			c.axes[i].counts[k] /= c.weight
		}
	}
	c.weight = 1
}

// Score implements Baseline: the largest tolerated amplitude that has the
// alarm now, 0 where none has.
func (c *iaeCount) Score(i int) float64 {
	n := c.axes[i].alarms
	if n == 0 {
		return 0
	}
	return c.amplitudes[n-1]
}
