package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
)

// shakes is a bench whose force and rates shake.
type shakes struct {
	force func(t float64) float64 // m/s^2, along x
	rate  func(t float64) float64 // deg/s, roll
	out   func(t float64) float64
	noise float64
}

func (k shakes) streams(tr *trial, hz, jitter, loss float64) []stream {
	if k.out == nil {
		k.out = func(t float64) float64 { return 0.35 }
	}
	none := func(float64) float64 { return 0 }
	if k.force == nil {
		k.force = none
	}
	if k.rate == nil {
		k.rate = none
	}
	n := func() float64 { return k.noise * tr.rng.NormFloat64() }
	return []stream{
		{tag: decode.State, hz: 20, value: steady(state(1, 0, 1, 0.3)...)},
		{tag: decode.Out, hz: 50, value: func(t float64) []float64 { return all4(k.out(t)) }},
		{tag: decode.Accel, hz: hz, jitter: jitter, loss: loss, value: func(t float64) []float64 {
			return []float64{k.force(t) + n(), n(), n() - gravity}
		}},
		{tag: decode.Axes, hz: hz, jitter: jitter, loss: loss, value: func(t float64) []float64 {
			return []float64{k.rate(t) + n(), n(), n(), 0, 0, 0, 0, 0, 0, k.out(t)}
		}},
	}
}

// sine is a vibration whose amplitude is one until a time and another after it.
func sine(hz, before, after, at float64) func(float64) float64 {
	return func(t float64) float64 {
		a := before
		if t >= at {
			a = after
		}
		return a * math.Sin(2*math.Pi*hz*t)
	}
}

// TestHighCut holds the filter against the magnitude of a second-order
// Butterworth high-pass, 1/sqrt(1+(fc/f)^4), with the bilinear transform's
// warped frequencies (formula from memory, any text on filters), and the rms of
// a sine, amplitude over root two.
func TestHighCut(t *testing.T) {
	const fs, fc = 400.0, 60.0
	warp := func(f float64) float64 { return math.Tan(math.Pi * f / fs) }
	for _, f := range []float64{0, 5, 14, 30, 60, 100, 150} {
		var h highCut
		h.tune(fc / fs)
		sum, n := 0.0, 0
		for i := range 8000 {
			y := h.next(3 * math.Cos(2*math.Pi*f*float64(i)/fs))
			if i >= 4000 {
				sum += y * y
				n++
			}
		}
		want := 0.0
		if f > 0 {
			want = 3 / math.Sqrt2 / math.Sqrt(1+math.Pow(warp(fc)/warp(f), 4))
		}
		assert.InDelta(t, want, math.Sqrt(sum/float64(n)), 0.002, "%v Hz", f)
	}
}

// TestUnbalanceForce: F = U w^2: 1 g mm at 16000 rev/min is 2.8074 N (computed
// from the definition), so speed by x changes an rms by x squared.
func TestUnbalanceForce(t *testing.T) {
	force := func(gmm, rpm float64) float64 {
		w := rpm * 2 * math.Pi / 60
		return gmm * 1e-6 * w * w
	}
	assert.InDelta(t, 2.8074, force(1, 16000), 1e-4)
	// The detector's scaling: outputs (speeds) by 1.06, vibration by that squared,
	// is no step at all.
	d := &vibrationStep{}
	d.Reset()
	tr := newTrial(d, heron)
	k := shakes{force: func(t float64) float64 {
		a := force(1, 16000)
		if t >= 8 {
			a = force(1, 16000*1.06)
		}
		return a * math.Sin(2*math.Pi*70*t)
	}, out: func(t float64) float64 {
		if t >= 8 {
			return 0.35 * 1.06
		}
		return 0.35
	}}
	tr.run(0, 9.5, k.streams(tr, 400, 0, 0)...)
	tr.silent(t)
	assert.InDelta(t, 1, d.ch[0].ratio, 0.01)
	assert.InDelta(t, force(1, 16000*1.06)/math.Sqrt2, d.ch[0].now, 0.02*d.ch[0].now)
}

