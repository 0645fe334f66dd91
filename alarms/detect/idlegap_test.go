package detect

import (
	"math"
	"strings"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

func TestIdleGapOfSettings(t *testing.T) {
	for _, tt := range []struct {
		ready, least float64
		want         bool
	}{
		{0.08, 0.10, false}, {0.08, 0.18, false}, {0.08, 0.181, true}, {0.08, 0.55, true}, {0.8, 0.1, false}, {0.08, 0, false}, {0, 0.55, false},
	} {
		for _, armed := range []float64{0, 1, no} {
			bird := heron
			bird.IdleReady, bird.IdleLeast = tt.ready, tt.least
			tr := newTrial(NewIdleGap(), bird)
			tr.run(0, 1, stream{decode.State, 50, 0, 0, steady(state(armed, 0, 1, 0)...)})
			if !tt.want {
				tr.silent(t)
				continue
			}
			got := tr.one(t, Craft, Medium, 0, 0.01)
			near(t, "value", tt.least-tt.ready, got.value, 1e-12)
			near(t, "limit", 0.10, got.limit, 0)
			if !strings.Contains(got.story.Text, "from 0.08 to 0.") {
				t.Error(got.story.Text)
			}
			action := "disarm; " // nobody knows
			switch armed {
			case 0:
				action = "do not arm; "
			case 1:
				action = "cut throttle; disarm; "
			}
			if want := action + "set idle_least nearer to idle_ready"; got.story.Action != want {
				t.Errorf("%q, want %q", got.story.Action, want)
			}
		}
	}
}

// What the craft reports counts, whatever its file believes: it flies by its
// own settings.
func TestIdleGapGoesByTheCraft(t *testing.T) {
	bird := heron
	bird.IdleReady, bird.IdleLeast = 0.08, 0.10
	tr := newTrial(NewIdleGap(), bird)
	tr.word = []byte("idle_least")
	tr.run(0, 1, stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0)...)})
	tr.silent(t)
	tr.run(1, 2, stream{decode.Set, 1, 0, 0, steady(0.55)}, stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0)...)})
	near(t, "value", 0.47, tr.one(t, Craft, Medium, 1, 1.05).value, 1e-12)
}

// touch plays armed idle and the first touch of the stick at 3 s.
func touch(c craft.Craft, hz, loss float64, stick func(float64) float64, out, lift, erpm func(t float64) float64) *trial {
	tr := newTrial(NewIdleGap(), c)
	tr.run(0, 1, stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0)...)})
	streams := []stream{{decode.State, min(hz, 50), 0, loss, func(t float64) []float64 { return state(1, 0, 1, stick(t)) }}}
	if out != nil {
		streams = append(streams, stream{decode.Out, hz, 0, loss, func(t float64) []float64 { return all4(out(t)) }})
	}
	if lift != nil {
		streams = append(streams, stream{decode.Load, min(hz, 100), 0, loss, func(t float64) []float64 { return []float64{lift(t)} }})
	}
	if erpm != nil {
		streams = append(streams, stream{decode.ERPM, min(hz, 200), 0, loss, func(t float64) []float64 { return all4(erpm(t)) }})
	}
	tr.run(1, 6, streams...)
	return tr
}

