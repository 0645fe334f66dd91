package hearing

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// A loop is one axis' rate loop, sampled every h seconds: gyro low-pass, a
// proportional-integral-derivative controller, transport delay, motor lag and
// the body's inertia.
type loop struct {
	h     float64
	gain  float64 // controller output for one deg/s of error
	ti    float64 // integral time, seconds
	td    float64 // derivative time, seconds
	ag    float64 // of the gyro's low-pass, per step
	am    float64 // of the motor's lag, per step
	push  float64 // deg/s^2 for full output
	drag  float64 // per second
	delay int     // steps, at least one

	pole       complex128   // exp((growth + 2 pi i f) h)
	left       []complex128 // eigenvector of the transition, by state order
	scale      complex128   // left times right
	y, m, g, i float64
	past       []float64 // outputs, a ring
	head       int       // newest
	now        float64   // gain in force
}

// state order of the eigenvectors: y, m, g, i, then past outputs from the
// newest.
const (
	stateY = iota
	stateM
	stateG
	stateI
	statePast
)

// drawLoop draws a loop whose pole pair lies at f hertz with the given growth
// a second: the craft is drawn, then motor lag and gain are solved for. A craft
// with a quick loop is small and has much torque for its inertia.
func drawLoop(rng *rand.Rand, f, growth, h float64) *loop {
	for {
		w := 2 * math.Pi * f
		l := &loop{
			h: h, push: 12000 * math.Exp(rng.Float64()*1.2) * max(1, f/10), drag: 0.3,
			ti: (6 + 14*rng.Float64()) / w, td: 0.25 * rng.Float64() / w,
			ag: 1 - math.Exp(-h*2*math.Pi*min(6*f, 120)), // corner of the gyro filter
		}
		l.pole = cmplx.Exp(complex(growth, w) * complex(h, 0))
		if l.solve((0.2+0.5*rng.Float64())/w) && l.onlyPair() {
			l.project()
			l.past = make([]float64, l.delay)
			l.now = l.gain
			return l
		}
	}
}

// open is the loop's transfer without its gain, at z.
func (l *loop) open(z complex128) complex128 {
	one := complex(1, 0)
	back := one / z
	gyro := complex(l.ag, 0) / (one - complex(1-l.ag, 0)*back)
	pid := one + complex(l.h/l.ti, 0)/(one-back) + complex(l.td/l.h, 0)*(one-back)
	motor := complex(l.am, 0) / (one - complex(1-l.am, 0)*back) * cmplx.Pow(back, complex(float64(l.delay), 0))
	body := complex(l.h*l.push, 0) / (z - complex(1-l.h*l.drag, 0))
	return gyro * pid * motor * body
}

