package hearing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Indices into Baselines.
const (
	byRMS = iota
	byIAE
	byDecay
	byGated
)

// stream says how a signal comes in: lines a second, share of lines lost, and
// how far stamps lie off the even pace, as a share of it to either side.
type stream struct{ rate, loss, jitter float64 }

// play resets a baseline and hands it the signal on axis 1; each, if any, is
// called after every frame.
func (s stream) play(d Baseline, seconds float64, signal func(t float64) float64, each func(t float64)) {
	d.Reset(s.rate)
	rng := rand.New(rand.NewPCG(5, 6))
	for n := range int(seconds * s.rate) {
		t := (float64(n) + s.jitter*(2*rng.Float64()-1)) / s.rate
		if n > 0 && rng.Float64() < s.loss {
			continue
		}
		f := Frame{T: t}
		f.Output[1] = signal(t)
		d.Take(&f)
		if each != nil {
			each(t)
		}
	}
}

func sine(amplitude, hz float64) func(float64) float64 {
	return func(t float64) float64 { return amplitude * math.Sin(2*math.Pi*hz*t) }
}

// highPassed is the gain of a first-order high pass with the corner iaeCorner,
// 1/sqrt(1 + (corner/f)^2): textbook (from memory).
func highPassed(hz float64) float64 { return 1 / math.Hypot(1, iaeCorner/hz) }

func TestBaselinesOrder(t *testing.T) {
	var names []string
	for _, d := range Baselines() {
		names = append(names, d.Name())
	}
	assert.Equal(t, []string{
		"RMS threshold", "IAE count (Hägglund 1995)", "decay ratio (Miao and Seborg 1999)",
		"decay ratio (Miao and Seborg 1999), RMS where excessive",
	}, names)
}

// A steady sine about an offset, on streams good and bad. The answers are
// closed forms (calculus):
//   - RMS of A sin wt over whole periods: A/sqrt 2;
//   - half a cycle of A sin wt has the area 2A/w, so at the ultimate frequency
//     the tolerated amplitudes under A ring, at another f those under A 8/f;
//   - the autocorrelation of A sin wt is A^2/2 cos wt, so a = b = A^2, R = 1.
func TestBaselinesSine(t *testing.T) {
	const stair = 1.146 // from amplitude to amplitude of the bank: 600^(1/47)
	for name, s := range map[string]stream{
		"even":   {400, 0, 0},
		"rough":  {400, 0.03, 0.1},
		"slow":   {200, 0.03, 0.1},
		"fast":   {1000, 0.03, 0.1},
		"uneven": {333, 0.03, 0.3}, // no whole number of lines in 0.1 s
	} {
		for _, hz := range []float64{4, 8, 16} {
			for _, amplitude := range []float64{0.004, 0.05} {
				t.Run(fmt.Sprintf("%s %g Hz %g", name, hz, amplitude), func(t *testing.T) {
					var score [4]float64
					for k, d := range Baselines() {
						s.play(d, 12, func(t float64) float64 { return 0.07 + sine(amplitude, hz)(t) }, nil)
						score[k] = d.Score(1)
						assert.Zero(t, d.Score(0), "another axis")
						assert.Zero(t, d.Score(2), "another axis")
					}
					assert.InEpsilon(t, amplitude/math.Sqrt2, score[byRMS], 0.02)
					// Straight lines from frame to frame cut the tops of the sine.
					bar := amplitude * highPassed(hz) * iaeHz / hz
					assert.Less(t, score[byIAE], bar)
					assert.Greater(t, score[byIAE], bar/stair*0.97)
					assert.InDelta(t, 1, score[byDecay], 0.02)
					assert.InEpsilon(t, amplitude/math.Sqrt2, score[byGated], 0.02)
				})
			}
		}
	}
}

// What has no swing has no score, however far from zero it lies.
func TestBaselinesConstant(t *testing.T) {
	for _, d := range Baselines() {
		stream{400, 0.03, 0.1}.play(d, 6, func(float64) float64 { return -0.7 }, func(float64) {
			require.InDelta(t, 0, d.Score(1), 1e-7, d.Name()) // a thousandth of the stream's last digit
		})
	}
}

