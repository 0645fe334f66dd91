package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A ringer is a mass on a spring with a damper, shaken by white noise: its
// exact sampled form, an autoregression of order two.
type ringer struct {
	rng    *rand.Rand
	a1, a2 float64
	drive  float64
	x1, x2 float64
}

// newRinger has the given frequency (of its decaying swing), damping ratio and
// rms.
func newRinger(seed uint64, hz, zeta, rms, rate float64) *ringer {
	w := 2 * math.Pi * hz
	p := math.Exp(-zeta / math.Sqrt(1-zeta*zeta) * w / rate)
	r := &ringer{rng: rand.New(rand.NewPCG(seed, 5)), a1: 2 * p * math.Cos(w/rate), a2: -p * p}
	// Variance of an autoregression of order two: G. E. P. Box, G. M. Jenkins,
	// Time Series Analysis, section 3.2.4 (from memory).
	gain := (1 - r.a2) / ((1 + r.a2) * ((1-r.a2)*(1-r.a2) - r.a1*r.a1))
	r.drive = rms / math.Sqrt(gain)
	for range int(3 * rate / (zeta * w)) {
		r.next()
	}
	return r
}

func (r *ringer) next() float64 {
	x := r.a1*r.x1 + r.a2*r.x2 + r.drive*r.rng.NormFloat64()
	r.x2, r.x1 = r.x1, x
	return x
}

// ring fits one level that holds a ringer and white noise.
func ring(t *testing.T, seed uint64, hz, zeta, noise float64, holes bool) (*ringFit, float64) {
	t.Helper()
	rate := hz / 0.18
	l := newMarginLevel(rate, 1000)
	src := newRinger(seed, hz, zeta, 1, rate)
	hole := 0
	for range int(35 * rate) {
		var f frame
		if hole--; holes && hole < 0 && src.rng.IntN(200) == 0 {
			hole = 20
		}
		f.v[sigU], f.real = src.next()+noise*src.rng.NormFloat64(), hole <= 0
		l.push(&f, sigU)
	}
	r := newRingFit(mostEnvelope)
	c, over := l.candidate()
	require.Greater(t, over, leastPeak)
	_, ok := l.envelope(r, c, sigU)
	require.True(t, ok)
	require.True(t, r.fit(ringing{decay: 0.03 * 2 * math.Pi * c, ratio: 3}))
	return r, 2*math.Pi*c + r.best[1]
}

// TestRingFit: over many drawings the damping ratio is right on average, its
// scatter is what the standard error says, and the latter is not far over what theory
// promises: the damping of an Ornstein-Uhlenbeck process that is seen for T has
// a relative variance of 2/(aT), half of that where the process is complex
// (Yu. A. Kutoyants, Statistical Inference for Ergodic Diffusion Processes,
// 2004; from memory).
func TestRingFit(t *testing.T) {
	for _, c := range []struct {
		hz, zeta, noise float64
		holes           bool
	}{
		{12, 0.01, 0, false}, {12, 0.02, 0.3, false}, {12, 0.03, 0.3, true}, {40, 0.02, 0.3, false},
		{40, 0.05, 0.3, false}, {6, 0.02, 0, false}, {12, 0.05, 0, true},
	} {
		const n = 40
		sum, norm, off, told, power := 0.0, 0.0, 0.0, 0.0, 0.0
		seen := 0.0
		for seed := range uint64(n) {
			r, w := ring(t, seed, c.hz, c.zeta, c.noise, c.holes)
			decay := math.Exp(r.best[0])
			z := dampingRatio(decay, w)
			sum += z / n
			norm += (z - c.zeta) * (z - c.zeta) / (z * z * r.err * r.err) / n
			off += math.Abs(w/(2*math.Pi)/c.hz-1) / n
			told += r.err / n
			power += r.power / 2 / n
			seen = float64(r.n) * r.dt
		}
		assert.InEpsilon(t, c.zeta, sum, 0.12, "%+v", c)
		assert.InDelta(t, 1, math.Sqrt(norm), 0.35, "%+v", c)
		assert.Less(t, off, 0.01, "%+v", c)
		assert.InEpsilon(t, 1, power, 0.15, "%+v", c)
		least := 1 / math.Sqrt(c.zeta*2*math.Pi*c.hz*seen)
		assert.Greater(t, told, 0.85*least, "%+v", c)
		assert.Less(t, told, 2*least, "%+v", c)
	}
}

