package tone

import "math"

// An Estimate is a growing sinusoid A exp(Growth t) cos(2 pi Frequency t + phase)
// that fits a stretch of samples, with one standard error of each value: 1.96
// of them hold the truth 95 times in 100.
type Estimate struct {
	Frequency, FrequencyErr float64 // cycles a sample
	Growth, GrowthErr       float64 // per sample; negative for a decay
	Amplitude, AmplitudeErr float64 // at the last sample
	Middle                  float64 // amplitude at the middle of the stretch
	Phase                   float64 // at the middle, radians
	Noise                   float64 // mean square of what is left, as white noise that would do the same near the tone
}

// Damping returns the damping ratio: -growth over the magnitude of the pole.
func (e *Estimate) Damping() float64 {
	return DampingRatio(e.Growth, 2*math.Pi*e.Frequency)
}

// DampingRatio is -sigma/sqrt(sigma^2+omega^2) of the pole sigma+-i omega;
// with the logarithmic decrement d a cycle it is d/sqrt(4 pi^2+d^2).
func DampingRatio(sigma, omega float64) float64 {
	m := math.Hypot(sigma, omega)
	if m == 0 {
		return 0
	}
	return -sigma / m
}

const (
	params  = 6 // cosine, sine, growth, frequency, offset, slope
	maxIter = 12
)

// Fitter fits growing sinusoids by nonlinear least squares (Gauss and Newton,
// started from a spectrum's peak). Its buffers are made once.
type Fitter struct {
	rest []float64 // what the last fit left
	sums sums
	a    [params][params]float64
	b    [params]float64
}

// NewFitter returns a fitter for stretches of at most n samples.
func NewFitter(n int) *Fitter {
	return &Fitter{rest: make([]float64, n)}
}

// Rest returns what the last fit left of its samples.
func (f *Fitter) Rest(n int) []float64 { return f.rest[:n] }

// model is the state of the iteration. Time counts from the middle.
type model struct{ c, s, growth, omega, offset, slope float64 }

// Fit fits x from a start frequency. It reports false where the iteration
// does not settle near its start: there is no such sinusoid.
//
// The standard errors come from the inverse of the normal matrix, which at
// the true values is the Cramer-Rao bound of this model in white noise (S. M.
// Kay, Fundamentals of Statistical Signal Processing: Estimation Theory,
// 1993), with the noise taken from the neighbourhood of the tone.
func (f *Fitter) Fit(x []float64, start float64) (Estimate, bool) {
	n := len(x)
	m := model{omega: 2 * math.Pi * start}
	m.offset, m.slope = line(x)
	f.begin(n, &m)
	f.weigh(x, &m)
	if n < params+2 || !f.linear(&m) {
		return Estimate{}, false
	}
	settled := false
	for range maxIter {
		f.normal(&m)
		step, ok := solve(&f.a, &f.b, params)
		if !ok {
			return Estimate{}, false
		}
		// A step beyond what the stretch can resolve is the linearisation
		// speaking, not the samples.
		dg := min(max(step[2], -1/float64(n)), 1/float64(n))
		dw := min(max(step[3], -math.Pi/2/float64(n)), math.Pi/2/float64(n))
		m.c += step[0]
		m.s += step[1]
		m.growth += dg
		m.omega += dw
		m.offset += step[4]
		m.slope += step[5]
		f.weigh(x, &m)
		if dg != step[2] || dw != step[3] {
			if !f.linear(&m) {
				return Estimate{}, false
			}
			continue
		}
		if math.Abs(dg)+math.Abs(dw) < 1e-4/float64(n) {
			settled = true
			break
		}
	}
	off := math.Abs(m.omega/(2*math.Pi)-start) * float64(n)
	if !settled || off > 1 || m.omega <= 0 || m.omega >= math.Pi {
		return Estimate{}, false
	}
	return f.estimate(x, &m)
}

// sums are what the normal equations about a growing tone are made of: sums of
// products of its cosine c, its sine s, the time t and the samples x. They
// depend on growth and frequency alone; the rest of the model enters by algebra.
type sums struct {
	n, tt, x, tx     float64
	c, s, tc, ts     float64
	ttc, tts         float64
	cc, cs, ss       float64
	tcc, tcs, tss    float64
	ttcc, ttcs, ttss float64
	xc, xs, xtc, xts float64
}

// begin notes what holds for any tone: the offset and slope of m are those of the
// samples' own straight line, with which their sums are known.
func (f *Fitter) begin(length int, m *model) {
	n := float64(length)
	tt := n * (n*n - 1) / 12
	f.sums = sums{n: n, tt: tt, x: n * m.offset, tx: tt * m.slope}
}