// Windows that are not full tell nothing; each fills after its own length.
func TestBaselinesWait(t *testing.T) {
	for k, wait := range map[int]float64{byRMS: 1, byDecay: 2.5, byGated: 2.5} {
		d, first := Baselines()[k], 0.0
		stream{400, 0.03, 0.1}.play(d, 5, sine(0.05, 8), func(t float64) {
			if first == 0 && d.Score(1) > 0 {
				first = t
			}
		})
		assert.InDelta(t, wait, first, 0.01, d.Name())
	}
}

// After Reset a baseline that heard much is as good as new, and nothing it
// does allocates.
func TestBaselinesReset(t *testing.T) {
	s := stream{400, 0.03, 0.1}
	signal := func(t float64) float64 { return sine(0.01, 7)(t) + sine(0.003, 31)(t) }
	fresh := Baselines()
	for k, d := range Baselines() {
		stream{1000, 0, 0}.play(d, 7, sine(0.9, 5), nil)
		s.play(d, 7.33, sine(0.9, 5), nil)
		var got, want []float64
		s.play(d, 6, signal, func(float64) { got = append(got, d.Score(1)) })
		s.play(fresh[k], 6, signal, func(float64) { want = append(want, fresh[k].Score(1)) })
		assert.Equal(t, want, got, d.Name())
		assert.Positive(t, want[len(want)-1], d.Name())

		f := Frame{T: 6}
		assert.Zero(t, testing.AllocsPerRun(10, func() {
			for range 400 {
				f.T += 1.0 / 400
				f.Output[1] = signal(f.T)
				d.Take(&f)
			}
		}), d.Name())
	}
}

// The RMS knows the newest second alone: of an hour of swings across the whole
// range nothing is left a second later, not even rounding.
func TestRMSForgets(t *testing.T) {
	d, seen := Baselines()[byRMS], 0
	const end = 3600.0
	stream{400, 0.03, 0.1}.play(d, end+10, func(t float64) float64 {
		if t < end {
			return 0.5 + sine(0.5, 8)(t)
		}
		return 0.9 + sine(1e-4, 8)(t)
	}, func(now float64) {
		if now > end+1.01 {
			seen++
			require.InEpsilon(t, 1e-4/math.Sqrt2, d.Score(1), 0.02)
		}
	})
	assert.Greater(t, seen, 3000)
}

// Areas between crossings. A triangle of height A and half period D runs
// straight from frame to frame where its tips are on frames: exactly A D/2
// (geometry). A sine: 2A/w, of which straight lines h apart take the share
// (w h)^2/12 (error term of the trapezoidal rule, from memory).
func TestIAEArea(t *testing.T) {
	areas := func(stamps []float64, x func(float64) float64) (all []float64) {
		a := iaeAxis{out: x(stamps[0])}
		a.above = a.out > 0
		for n := 1; n < len(stamps); n++ {
			was := a.out
			a.out = x(stamps[n])
			if v, ok := a.integrate(was, stamps[n]-stamps[n-1]); ok {
				all = append(all, v)
			}
		}
		return all[1:] // the first half cycle was cut
	}
	var uneven, even []float64
	for n := range 60 {
		tip := 0.05 + 0.1*float64(n)
		uneven = append(uneven, tip, tip+0.013, tip+0.043, tip+0.061, tip+0.07)
	}
	got := areas(uneven, func(t float64) float64 { return 0.02 * 2 / math.Pi * math.Asin(math.Sin(math.Pi*t/0.1)) })
	require.Len(t, got, 59) // crossings at 0.1, 0.2, ... 6 s, but for the first
	for _, v := range got {
		assert.InEpsilon(t, 0.02*0.1/2, v, 1e-9)
	}
	const h, w = 1.0 / 333, 2 * math.Pi * 8
	for n := range 999 {
		even = append(even, (float64(n)+0.2)*h)
	}
	got = areas(even, sine(0.03, 8))
	require.Len(t, got, 46) // 48 half cycles in 3 s, one cut at either end
	for _, v := range got {
		assert.InEpsilon(t, 2*0.03/w*(1-w*w*h*h/12), v, 1e-3)
	}
}