// solve finds delay, motor lag and gain that put the pole where it is wanted:
// the open loop must turn the sign there.
func (l *loop) solve(lag float64) bool {
	angle := func(lag float64) float64 {
		l.am = 1 - math.Exp(-l.h/lag)
		return cmplx.Phase(-l.open(l.pole))
	}
	turn := cmplx.Phase(l.pole) // that one step of delay takes
	l.delay = 1
	more := math.Round(angle(lag) / turn)
	l.delay = 1 + int(more)
	if l.delay < 1 {
		return false
	}
	lo, hi := lag/4, lag*4
	if angle(lo) < 0 || angle(hi) > 0 || angle(lo) > 2 || angle(hi) < -2 {
		return false
	}
	for range 60 {
		mid := (lo + hi) / 2
		if angle(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	angle(lo)
	l.gain = real(-1 / l.open(l.pole))
	return l.gain > 0
}

// onlyPair reports whether all other poles are well damped: the winding of
// 1 + gain*open about the circle just inside the wanted pair counts the poles
// outside of it.
func (l *loop) onlyPair() bool {
	growth := math.Log(cmplx.Abs(l.pole)) / l.h
	w := cmplx.Phase(l.pole) / l.h
	inside := math.Exp(min(growth-0.1*w, -0.02*w) * l.h)
	const points = 1500
	turns, last := 0.0, 0.0
	for k := range points + 1 {
		z := cmplx.Rect(inside, 2*math.Pi*(float64(k)+0.5)/points)
		a := cmplx.Phase(l.characteristic(z))
		if k > 0 {
			turns += math.Remainder(a-last, 2*math.Pi)
		}
		last = a
	}
	degree := statePast + l.delay
	poles := float64(degree) - turns/(2*math.Pi)
	return math.Round(poles) == 2
}

// characteristic is the polynomial whose zeros are the loop's poles.
func (l *loop) characteristic(z complex128) complex128 {
	one := complex(1, 0)
	den := (z - complex(1-l.ag, 0)) * (z - one) * (z - complex(1-l.am, 0)) * (z - complex(1-l.h*l.drag, 0)) *
		cmplx.Pow(z, complex(float64(l.delay), 0))
	return den * (one + complex(l.gain, 0)*l.open(z))
}

// project computes the left eigenvector of the wanted pole, and its product
// with the right one that has an output of one.
func (l *loop) project() {
	z, n := l.pole, statePast+l.delay
	c := func(x float64) complex128 { return complex(x, 0) }
	left, right := make([]complex128, n), make([]complex128, n)
	hk, k := c(l.h*l.push), c(l.gain)
	left[stateY] = 1
	left[stateM] = c(1-l.am) * hk / (z - c(1-l.am))
	oldest := statePast + l.delay - 1
	left[oldest] = c(l.am) * (left[stateM] + hk) / z
	for j := oldest - 1; j >= statePast; j-- {
		left[j] = left[j+1] / z
	}
	l0 := left[statePast]
	left[stateI] = l0 / (z - 1)
	// What a change of the filtered rate does besides staying: integral, output.
	rest := -k*c(l.h/l.ti)*(left[stateI]+l0) - k*l0
	kd := k * c(l.td/l.h*l.ag)
	left[stateG] = (c(1-l.ag)*rest + kd*l0) / (z - c(1-l.ag))

	right[statePast] = 1
	for j := statePast + 1; j < n; j++ {
		right[j] = right[j-1] / z
	}
	right[stateM] = c(l.am) * right[oldest] / (z - c(1-l.am))
	right[stateY] = hk * z * right[stateM] / (z - c(1-l.h*l.drag))
	right[stateG] = c(l.ag) * right[stateY] / (z - c(1-l.ag))
	right[stateI] = -k * c(l.h/l.ti) * z * right[stateG] / (z - 1)
	l.left, l.scale = left, 0
	for j := range n {
		l.scale += left[j] * right[j]
	}
}

// step moves the loop on: gyro is what the gyro adds (deg/s), torque what
// shakes the body (deg/s^2), demand what the pilot asks for (deg/s). It returns
// the controller output.
func (l *loop) step(gyro, torque, demand float64) float64 {
	dg := l.ag * (l.y + gyro - l.g)
	l.g += dg
	e := demand - l.g
	l.i += l.now * l.h / l.ti * e
	u := l.now*(e-l.td/l.h*dg) + l.i
	oldest := l.head + 1
	if oldest == len(l.past) {
		oldest = 0
	}
	l.m += l.am * (l.past[oldest] - l.m)
	l.y += l.h * (l.push*l.m + torque - l.drag*l.y)
	l.past[oldest] = u
	l.head = oldest
	return u
}

// mode is the true amplitude of the wanted pole pair in the controller output,
// and its phase. What merely holds against a steady torque (deg/s^2) or follows
// a steady demand (deg/s) is no part of it.
func (l *loop) mode(torque, demand float64) (amplitude, phase float64) {
	hold := (l.drag*demand - torque) / l.push
	c := func(x float64) complex128 { return complex(x, 0) }
	sum := l.left[stateY]*c(l.y-demand) + l.left[stateM]*c(l.m-hold) +
		l.left[stateG]*c(l.g-demand) + l.left[stateI]*c(l.i-hold)
	j := l.head
	for _, v := range l.left[statePast:] {
		sum += v * c(l.past[j]-hold)
		if j--; j < 0 {
			j = len(l.past) - 1
		}
	}
	m := sum / l.scale
	return 2 * cmplx.Abs(m), cmplx.Phase(m)
}