func TestIdleGapMeasured(t *testing.T) {
	weight := 0.655 * gravity
	step := func(at, a, b float64) func(float64) float64 {
		return func(t float64) float64 { return a + rampAt(at, 1, 12)(t)*(b-a) } // rotors follow within 80 ms
	}
	slow := rampAt(3, 0.05, 0.05)
	// Speeds at which four rotors of 178 mm with three blades carry a share of
	// the weight, by the law of thrust.go: electrical rev/min of 14 poles.
	speed := func(share float64) float64 { return speedOf(share * weight) }
	for _, tt := range []struct {
		name            string
		stick           func(float64) float64
		out, lift, erpm func(float64) float64
		want            float64
		evidence        string
	}{
		{"small", slow, step(3.2, 0.08, 0.10), step(3.2, 0.1, 0.15), nil, 0, ""},
		{"output under the limit", slow, step(3.2, 0.08, 0.175), nil, nil, 0, ""},
		{"output", slow, step(3.2, 0.08, 0.3), nil, nil, 0.21, "output"},
		{"lift under the limit", slow, nil, step(3.2, 0.1, 0.1+0.29*weight), nil, 0, ""},
		{"lift", slow, nil, step(3.2, 0.1, 0.1+0.33*weight), nil, 0.33, "lift"},
		{"speed under the limit", slow, nil, nil, step(3.2, speed(0.02), speed(0.30)), 0, ""},
		{"speed", slow, nil, nil, step(3.2, speed(0.02), speed(0.40)), 0.38, "rotor speed"},
		{"the stick asked for it", rampAt(3, 0.4, 4), func(t float64) float64 { return 0.08 + 0.02 + rampAt(3, 0.4, 4)(t) }, step(3.05, 0.1, 0.6*weight), nil, 0, ""},
		{"slowly asked for it", rampAt(3, 0.4, 0.2), func(t float64) float64 { return 0.09 + rampAt(3, 0.4, 0.2)(t) }, func(t float64) float64 { return weight * rampAt(3.4, 0.6, 0.6)(t) }, nil, 0, ""},
		{"nobody touched it", still(0), step(3.2, 0.08, 0.3), step(3.2, 0.1, 0.5*weight), nil, 0, ""},
		{"the stick rests off zero", still(0.04), step(3.2, 0.08, 0.3), step(3.2, 0.1, 0.5*weight), nil, 0, ""},
	} {
		for _, hz := range []float64{25, 50, 200} {
			for _, loss := range []float64{0, 0.05} {
				tr := touch(heron, hz, loss, tt.stick, tt.out, tt.lift, tt.erpm)
				if tt.want == 0 {
					if len(tr.said) > 0 {
						t.Errorf("%s at %v: said%s", tt.name, hz, tr.list())
					}
					continue
				}
				got := tr.one(t, Craft, Medium, 3.2, 3.5)
				f := tr.d.Judge(&tr.b, nil)
				if len(f) != 1 || f[0].Value < tt.want-0.02 || f[0].Value > tt.want+0.02 {
					t.Errorf("%s at %v: %v", tt.name, hz, f)
				}
				if got.story.More[len(got.story.More)-1].Value != tt.evidence {
					t.Errorf("%s: %v", tt.name, got.story.More)
				}
				tr.run(6, 8, stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0)...)})
				if len(tr.up) > 0 {
					t.Errorf("%s: disarmed, and still up", tt.name)
				}
			}
		}
	}
}

// speedOf is the electrical speed that makes a lift with the propellers of
// heron, by C_T = T/(rho n^2 D^4) with C_T 0.115 times 1.2 for a third blade
// (UIUC Propeller Database as in thrust.go), worked out here.
func speedOf(lift float64) float64 {
	k := 1.2250 * 0.115 * 1.2 * 0.178 * 0.178 * 0.178 * 0.178
	return math.Sqrt(lift/4/k) * 60 * 7
}

func TestIdleGapMissingAndReset(t *testing.T) {
	tr := newTrial(NewIdleGap(), heron)
	watchful(t, tr, false)
	tr.run(0, 1, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0)...)}, stream{decode.Out, 50, 0, 0, steady(all4(0.08)...)})
	watchful(t, tr, true)
	bird := heron
	bird.IdleReady, bird.IdleLeast = 0.08, 0.10
	watchful(t, newTrial(NewIdleGap(), bird), true)
	tr = touch(heron, 200, 0, rampAt(3, 0.05, 0.05), func(t float64) float64 { return 0.08 + rampAt(3.2, 0.3, 10)(t) }, nil, nil)
	tr.one(t, Craft, Medium, 3.2, 3.4)
	if tr.d.Reset(); len(tr.d.Judge(&tr.b, nil)) > 0 {
		t.Error("Reset keeps the step")
	}
}