// The high pass on uneven stamps: a ramp of slope s comes out as
// s tau (1 - exp(-t/tau)), the step response of a first-order lag (textbook,
// from memory).
func TestIAEHighPass(t *testing.T) {
	const tau = 1 / (2 * math.Pi * iaeCorner)
	c, first := &iaeCount{}, math.NaN()
	stream{200, 0.2, 0.4}.play(c, 3, func(t float64) float64 { return 0.4 * t }, func(now float64) {
		if math.IsNaN(first) {
			first = now
		}
		require.InDelta(t, 0.4*tau*(1-math.Exp(-(now-first)/tau)), c.axes[1].out, 1e-12)
	})
}

// Half cycles every D seconds, each weighing exp(-age/6.25 s), add up to
// (1 - q^n)/(1 - q) with q = exp(-D/6.25) (geometric series). So 8 Hz reaches
// 10 at the eleventh half cycle (ten give 9.56), 1 Hz at the nineteenth, and
// 0.6 Hz never: its limit is 8.0.
func TestIAECounts(t *testing.T) {
	for _, c := range []struct {
		hz   float64
		half float64 // half cycles to the alarm, 0 never
	}{{8, 11}, {1, 19}, {0.6, 0}} {
		for name, s := range map[string]stream{"even": {1000, 0, 0}, "rough": {400, 0.03, 0.1}} {
			d, first := Baselines()[byIAE], 0.0
			s.play(d, 40, sine(0.1, c.hz), func(t float64) {
				if first == 0 && d.Score(1) > 0 {
					first = t
				}
			})
			// The high pass turns the phase forward by atan(corner/f), and its own
			// transient moves the first crossings.
			assert.InDelta(t, c.half, first*2*c.hz, 0.5, "%g Hz %s", c.hz, name)
		}
	}
}

// When the swing ends, the count n falls below 10 after 6.25 s ln(n/10): after
// 8 s of 8 Hz n = (1 - exp(-1.28))/(1 - exp(-0.01)) = 72.6, so 12.4 s (from
// the geometric series above). Through a month's pause nothing is left.
func TestIAEForgets(t *testing.T) {
	d, last := Baselines()[byIAE], 0.0
	stream{400, 0.03, 0.1}.play(d, 40, func(t float64) float64 {
		if t > 8 {
			return 0
		}
		return sine(0.1, 8)(t)
	}, func(t float64) {
		if d.Score(1) > 0 {
			last = t
		}
	})
	assert.InDelta(t, 8+12.4, last, 0.15)

	stream{400, 0, 0}.play(d, 8, sine(0.1, 8), nil)
	require.Positive(t, d.Score(1))
	f := Frame{T: 30 * 86400}
	d.Take(&f)
	assert.Zero(t, d.Score(1))
	stream{400, 0, 0}.play(d, 600, sine(0.1, 8), nil) // past several rescalings
	assert.InEpsilon(t, 0.1*highPassed(8), d.Score(1), 0.146)
}

// dampedRatio is R of exp(-a t) cos(w t) times height(t), worked out by hand:
// turning points lie where tan wt = -a/w, at wt = n pi - d with
// d = atan(a/w), with values (-1)^n exp(-a t) cos d; then a and b by
// their definition. For height = 1 and q = exp(-a pi/w), c = cos d exp(a d/w)
// it is (c q/2)(1 + q)^2 / (1 + c q - (1 - c q^2)(pi - d)/(2 pi - d)).
func dampedRatio(a, w float64, height func(float64) float64) float64 {
	d := math.Atan(a / w)
	at := func(n float64) float64 { return (n*math.Pi - d) / w }
	value := func(n float64) float64 {
		return math.Cos(n*math.Pi) * math.Cos(d) * math.Exp(-a*at(n)) * height(at(n))
	}
	up := value(2) - value(1) + (value(1)-value(3))*(at(2)-at(1))/(at(3)-at(1))
	down := 1 + (value(2)-1)*at(1)/at(2) - value(1)
	return up / down
}

