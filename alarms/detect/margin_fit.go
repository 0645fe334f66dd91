package detect

import (
	"math"
	"math/cmplx"
)

// A ringing is what is known of a resonance that noise drives: the complex
// envelope of its neighbourhood is a damped rotation driven by white noise
// (the stable pole pair) plus a white floor (everything broad). With the
// parameters given, a Kalman filter gives the exact Gaussian likelihood, holes
// and all, so that the parameters can be had by maximum likelihood (A. C.
// Harvey, Forecasting, Structural Time Series Models and the Kalman Filter,
// Cambridge 1989, sections 3.4 and 4.1; from memory). Damping from the ambient
// shaking of a structure, band by band, is found alike in modal analysis (S.-K.
// Au, Mech. Syst. Signal Process. 25(4), 2011, 1328 ff; from memory).
type ringing struct {
	decay  float64 // of the envelope, per second
	offset float64 // of its rotation from the carrier, rad/s
	ratio  float64 // power of the resonance over the floor's
}

// A ringFit holds the envelope that is fitted, and what came of it.
type ringFit struct {
	z    []complex128
	real []bool // false: not measured
	n    int
	dt   float64 // seconds between two

	good     int // measured ones
	mean     float64
	best     [3]float64 // ln decay, offset, ln ratio
	like     float64    // log likelihood there
	flat     float64    // that of the floor alone
	err      float64    // standard error of ln decay
	power    float64    // mean square of the resonance
	simplex  [4][3]float64
	heights  [4]float64
	fixed    bool // decay is held where it is
	curve    [3][3]float64
	filtered []complex128
}

func newRingFit(most int) *ringFit {
	return &ringFit{z: make([]complex128, most), real: make([]bool, most), filtered: make([]complex128, most)}
}

// begin notes the level; it reports false where too little is measured.
func (r *ringFit) begin() bool {
	r.good, r.mean = 0, 0
	for i, ok := range r.real[:r.n] {
		if ok {
			r.good++
			r.mean += real(r.z[i])*real(r.z[i]) + imag(r.z[i])*imag(r.z[i])
		}
	}
	if r.good < leastEnvelope || r.good*4 < r.n*3 || r.mean <= 0 {
		return false
	}
	r.mean /= float64(r.good)
	r.flat = -float64(r.good) * math.Log(r.mean)
	return true
}

// lagParts is how finely the lags within an envelope's window are told apart.
const lagParts = 16

// lagShares is how often two draws from a Hann window of length one lie so far
// apart: the weights of what the window averages.
var lagShares = func() (p [lagParts]float64) {
	const fine = 64
	h := func(x float64) float64 { return 1 - math.Cos(2*math.Pi*x) }
	sum := 0.0
	for i := range fine {
		for j := range fine {
			a, b := (float64(i)+0.5)/fine, (float64(j)+0.5)/fine
			k := min(int(math.Abs(a-b)*lagParts), lagParts-1)
			p[k] += h(a) * h(b)
			sum += h(a) * h(b)
		}
	}
	for k := range p {
		p[k] /= sum
	}
	return p
}()

// windowed is what the envelope's window does to the resonance: its mean
// square comes out as same times the true one, and its products over one step
// or more as apart times what they would be. The window averages over lags in
// which the envelope has moved already, so same is less than apart.
func (r *ringFit) windowed(decay, offset float64) (same, apart float64) {
	// Decay and rotation over the lags go on by constant factors.
	part := r.dt / envelopeHop / lagParts
	e, step := math.Exp(-decay*part/2), math.Exp(-decay*part)
	sin, cos := math.Sincos(offset * part / 2)
	turnSin, turnCos := math.Sincos(offset * part)
	for _, p := range lagShares {
		c := p * cos
		same += c * e
		apart += c * (e + 1/e) / 2
		e *= step
		cos, sin = cos*turnCos-sin*turnSin, sin*turnCos+cos*turnSin
	}
	return same, apart
}

// settled is the share by which the variance of what is expected may still
// change and count as constant.
const settled = 1e-15