// TestDampingOfTextbooks: logarithmic decrement and damping ratio of worked
// examples. A decrement is the decay over one period, 2 pi over the turn.
func TestDampingOfTextbooks(t *testing.T) {
	for _, c := range []struct {
		name              string
		decrement, period float64
		zeta, within      float64
	}{
		// W. T. Thomson, Theory of Vibration, free-damped example (10 lb, 30
		// lb/in, 0.12 lb s/in): 0.0681 and 0.429; digits computed from its data.
		{"Thomson", 0.4286, 0.185, 0.0681, 1e-4},
		// S. S. Rao, Mechanical Vibrations, shock absorber: a quarter in half a
		// cycle of 2 s, decrement 2.7726, damping ratio 0.4037.
		{"Rao", 2.7726, 2, 0.4037, 1e-4},
		// A quarter a cycle: J. G. Ziegler, N. B. Nichols, Trans. ASME 64, 1942.
		{"quarter decay", 1.38629, 0.1, 0.21545, 1e-5},
		// A posed problem: decrement 0.314, 0.2025 s: 0.0499.
		{"posed", 0.314, 0.2025, 0.0499, 1e-4},
	} {
		assert.InDelta(t, c.zeta, dampingRatio(c.decrement/c.period, 2*math.Pi/c.period), c.within, c.name)
	}
	// Thomson's machine, shaken by noise: the fit finds its damping ratio.
	const g, weight, k, damper = 386.0, 10.0, 30.0, 0.12
	mass := weight / g
	wn := math.Sqrt(k / mass)
	zeta := damper / (2 * math.Sqrt(k*mass))
	require.InDelta(t, 0.0681, zeta, 1e-4)
	sum := 0.0
	for seed := range uint64(30) {
		r, w := ring(t, 100+seed, wn*math.Sqrt(1-zeta*zeta)/(2*math.Pi), zeta, 0.2, false)
		sum += dampingRatio(math.Exp(r.best[0]), w) / 30
	}
	assert.InDelta(t, 0.0681, sum, 0.012)
}

// TestCrest: 2 for Gaussian noise, 1 for a line, 1.5 for two that beat (moments
// of the exponential distribution and of the sine; from memory).
func TestCrest(t *testing.T) {
	r := newRingFit(mostEnvelope)
	r.n, r.dt, r.best = mostEnvelope, 0.05, [3]float64{math.Log(2), 0, 0}
	rng := rand.New(rand.NewPCG(1, 1))
	noise := 0.0
	for range 30 {
		for i := range r.n {
			r.z[i], r.real[i] = complex(rng.NormFloat64(), rng.NormFloat64()), true
		}
		noise += r.crest() / 30
	}
	assert.InDelta(t, 2, noise, 0.15)
	for i := range r.n {
		r.z[i] = 3
	}
	assert.InDelta(t, 1, r.crest(), 0.03)
	for i := range r.n {
		s, c := math.Sincos(1.5 * float64(i) * r.dt)
		r.z[i] = 1 + complex(c, s)
	}
	assert.InDelta(t, 1.5, r.crest(), 0.1)
}

// TestLinesThatWander: a line follows the speed that is reported, ringing
// beside it does not, and where the rotor is steady nothing can be told.
func TestLinesThatWander(t *testing.T) {
	const rate, step = 200.0, 0.05
	for _, c := range []struct {
		name   string
		wander float64
		ringer bool
		want   likeness
	}{
		{"line", 0.8, false, alike}, {"ringing", 0.8, true, unlike},
		{"steady line", 0.01, false, notKnown}, {"steady rotor, ringing", 0.01, true, notKnown},
	} {
		rng := rand.New(rand.NewPCG(3, 9))
		l := marginLines{speeds: newSpeeds(marginPast, marginLineEvery)}
		var b Bench
		b.Motors, b.Craft.Blades = 1, 3
		r := newRingFit(mostEnvelope)
		r.n, r.dt, r.best = 300, step, [3]float64{math.Log(2), 0, 0}
		var z complex128
		speed, phase := 0.0, 0.0
		for i := range r.n {
			speed += step*(-speed/2) + c.wander*math.Sqrt(step)*rng.NormFloat64()
			b.Now = int64(float64(i) * step * 1e6)
			b.RPM[0] = Reading{V: 60 * (230 + speed), OK: true, At: b.Now}
			l.set(&b)
			phase += 2 * math.Pi * speed * step // 230 folds to 30
			s, co := math.Sincos(phase)
			z = z*complex(math.Exp(-2*step), 0) + complex(rng.NormFloat64(), rng.NormFloat64())
			r.z[i], r.real[i] = complex(co, s), true
			if c.ringer {
				r.z[i] = z
			}
		}
		assert.Equal(t, c.want, l.judge(r, 30, rate, b.Now), c.name)
		assert.Equal(t, unlike, l.judge(r, 50, rate, b.Now), "far from it")
		assert.Equal(t, notKnown, l.judge(r, 30, rate, b.Now+2*Second), "speeds that stay away")
	}
}