// The criterion on autocorrelations known beforehand, against the closed form
// above.
func TestDecayRatioOfDampedCosine(t *testing.T) {
	const w = 2 * math.Pi * 8
	for _, zeta := range []float64{0, 0.01, 0.03, 0.1, 0.2} {
		a := zeta * w
		d := math.Atan(a / w)
		q, c := math.Exp(-a*math.Pi/w), math.Cos(d)*math.Exp(a*d/w)
		want := c * q / 2 * (1 + q) * (1 + q) / (1 + c*q - (1-c*q*q)*(math.Pi-d)/(2*math.Pi-d))
		require.InEpsilon(t, want, dampedRatio(a, w, func(float64) float64 { return 1 }), 1e-12)
		for _, rate := range []float64{100, 200, 1000} {
			var s swings
			for k := 0; !s.add(math.Exp(-a*float64(k)/rate) * math.Cos(w*float64(k)/rate)); k++ {
				require.Less(t, k, int(rate))
			}
			assert.InDelta(t, want, s.ratio(), 0.01, "zeta %g, %g/s", zeta, rate)
		}
	}
	var s swings
	for k := range 1000 {
		require.False(t, s.add(math.Exp(-float64(k)/100)))
	}
	assert.Zero(t, s.ratio(), "what does not swing")
}

// A ring exp(-a t) cos(w t + p) that dies within the window has the
// autocorrelation (1/4) exp(-a s) (cos(w s)/a + cos(w s + 2p + e)/hypot(a, w)),
// e = atan(w/a) (calculus); with p = -e/2 that is a multiple of
// exp(-a s) cos(w s). Dividing by the overlap raises it by 1/(1 - s/2.5).
func TestDecayRatioOfRing(t *testing.T) {
	const w = 2 * math.Pi * 8
	for _, zeta := range []float64{0.05, 0.08, 0.12} {
		a := zeta * w
		want := dampedRatio(a, w, func(s float64) float64 { return 1 / (1 - s/2.5) })
		for name, s := range map[string]stream{"even": {1000, 0, 0}, "rough": {1000, 0.03, 0.1}} {
			d, got := Baselines()[byDecay], 0.0
			s.play(d, 2.55, func(t float64) float64 {
				if t < 0.02 {
					return 0.3
				}
				t -= 0.02
				return 0.3 + 0.05*math.Exp(-a*t)*math.Cos(w*t-math.Atan(w/a)/2)
			}, func(float64) { got = d.Score(1) })
			assert.InDelta(t, want, got, 0.02, "zeta %g %s", zeta, name)
		}
	}
}

// White noise has no second swing to speak of: beyond lag 0 its estimated
// autocorrelations are of the order 1/sqrt N (Bartlett, from memory), so a is
// small against b.
func TestDecayRatioOfNoise(t *testing.T) {
	for _, rate := range []float64{200, 1000} {
		rng := rand.New(rand.NewPCG(7, 8))
		d, over, n, sum := Baselines()[byDecay], 0, 0, 0.0
		stream{rate, 0.03, 0.1}.play(d, 120, func(float64) float64 { return 0.01 * rng.NormFloat64() }, func(now float64) {
			if now > 3 {
				n, sum = n+1, sum+d.Score(1)
				if d.Score(1) >= decayLimit {
					over++
				}
			}
		})
		assert.Less(t, float64(over)/float64(n), 0.1, "%g/s", rate)
		assert.Greater(t, sum, 0.0)
	}
}