// weigh brings the sums up to date for the model's growth and frequency. Nearly
// all of a fit's time goes here.
func (f *Fitter) weigh(x []float64, m *model) {
	t := -float64(len(x)-1) / 2
	// The tone turns by one constant complex factor a sample.
	g := math.Exp(m.growth * t)
	sin, cos := math.Sincos(m.omega * t)
	co, si := g*cos, g*sin
	e := math.Exp(m.growth)
	sin, cos = math.Sincos(m.omega)
	rc, rs := e*cos, e*sin
	var c, s, tc, ts, ttc, tts, cc, cs, ss, tcc, tcs, tss, ttcc, ttcs, ttss, xc, xs, xtc, xts float64
	for _, v := range x {
		u, w := t*co, t*si
		c += co
		s += si
		tc += u
		ts += w
		ttc += t * u
		tts += t * w
		cc += co * co
		cs += co * si
		ss += si * si
		tcc += u * co
		tcs += u * si
		tss += w * si
		ttcc += u * u
		ttcs += u * w
		ttss += w * w
		xc += v * co
		xs += v * si
		xtc += v * u
		xts += v * w
		co, si = co*rc-si*rs, si*rc+co*rs
		t++
	}
	k := &f.sums
	k.c, k.s, k.tc, k.ts, k.ttc, k.tts = c, s, tc, ts, ttc, tts
	k.cc, k.cs, k.ss, k.tcc, k.tcs, k.tss = cc, cs, ss, tcc, tcs, tss
	k.ttcc, k.ttcs, k.ttss = ttcc, ttcs, ttss
	k.xc, k.xs, k.xtc, k.xts = xc, xs, xtc, xts
}

// normal builds the normal equations about m, for whose growth and frequency the
// sums stand. The derivatives of the tone T = m.c c + m.s s are c and s, t T by
// growth and t (m.s c - m.c s) by frequency.
func (f *Fitter) normal(m *model) {
	k := &f.sums
	cg, cw := m.c*k.tcc+m.s*k.tcs, m.s*k.tcc-m.c*k.tcs
	sg, sw := m.c*k.tcs+m.s*k.tss, m.s*k.tcs-m.c*k.tss
	gg := m.c*m.c*k.ttcc + 2*m.c*m.s*k.ttcs + m.s*m.s*k.ttss
	gw := m.c*m.s*(k.ttcc-k.ttss) + (m.s*m.s-m.c*m.c)*k.ttcs
	ww := m.s*m.s*k.ttcc - 2*m.c*m.s*k.ttcs + m.c*m.c*k.ttss
	g1, w1 := m.c*k.tc+m.s*k.ts, m.s*k.tc-m.c*k.ts
	gt, wt := m.c*k.ttc+m.s*k.tts, m.s*k.ttc-m.c*k.tts
	f.a = [params][params]float64{
		{k.cc}, {k.cs, k.ss}, {cg, sg, gg}, {cw, sw, gw, ww},
		{k.c, k.s, g1, w1, k.n}, {k.tc, k.ts, gt, wt, 0, k.tt},
	}
	// What the model leaves, times each of them; the times sum up to nought.
	rc := k.xc - m.c*k.cc - m.s*k.cs - m.offset*k.c - m.slope*k.tc
	rs := k.xs - m.c*k.cs - m.s*k.ss - m.offset*k.s - m.slope*k.ts
	rtc := k.xtc - m.c*k.tcc - m.s*k.tcs - m.offset*k.tc - m.slope*k.ttc
	rts := k.xts - m.c*k.tcs - m.s*k.tss - m.offset*k.ts - m.slope*k.tts
	r1 := k.x - m.c*k.c - m.s*k.s - m.offset*k.n
	rt := k.tx - m.c*k.tc - m.s*k.ts - m.slope*k.tt
	f.b = [params]float64{rc, rs, m.c*rtc + m.s*rts, m.s*rtc - m.c*rts, r1, rt}
}

// leave keeps what m leaves of x.
func (f *Fitter) leave(x []float64, m *model) {
	t := -float64(len(x)-1) / 2
	g := math.Exp(m.growth * t)
	sin, cos := math.Sincos(m.omega * t)
	co, si := g*(m.c*cos+m.s*sin), g*(m.s*cos-m.c*sin) // the tone, and a quarter turn on
	e := math.Exp(m.growth)
	sin, cos = math.Sincos(m.omega)
	rc, rs := e*cos, e*sin
	rest := f.rest[:len(x)]
	for i, v := range x {
		rest[i] = v - co - m.offset - m.slope*t
		co, si = co*rc+si*rs, si*rc-co*rs
		t++
	}
}

// linear solves for amplitude, phase, offset and slope at the model's
// frequency and growth.
func (f *Fitter) linear(m *model) bool {
	f.normal(m)
	// Rows and columns of growth and frequency are left out.
	a := [params][params]float64{
		{f.a[0][0]}, {f.a[1][0], f.a[1][1]},
		{f.a[4][0], f.a[4][1], f.a[4][4]},
		{f.a[5][0], f.a[5][1], f.a[5][4], f.a[5][5]},
	}
	b := [params]float64{f.b[0], f.b[1], f.b[4], f.b[5]}
	d, ok := solve(&a, &b, 4)
	if !ok {
		return false
	}
	m.c += d[0]
	m.s += d[1]
	m.offset += d[2]
	m.slope += d[3]
	return true
}

