package account

import (
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// Values of the axes' grid.
const (
	gridControl = 0
	gridRate    = 3
	gridThr     = 6
	gridAxes    = 7
)

// moments are sums of one value, less the first, over the time that counts.
type moments struct {
	n, first, sum, square float64
}

func (m *moments) add(v float64) {
	if m.n == 0 {
		m.first = v
	}
	v -= m.first
	m.n++
	m.sum += v
	m.square += v * v
}

func (m *moments) mean() float64 { return m.first + m.sum/m.n }

func (m *moments) deviation() float64 {
	mean := m.sum / m.n
	return math.Sqrt(max(m.square/m.n-mean*mean, 0))
}

// axes gathers what the axes lines say.
type axes struct {
	grid    grid
	control welch
	rate    welch      // where there is no accelerometer
	output  [3]moments // armed and over idle
	peak    [3]float64
	error   [3]struct{ n, square float64 }
	ever    [3]bool // output measured while armed
}

func newAxes() axes {
	return axes{grid: newGrid(gridAxes), control: welch{channels: 3}, rate: welch{channels: 3}}
}

func (a *axes) take(c *Collector, at int64) {
	b := c.bench
	a.grid.at(at)
	armed := b.Armed == detect.Yes
	all, rates := true, true
	var ctrl, rate [3]float64
	for i := range 3 {
		u, r := &b.Ctrl[i], &b.Rate[i]
		if u.OK {
			a.grid.add(gridControl+i, u.V)
			ctrl[i] = u.V
			if armed {
				a.peak[i] = max(a.peak[i], math.Abs(u.V))
				a.ever[i] = true
			}
			if c.over {
				a.output[i].add(u.V)
			}
		} else {
			all = false
		}
		if r.OK {
			a.grid.add(gridRate+i, r.V)
			rate[i] = r.V
			if w := &b.Demand[i]; c.over && w.OK {
				d := r.V - w.V
				a.error[i].n++
				a.error[i].square += d * d
			}
		} else {
			rates = false
		}
	}
	if b.Thr.OK {
		a.grid.add(gridThr, b.Thr.V)
	}
	if !c.turns {
		return
	}
	pace := b.Streams[decode.Axes].Rate()
	if all {
		a.control.take(at, &ctrl, pace)
	}
	if rates && b.Streams[decode.Accel].Count == 0 {
		a.rate.take(at, &rate, pace)
	}
}

var axisNames = [3]string{"roll", "pitch", "yaw"}

// account writes the three axes.
func (a *axes) account(c *Collector, out *Account) {
	period := c.link.period(decode.Axes)
	out.Throttle = a.grid.curve(gridThr, "throttle", "1", period, 1)
	for i, name := range axisNames {
		x := &out.Axes[i]
		*x = Axis{
			Name: name, Limit: c.bench.Limits.Oscillation,
			Control: a.grid.curve(gridControl+i, "control_"+name, "1", period, 1),
			Rate:    a.grid.curve(gridRate+i, "rate_"+name, "deg/s", period, 1),
			Found:   c.told.of(name),
		}
		if a.ever[i] {
			x.ControlPeak = ptr(a.peak[i])
		}
		if m := &a.output[i]; m.n > 1 {
			x.ControlRMS, x.ControlMean = ptr(m.deviation()), ptr(m.mean())
		}
		if e := &a.error[i]; e.n > 1 {
			x.RateRMS = ptr(math.Sqrt(e.square / e.n))
		}
		if x.Spectrum = a.control.spectrum(i, "control_"+name, "1/sqrt(Hz)"); x.Spectrum != nil {
			c.motors.orders(c, x.Spectrum)
			loud, apart := a.control.loud[i], a.control.apart[i]
			if loud.rank > 0 {
				x.Strongest = &loud.Tone
			}
			if loud.Rotor != "" && apart.rank > 0 {
				x.Apart = &apart.Tone
			}
		}
	}
	out.Vibration = c.shakes.w.spectrum(-1, "force", "m/s^2/sqrt(Hz)")
	if out.Vibration == nil {
		out.Vibration = a.rate.spectrum(-1, "rate", "deg/s/sqrt(Hz)")
	}
	if out.Vibration != nil {
		c.motors.orders(c, out.Vibration)
	}
}

func ptr[T any](v T) *T { return &v }

// shakes is the spectrum of the accelerometer.
type shakes struct{ w welch }

func (s *shakes) take(c *Collector, at int64) {
	if !c.turns {
		return
	}
	b := c.bench
	var f [3]float64
	for i := range f {
		if !b.Force[i].OK {
			return
		}
		f[i] = b.Force[i].V
	}
	s.w.take(at, &f, b.Streams[decode.Accel].Rate())
}