// plainRatio is the criterion straight from its definition on a window: sums of
// products, turning points by comparing neighbours.
func plainRatio(x []float64, lags int) (ratio, rms float64) {
	mean := 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	var s swings
	for k := range lags {
		sum := 0.0
		for i := range len(x) - k {
			sum += (x[i] - mean) * (x[i+k] - mean)
		}
		if k == 0 {
			rms = math.Sqrt(sum / float64(len(x)))
		}
		if s.add(sum / float64(len(x)-k)) {
			break
		}
	}
	return s.ratio(), rms
}

// The sliding sums of spectra against the plain definition, on three axes of
// coloured noise of different pace, long after a burst a thousand times larger
// and across more blocks than the window holds.
func TestDecayRatioAgainstDefinition(t *testing.T) {
	const rate, block = 200.0, 20
	ds := Baselines()[byDecay:]
	for _, d := range ds {
		d.Reset(rate)
	}
	rng := rand.New(rand.NewPCG(9, 10))
	var x [3][]float64
	var state [3][2]float64
	rung := 0
	for n := range 80*block + 1 {
		f := Frame{T: float64(n) / rate}
		for i, hz := range []float64{1.2, 6, 23} { // resonances, the first near the last lag
			a := 2 * 0.97 * math.Cos(2*math.Pi*hz/rate)
			v := a*state[i][0] - 0.97*0.97*state[i][1] + 1e-3*rng.NormFloat64()
			state[i] = [2]float64{v, state[i][0]}
			f.Output[i] = 0.05 + v
			if n < 100 {
				f.Output[i] *= 1000
			}
			x[i] = append(x[i], f.Output[i])
		}
		for _, d := range ds {
			d.Take(&f)
		}
		// By the frame after a block's last point rounding of stamps is over.
		if end := n / block * block; n%block == 1 && end >= 25*block {
			for i := range 3 {
				ratio, rms := plainRatio(x[i][end-25*block:end], 10*block)
				require.InDelta(t, ratio, ds[0].Score(i), 1e-5, "axis %d at %g", i, f.T)
				if ratio < decayLimit {
					rms = 0
				} else if end > 30*block {
					rung++
				}
				require.InDelta(t, rms, ds[1].Score(i), 1e-6*(1+rms), "axis %d at %g", i, f.T)
			}
		}
	}
	assert.Greater(t, rung, 20)
	assert.Less(t, rung, 130, "some must lie under the limit")
}

// After a hole longer than the window, what was before it does not count.
func TestDecayRatioHole(t *testing.T) {
	for _, k := range []int{byDecay, byGated} {
		d := Baselines()[k]
		stream{200, 0, 0}.play(d, 4, sine(0.05, 8), nil)
		require.Positive(t, d.Score(1))
		for n := range 700 {
			f := Frame{T: 1e6 + float64(n)/200}
			f.Output[1] = sine(0.05, 8)(f.T)
			d.Take(&f)
			if n < 499 {
				require.Zero(t, d.Score(1))
			}
		}
		assert.Positive(t, d.Score(1))
	}
}

// Cost of a frame of three axes: a growing oscillation on one, noise on all.
func BenchmarkBaselines(b *testing.B) {
	for k, name := range []string{"RMS", "IAE", "decay", "gated"} {
		for _, rate := range []float64{200, 400, 1000} {
			b.Run(fmt.Sprintf("%s/%g", name, rate), func(b *testing.B) {
				rng := rand.New(rand.NewPCG(1, 1))
				frames := make([]Frame, int(8*rate))
				for n := range frames {
					f := &frames[n]
					f.T = (float64(n) + 0.2*rng.Float64()) / rate
					for i := range f.Output {
						f.Output[i] = math.Round(20*rng.NormFloat64()) * 1e-4
					}
					f.Output[1] += 0.001 * math.Exp(f.T/2) * math.Sin(2*math.Pi*5*f.T)
				}
				d := Baselines()[k]
				d.Reset(rate)
				b.ReportAllocs()
				n, lap := 0, 0.0
				var f Frame
				for b.Loop() {
					f = frames[n]
					f.T += lap
					d.Take(&f)
					d.Score(1)
					if n++; n == len(frames) {
						n, lap = 0, lap+8
					}
				}
			})
		}
	}
}