// logLike is the log likelihood of the parameters, with the scale that suits
// them best, and that scale: the mean square of the resonance.
func (r *ringFit) logLike(p [3]float64) (like, power float64) {
	decay := math.Exp(p[0])
	same, apart := r.windowed(decay, p[1])
	if apart < 0.05 {
		return math.Inf(-1), 0
	}
	floor := math.Exp(-p[2]) + (same-apart)/apart
	keep := math.Exp(-decay * r.dt)
	s, c := math.Sincos(p[1] * r.dt)
	ar, ai := keep*c, keep*s
	keep *= keep
	var mr, mi float64 // expected envelope
	v := 1.0           // its variance
	sum, logs, product := 0.0, 0.0, 1.0
	z, measured := r.z[:r.n], r.real[:r.n]
	for i := 0; i < len(z); i++ {
		if measured[i] {
			er, ei := real(z[i])-mr, imag(z[i])-mi
			f := v + floor
			if f < 1e-9 {
				return math.Inf(-1), 0
			}
			g := v / f
			sum += (er*er + ei*ei) / f
			product *= f
			if product > 1e200 || product < 1e-200 {
				logs += math.Log(product)
				product = 1
			}
			mr += g * er
			mi += g * ei
			was := v
			v *= floor / f
			if next := keep*v + 1 - keep; math.Abs(next-was) <= settled*was {
				mr, mi = ar*mr-ai*mi, ar*mi+ai*mr
				var square float64
				n := 0
				square, n, mr, mi = filterOn(z[i+1:], measured[i+1:], mr, mi, ar, ai, g)
				sum += square / f
				logs += float64(n) * math.Log(f)
				i += n
				v = next
				continue
			}
		}
		mr, mi = ar*mr-ai*mi, ar*mi+ai*mr
		v = keep*v + 1 - keep
	}
	logs += math.Log(product)
	n := float64(r.good)
	return -logs - n*math.Log(sum/n), sum / n / apart
}

// filterOn goes on with the filter up to the next hole, with a constant gain g.
// It returns the sum of the squared errors, how many there were, and what is
// expected next.
func filterOn(z []complex128, measured []bool, mr, mi, ar, ai, g float64) (square float64, n int, nextR, nextI float64) {
	// What is expected next is a (m + g (z - m)): the parts of m and z apart,
	// so that a step waits for as little of the step before as can be.
	br, bi, cr, ci := ar*(1-g), ai*(1-g), ar*g, ai*g
	for n < len(z) && n < len(measured) && measured[n] {
		zr, zi := real(z[n]), imag(z[n])
		er, ei := zr-mr, zi-mi
		square += er*er + ei*ei
		mr, mi = br*mr-bi*mi+(cr*zr-ci*zi), br*mi+bi*mr+(cr*zi+ci*zr)
		n++
	}
	return square, n, mr, mi
}

// fit finds the likeliest ringing from a first guess.
func (r *ringFit) fit(first ringing) bool {
	r.fixed = false
	start := [3]float64{math.Log(first.decay), first.offset, math.Log(first.ratio)}
	step := [3]float64{0.5, 0.5 * first.decay, 0.7}
	p, _ := r.search(start, step, 60)
	p, c := r.search(p, [3]float64{-0.3, -0.3 * math.Exp(p[0]), -0.4}, 50)
	r.best, r.like = p, -c
	_, r.power = r.logLike(p)
	return r.curvature()
}

// crest is the mean fourth power of the envelope over the square of its mean
// square, in a band so narrow that little but the resonance is left: 2 for
// noise-driven ringing (its envelope is Rayleigh distributed), 1 for a line or
// a limit cycle, 1.5 for two equal lines that beat (moments of the exponential
// distribution and of the sine; from memory).
func (r *ringFit) crest() float64 {
	decay := 2*math.Exp(r.best[0]) + 2/(float64(r.n)*r.dt)
	s, c := math.Sincos(r.best[1] * r.dt)
	keep := math.Exp(-decay * r.dt)
	turn := complex(keep*c, keep*s)
	var v complex128
	for i := range r.n {
		v *= turn
		if r.real[i] {
			v += r.z[i]
		}
		r.filtered[i] = v
	}
	turn = cmplx.Conj(turn)
	v = 0
	m2, m4 := 0.0, 0.0
	for i := r.n - 1; i >= 0; i-- {
		v = v*turn + r.filtered[i]
		r.filtered[i] = v
		p := real(v)*real(v) + imag(v)*imag(v)
		m2 += p
		m4 += p * p
	}
	if m2 == 0 {
		return 0
	}
	return m4 * float64(r.n) / (m2 * m2)
}

// coherence is the share of one narrow envelope's power that moves with
// another's, and the other's amplitude over the one's. Both must have been
// asked for their crest.
func (r *ringFit) coherence(o *ringFit) (share, ratio float64) {
	var cross complex128
	a, b := 0.0, 0.0
	for i := range min(r.n, o.n) {
		cross += r.filtered[i] * cmplx.Conj(o.filtered[i])
		a += sq(r.filtered[i])
		b += sq(o.filtered[i])
	}
	if a == 0 || b == 0 {
		return 0, 0
	}
	return sq(cross) / (a * b), math.Sqrt(b / a)
}
