package detect

import (
	"math"
	"strings"
	"testing"

	"tetherbell/decode"
)

// hover plays throttle and outputs through the detector.
func hover(tr *trial, hz, loss, from, to float64, thr func(float64) float64, out func(t float64, m int) float64, lift float64) {
	tr.run(from, to,
		stream{decode.State, 50, 0, loss, steady(state(1, 0, 1, 0.3)...)},
		stream{decode.Axes, max(hz, 50), 0.1, loss, func(t float64) []float64 { return []float64{0, 0, 0, 0, 0, 0, 0, 0, 0, thr(t)} }},
		stream{decode.Out, hz, 0.1, loss, func(t float64) []float64 {
			v := make([]float64, 4)
			for i := range v {
				v[i] = out(t, i)
			}
			return v
		}},
		stream{decode.Load, 50, 0, loss, steady(lift)})
}

func TestThrottleMismatch(t *testing.T) {
	bird := heron
	bird.IdleReady, bird.IdleLeast = 0.08, 0.10
	up := func(t float64) float64 { return 0.15 + rampAt(1, 0.2, 0.04)(t) } // 0.35 from 6 s on
	alike := func(t float64, _ int) float64 { return up(t) }
	for _, tt := range []struct {
		name  string
		thr   func(float64) float64
		out   func(float64, int) float64
		want  float64 // value, 0 silent
		cause string
	}{
		{"as before", up, alike, 0, ""},
		{"outputs rise under the limit", up, func(t float64, m int) float64 { return up(t) + rampAt(9, 0.145, 10)(t) }, 0, ""},
		{"and over it", up, func(t float64, m int) float64 { return up(t) + rampAt(9, 0.16, 10)(t) }, -0.16, "no longer follow"},
		{"outputs fall", up, func(t float64, m int) float64 { return up(t) - rampAt(9, 0.2, 10)(t) }, 0.2, "no longer follow"},
		{"pushed to the mixer's bounds", up, func(t float64, m int) float64 {
			return []float64{max(0.1, up(t)-rampAt(9, 0.7, 10)(t)), min(1, up(t)+rampAt(9, 0.7, 10)(t))}[m%2]
		}, -0.15, "bounds"},
		{"swings cut off at the bounds", up, func(t float64, m int) float64 {
			return max(0.1, up(t)+rampAt(9, 0.9, 10)(t)*float64(1-m%2*2)*math.Sin(2*math.Pi*7*t))
		}, 0, ""},
		{"throttle moves, outputs with it", func(t float64) float64 { return up(t) - rampAt(9, 0.2, 0.4)(t) },
			func(t float64, _ int) float64 { return up(t) - rampAt(9, 0.2, 0.4)(t) }, 0, ""},
		{"never seen at this throttle", func(t float64) float64 { return up(t) + rampAt(9, 0.4, 4)(t) },
			func(t float64, _ int) float64 { return up(t) + rampAt(9, 0.1, 4)(t) }, 0, ""},
		{"the throttle jumps where it never was", func(t float64) float64 { return up(t) + rampAt(9, 0.205, 4)(t) },
			func(t float64, _ int) float64 { return up(t) }, 0.205, "no longer follow"},
		{"the throttle falls where it never was", func(t float64) float64 { return 0.40 - rampAt(9, 0.205, 4)(t) },
			func(float64, int) float64 { return 0.40 }, -0.205, "no longer follow"},
		{"a craft of another slope goes where it never was", func(t float64) float64 { return 0.3 + rampAt(9, 0.2, 4)(t) },
			func(t float64, _ int) float64 { return 0.3 + 1.6*rampAt(9, 0.2, 4)(t) }, 0, ""},
		{"from idle at its bound", func(t float64) float64 { return 0.08 + rampAt(1, 0.06, 0.02)(t) + rampAt(9, 0.24, 4)(t) },
			func(t float64, _ int) float64 {
				return max(0.18, 1.3*(0.08+rampAt(1, 0.06, 0.02)(t)+rampAt(9, 0.24, 4)(t)))
			}, 0, ""},
		{"another gain from the start", up, func(t float64, _ int) float64 { return 0.05 + 1.4*up(t) }, 0, ""},
	} {
		for _, hz := range []float64{25, 50, 200, 1000} {
			for _, loss := range []float64{0, 0.05} {
				tr := newTrial(NewThrottleMismatch(), bird)
				hover(tr, hz, loss, 0, 13, tt.thr, tt.out, 3)
				if tt.want == 0 {
					if len(tr.said) > 0 {
						t.Errorf("%s at %v: said%s", tt.name, hz, tr.list())
					}
					continue
				}
				got := tr.one(t, Craft, Low, 9, 10.2)
				if math.Abs(got.value) < 0.15 || got.value*tt.want < 0 || !strings.Contains(got.story.Cause, tt.cause) {
					t.Errorf("%s at %v: %v %s", tt.name, hz, got, got.story.Cause)
				}
				if tr.d.Reset(); len(tr.d.Judge(&tr.b, nil)) > 0 {
					t.Error("Reset keeps the window")
				}
			}
		}
	}
}

// A throttle under idle while lift says otherwise.
func TestThrottleUnderIdle(t *testing.T) {
	bird := heron
	bird.IdleReady, bird.IdleLeast = 0.08, 0.10
	weight := 0.655 * gravity
	for _, tt := range []struct {
		thr, lift float64
		want      bool
	}{
		{0.05, 0.31 * weight, true}, {0.05, 0.30 * weight, false}, {0.08, 0.5 * weight, false}, {0.05, no, false}, {no, 0.5 * weight, false},
	} {
		tr := newTrial(NewThrottleMismatch(), bird)
		hover(tr, 100, 0.05, 0, 3, still(tt.thr), func(float64, int) float64 { return 0.4 }, tt.lift)
		if !tt.want {
			tr.silent(t)
			continue
		}
		got := tr.one(t, Craft, Low, 0.3, 0.5)
		near(t, "value", tt.thr-0.4, got.value, 1e-9)
		watchful(t, tr, true)
	}
	tr := newTrial(NewThrottleMismatch(), bird)
	watchful(t, tr, false)
}