func (f *Fitter) estimate(x []float64, m *model) (Estimate, bool) {
	n := len(x)
	f.normal(m)
	f.leave(x, m)
	inv, ok := inverse(&f.a)
	if !ok {
		return Estimate{}, false
	}
	e := Estimate{Frequency: m.omega / (2 * math.Pi), Growth: m.growth, Middle: math.Hypot(m.c, m.s), Phase: math.Atan2(-m.s, m.c)}
	noise, used := f.near(n, m.omega)
	if used == 0 {
		return Estimate{}, false
	}
	e.Noise = noise
	// Offset and slope are of no interest; tone parameters alone are told.
	half := float64(n-1) / 2
	e.Amplitude = e.Middle * math.Exp(m.growth*half)
	sd := math.Sqrt(noise) * student[used]
	e.GrowthErr = sd * math.Sqrt(inv[2][2])
	e.FrequencyErr = sd * math.Sqrt(inv[3][3]) / (2 * math.Pi)
	if e.Middle > 0 {
		// d(ln A at the end) = dA/A + half dGrowth
		ca, sa := m.c/e.Middle, m.s/e.Middle
		amp := ca*ca*inv[0][0] + 2*ca*sa*inv[1][0] + sa*sa*inv[1][1]
		cross := ca*inv[2][0] + sa*inv[2][1]
		v := amp/(e.Middle*e.Middle) + 2*half*cross/e.Middle + half*half*inv[2][2]
		e.AmplitudeErr = e.Amplitude * sd * math.Sqrt(max(v, 0))
	}
	return e, !math.IsNaN(e.GrowthErr)
}

// student widens a standard error whose noise rests on so many of near's four
// frequencies, so that 1.96 of it hold the truth 95 times in 100. Two of them
// one cell apart share (2/3)^2 of their power, so that 1 to 4 of them have 2,
// 2.77, 4.63 and 5.54 degrees of freedom; these are Student's quantiles over
// the normal one.
var student = [...]float64{math.Inf(1), 2.195, 1.703, 1.344, 1.274}

// near estimates the noise about the tone: the Hann-weighted power of the
// rest at four frequencies one and a half and two and a half cells beside it,
// as the mean square of a white noise with that density, and tells how many
// of them it could use. A coloured background is thus judged where the tone
// stands.
func (f *Fitter) near(n int, omega float64) (noise float64, used int) {
	cell := 2 * math.Pi / float64(n)
	sum, share := 0.0, 0.0
	for _, d := range [...]float64{-2.5, -1.5, 1.5, 2.5} {
		// Lower down, offset and slope have taken half of the noise.
		w := omega + d*cell
		if w < 1.5*cell || w >= math.Pi {
			continue
		}
		sum += f.powerAt(n, w)
		// The tone's own parameters have taken their share of the nearer ones.
		if math.Abs(d) < 2 {
			share += 0.92
		} else {
			share++
		}
		used++
	}
	if used == 0 {
		return 0, 0
	}
	return sum / share, used
}

// powerAt returns |sum hann x exp(-i w n)|^2 over sum hann^2.
func (f *Fitter) powerAt(n int, w float64) float64 {
	co, si := 1.0, 0.0
	rc, rs := math.Cos(w), math.Sin(w)
	hc, hs := 1.0, 0.0
	step := 2 * math.Pi / float64(n)
	pc, ps := math.Cos(step), math.Sin(step)
	re, im, norm := 0.0, 0.0, 0.0
	for _, r := range f.rest[:n] {
		h := 0.5 - 0.5*hc
		re += h * r * co
		im += h * r * si
		norm += h * h
		co, si = co*rc-si*rs, si*rc+co*rs
		hc, hs = hc*pc-hs*ps, hs*pc+hc*ps
	}
	return (re*re + im*im) / norm
}

// At returns amplitude and phase (at the middle, of the cosine) of the
// sinusoid of frequency f in x by least squares with an offset, and the
// standard error of the amplitude for white noise of the given mean square:
// infinite where x cannot tell.
func At(x []float64, f, noise float64) (amplitude, phase, err float64) {
	var a [params][params]float64
	var b [params]float64
	w := 2 * math.Pi * f
	mid := float64(len(x)-1) / 2
	co, si := math.Cos(w*mid), -math.Sin(w*mid)
	rc, rs := math.Cos(w), math.Sin(w)
	for _, v := range x {
		j := [3]float64{co, si, 1}
		for p := range 3 {
			for q := 0; q <= p; q++ {
				a[p][q] += j[p] * j[q]
			}
			b[p] += j[p] * v
		}
		co, si = co*rc-si*rs, si*rc+co*rs
	}
	d, ok := solve(&a, &b, 3)
	amplitude = math.Hypot(d[0], d[1])
	if !ok || math.IsNaN(amplitude) || math.IsInf(amplitude, 0) {
		return 0, 0, math.Inf(1)
	}
	return amplitude, math.Atan2(-d[1], d[0]), math.Sqrt(2 * noise / float64(len(x)))
}