func TestVibrationStep(t *testing.T) {
	for _, c := range []struct {
		name  string
		shake shakes
		rings bool
	}{
		{"force doubles and more", shakes{force: sine(70, 1, 2.6, 8)}, true},
		{"force, just over", shakes{force: sine(70, 1, 2.1, 8)}, true},
		{"force, just under", shakes{force: sine(70, 1, 1.9, 8)}, false},
		{"rates alone", shakes{rate: sine(88, 4, 12, 8)}, true},
		{"as before", shakes{force: sine(70, 1, 1, 8)}, false},
		{"doubles, but too small to mind", shakes{force: sine(70, 0.1, 0.5, 8)}, false},
		{"a knock of 0.19 s", shakes{force: func(t float64) float64 {
			if t > 8.06 && t < 8.25 {
				return 40 * math.Sin(2*math.Pi*70*t)
			}
			return math.Sin(2 * math.Pi * 70 * t)
		}}, false},
		{"rocks on its feet at 3 to 9 Hz", shakes{force: sine(9, 0.3, 6, 8), rate: sine(6, 1, 30, 8)}, false},
		{"a loop that swings up at 14 Hz", shakes{rate: func(t float64) float64 {
			return math.Exp(min(2*(t-6), 5)) * math.Sin(2*math.Pi*14*t)
		}}, false},
		{"grows slowly", shakes{force: func(t float64) float64 {
			return math.Exp(0.25*(t-8)) * math.Sin(2*math.Pi*70*t)
		}}, false},
		{"beats: four rotors of nearly one speed", shakes{force: func(t float64) float64 {
			v := 0.0
			for i := range 4 {
				v += math.Sin(2 * math.Pi * (70 + 0.37*float64(i*i)) * t)
			}
			return v
		}}, false},
		{"throttle goes up and vibration with it", shakes{
			out: func(t float64) float64 { return ramp(t, 8, 8.5, 0.3, 0.6) },
			force: func(t float64) float64 {
				return ramp(t, 8, 8.5, 1, 5) * math.Sin(2*math.Pi*70*t)
			}}, false},
	} {
		for _, hz := range []float64{200, 400, 1000} {
			for _, loss := range []float64{0, 0.05} {
				tr := newTrial(NewVibrationStep(), heron)
				c.shake.noise = 0.08
				tr.run(0, 11, c.shake.streams(tr, hz, 0, loss)...)
				watchful(t, tr, true)
				if !c.rings {
					if len(tr.said) > 0 {
						t.Errorf("%s at %v loss %v: %s", c.name, hz, loss, tr.list())
					}
					continue
				}
				if len(tr.said) == 0 {
					t.Errorf("%s at %v loss %v: silent", c.name, hz, loss)
					continue
				}
				ch := tr.one(t, Craft, High, 8.35, 8.65)
				assert.Greater(t, ch.value, 2.0)
			}
		}
	}
}

// TestVibrationStepHolds: it stays while vibration is up and clears after it.
func TestVibrationStepHolds(t *testing.T) {
	tr := newTrial(NewVibrationStep(), heron)
	k := shakes{noise: 0.05, force: func(t float64) float64 {
		a := 1.0
		if t >= 6 && t < 12 {
			a = 4
		}
		return a * math.Sin(2*math.Pi*70*t)
	}}
	tr.run(0, 16, k.streams(tr, 400, 0.1, 0.02)...)
	assert.Len(t, tr.raised(), 1, tr.list())
	last := tr.said[len(tr.said)-1]
	assert.Equal(t, "cleared", last.word)
	assert.InDelta(t, 12.9, last.at, 0.3)
}

func TestVibrationStepUnknown(t *testing.T) {
	k := shakes{force: sine(20, 1, 4, 8), noise: 0.05}
	tr := newTrial(NewVibrationStep(), heron)
	tr.run(0, 10, k.streams(tr, 50, 0, 0)...) // too slow
	tr.silent(t)
	watchful(t, tr, false)

	// Rotors at 100 turns a second fold down in 150 lines a second, not in 400.
	for hz, watched := range map[float64]bool{150: false, 400: true} {
		tr = newTrial(NewVibrationStep(), heron)
		fast := shakes{force: sine(41, 1, 4, 8), noise: 0.05}.streams(tr, hz, 0, 0)
		fast = append(fast, stream{tag: decode.ERPM, hz: 50, value: steady(all4(42000)...)})
		tr.run(0, 10, fast...)
		assert.Equal(t, watched, len(tr.raised()) == 1, tr.list())
		watchful(t, tr, watched)
	}

	tr = newTrial(NewVibrationStep(), heron)
	s := k.streams(tr, 400, 0, 0)
	s[2].value, s[3].value = steady(no, no, no), steady(no, no, no)
	tr.run(0, 10, s...)
	tr.silent(t)
	watchful(t, tr, false)

	tr = newTrial(NewVibrationStep(), heron)
	s = k.streams(tr, 400, 0, 0)
	s[1].value = steady(no, no, no, no)
	tr.run(0, 10, s...)
	tr.silent(t)
	watchful(t, tr, false)
}

// TestVibrationStepFloor: three times the sensor's own noise is the least that
// rings; that noise is learned while disarmed.
func TestVibrationStepFloor(t *testing.T) {
	for noise, rings := range map[float64]bool{0.1: true, 1.2: false} {
		tr := newTrial(NewVibrationStep(), heron)
		k := shakes{noise: noise, force: func(t float64) float64 { return sine(70, 0, 3*noise+1.5, 8)(t) }}
		s := k.streams(tr, 400, 0, 0)
		s[0].value = from(3, state(0, 0, 1, 0), state(1, 0, 1, 0.3))
		tr.run(0, 11, s...)
		assert.Equal(t, rings, len(tr.raised()) == 1, "%v: %s", noise, tr.list())
	}
}

func TestVibrationStepReset(t *testing.T) {
	tr := newTrial(NewVibrationStep(), heron)
	s := shakes{force: sine(70, 1, 4, 8), noise: 0.05}.streams(tr, 400, 0, 0)
	tr.run(0, 7.9, s...)
	tr.d.Reset()
	tr.run(7.9, 11, s...)
	tr.silent(t)
}
