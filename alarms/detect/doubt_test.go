package detect

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A spinUp is a bench whose throttle follows a course; full makes twice the
// weight.
type spinUp struct {
	course func(t float64) float64 // outputs
	hz     float64                 // of load lines
	noise  float64                 // N, of one line
	lag    float64                 // s, of the cells
	extra  func(t float64) float64 // N, what the cells show beside the lift
	factor float64                 // of lift in the lines: -1 with swapped wires
	turns  float64                 // erpm at full output; 0: no erpm lines come
	mute   bool                    // no state lines
	tips   float64                 // it turns over then, and presses down
	reset  float64                 // the bridge restarts then
}

const (
	heronN     = 0.655 * gravity
	heronTurns = 57_700 // by the published law: 4 * 1.70e-4 N / (rev/s)^2
)

// runSpin feeds near-lift with it, armed from 1 s to the end, and returns when
// lift was first in doubt, -1 never.
func runSpin(c *craft.Craft, s spinUp, seconds float64, seed uint64) (*trial, float64) {
	rng := rand.New(rand.NewPCG(seed, 3))
	tr := newTrial(NewNearLift(), *c)
	doubt := -1.0
	lifts := func(t float64) float64 {
		o := s.course(t - s.lag)
		v := 2 * heronN * o * o * s.factor
		if s.tips > 0 && t >= s.tips {
			v = -v
		}
		if s.extra != nil {
			v += s.extra(t)
		}
		return v + s.noise*rng.NormFloat64()
	}
	streams := []stream{
		{decode.Out, 100, 0.2, 0.02, func(t float64) []float64 { return all4(s.course(t)) }},
		{decode.Load, s.hz, 0.2, 0.02, func(t float64) []float64 {
			if tr.b.Doubt[decode.Load] != "" && doubt < 0 {
				doubt = t
			}
			return []float64{lifts(t)}
		}},
	}
	if s.turns > 0 {
		streams = append(streams, stream{decode.ERPM, 50, 0.2, 0.02, func(t float64) []float64 { return all4(s.turns * s.course(t-0.05)) }})
	}
	if s.tips > 0 {
		streams = append(streams, stream{decode.Axes, 200, 0, 0, func(t float64) []float64 {
			rate := 3.0
			if t >= s.tips && t < s.tips+0.3 {
				rate = 600
			}
			return []float64{rate, 0, 0, 0, 0, 0, 0, 0, 0, 0}
		}})
	}
	if !s.mute {
		streams = append(streams, stream{decode.State, 20, 0, 0.02, func(t float64) []float64 {
			if t < 1 {
				return state(0, 0, 1, 0)
			}
			return state(1, 0, 1, 0.5)
		}})
	}
	if s.reset > 0 {
		tr.run(0, s.reset, streams...)
		tr.doubt.Restart(^uint32(0))
		tr.run(s.reset, seconds, streams...)
	} else {
		tr.run(0, seconds, streams...)
	}
	return tr, doubt
}

// opening idles from 1 s on, and opens the throttle from one time to another.
func opening(from, to, top float64) func(float64) float64 {
	return func(t float64) float64 {
		if t < 1 {
			return 0
		}
		return 0.05 + (top-0.05)*min(1, max(0, (t-from)/(to-from)))
	}
}

// never is when no doubt comes.
const never = -1

func onStand() craft.Craft {
	c := heron
	c.Hold, c.HoldRatedN, c.MassG = craft.Stand, 40, 0
	return c
}

// liftCases are benches wired right and wrong.
var liftCases = []struct {
	name     string
	craft    craft.Craft
	s        spinUp
	from, to float64 // in doubt then
}{
	{"sound", heron, spinUp{course: opening(4, 6, 0.6), factor: 1}, never, 0},
	{"swapped", heron, spinUp{course: opening(4, 6, 0.6), factor: -1}, 5, 7.5},
	{"swapped, by speeds, nothing known of the craft", craft.Craft{Hold: craft.Tether, Motors: 4}, spinUp{course: opening(4, 6, 0.6), factor: -1, turns: heronTurns}, 5, 7.5},
	{"swapped, cells without any noise", heron, spinUp{course: opening(4, 4.2, 0.6), factor: -1, noise: 1e-12}, 4.5, 7.5},
	{"swapped, on a stand, mass not known", onStand(), spinUp{course: opening(4, 6, 0.6), factor: -1}, 5, 7.5},
	{"swapped, ten lines a second that lag", heron, spinUp{course: opening(4, 6, 0.6), factor: -1, hz: 10, lag: 0.4}, 5, 8.5},
	{"swapped, at a step", heron, spinUp{course: opening(4, 4.1, 0.6), factor: -1}, 4.5, 6},
	{"swapped, in a minute", heron, spinUp{course: opening(4, 64, 0.7), factor: -1}, 10, 40},
	{"swapped, noise of a tenth of the weight", heron, spinUp{course: opening(4, 6, 0.6), factor: -1, noise: 0.6}, 5, 12},
	{"swapped, no state lines", heron, spinUp{course: opening(4, 6, 0.6), factor: -1, mute: true}, 5, 7.5},
	{"swapped, never over idle", heron, spinUp{course: opening(4, 6, 0.06), factor: -1}, never, 0},
	{"swapped, under a tenth of the weight", heron, spinUp{course: opening(4, 6, 0.2), factor: -1}, never, 0},
	{"swapped, over a tenth of the weight", heron, spinUp{course: opening(4, 6, 0.26), factor: -1}, 5, 9},
	{"swapped, tared wrong", heron, spinUp{course: opening(4, 6, 0.6), factor: -1, extra: func(float64) float64 { return 8 }}, 5, 7.5},
	{"nothing on the cells", heron, spinUp{course: opening(4, 6, 0.6), factor: 0}, never, 0},
	{"sound, blips of the throttle, cells lag", heron, spinUp{factor: 1, hz: 10, lag: 0.4, course: func(t float64) float64 {
		return 0.05 + 0.25*max(0, math.Copysign(1, math.Sin(2*math.Pi*t)))*min(1, max(0, t-1))
	}}, never, 0},
	{"sound, falls on its back under full lift", heron, spinUp{course: opening(4, 6, 0.6), factor: 1, extra: func(t float64) float64 {
		if t < 8 {
			return 0
		}
		return -4 * heronN * 0.36 // from where it was to as much downwards
	}}, never, 0},
	{"sound, on its back as soon as it lifts", heron, spinUp{course: opening(4, 6, 0.6), factor: 1, tips: 4.6}, never, 0},
	{"swapped, and nothing turns", heron, spinUp{course: opening(4, 6, 0.6), factor: -1, tips: 60}, 5, 7.5},
	{"sound, on its back, and the throttle opens on", heron, spinUp{factor: 1, course: func(t float64) float64 {
		return opening(4, 6, 0.45)(t) + max(0, opening(8, 12, 0.3)(t)-0.05)
	}, extra: func(t float64) float64 {
		if t < 8 {
			return 0
		}
		o := opening(4, 6, 0.45)(t) + max(0, opening(8, 12, 0.3)(t)-0.05)
		return -4 * heronN * o * o
	}}, never, 0},
	{"sound, throttle to and fro, cells lag by half of it", heron, spinUp{factor: 1, hz: 10, lag: 0.4, course: func(t float64) float64 {
		return min(1, max(0, t-1)) * (0.35 + 0.15*math.Sin(2*math.Pi*1.25*t))
	}}, never, 0},
	{"sound, throttle jumps to and fro, cells lag by half of it", heron, spinUp{factor: 1, hz: 10, lag: 0.4, course: func(t float64) float64 {
		return min(1, max(0, 2*(t-1))) * (0.35 + 0.15*math.Copysign(1, math.Sin(2*math.Pi*0.97*t)))
	}}, never, 0},
	{"sound, trembles between pulses, cells lag", heron, spinUp{factor: 1, hz: 10, lag: 0.4, course: func(t float64) float64 {
		if t > 2 && math.Mod(t, 4) < 0.5 {
			return 0.9
		}
		return min(1, max(0, 3*(t-1))) * (0.35 + 0.05*math.Sin(2*math.Pi*1.25*t))
	}}, never, 0},
	{"sound, a knock after a step", heron, spinUp{course: opening(4, 4.05, 0.4), factor: 1, extra: func(t float64) float64 {
		if t > 4.45 && t < 4.85 {
			return -12
		}
		return 0
	}}, never, 0},
	{"sound, opened little in a minute, cells drift", heron, spinUp{factor: 1, course: opening(4, 60, 0.2), extra: func(t float64) float64 {
		return -3.0 / 60 * t
	}}, never, 0},
	{"sound, hardly moved, cells drift fast", heron, spinUp{factor: 1, course: func(t float64) float64 {
		return opening(4, 6, 0.15)(t) + 0.0005*max(0, t-6)
	}, extra: func(t float64) float64 { return -4.5 / 60 * t }}, never, 0},
	{"sound, a hand at it before it is armed", heron, spinUp{course: opening(4, 6, 0.6), factor: 1, extra: func(t float64) float64 {
		if t < 0.9 {
			return 30
		}
		return 0
	}}, never, 0},
}

func TestLiftInDoubt(t *testing.T) {
	for _, tt := range liftCases {
		t.Run(tt.name, func(t *testing.T) {
			if tt.s.hz == 0 {
				tt.s.hz = 50
			}
			if tt.s.noise == 0 {
				tt.s.noise = 0.02
			}
			tr, at := runSpin(&tt.craft, tt.s, 70, 1)
			switch {
			case tt.from == never && at >= 0:
				t.Errorf("in doubt at %.2f s", at)
			case tt.from != never && (at < tt.from || at > tt.to):
				t.Errorf("in doubt at %.2f s, want %.2f to %.2f", at, tt.from, tt.to)
			}
			if tt.from == never {
				return
			}
			for _, d := range []Detector{NewNearLift(), NewHoldLost()} {
				if got, why := d.Missing(&tr.b), liftFalls; got != why && tt.craft.Name != "" {
					t.Errorf("%s: %q", d.Kind(), got)
				}
			}
			if got := tr.d.(*nearLift).Reach(&tr.b, nil); len(got) > 0 {
				t.Error("a gauge of what is not watched")
			}
		})
	}
}

// The law: whatever a person does with the throttle, and however cells tremble,
// drift by three newtons in a minute and stand off nought by five, and gusts pull
// by a twentieth of the weight: lift that rises with thrust is never in doubt, and
// lift that falls with it is in the end, but where the throttle is never held; so
// is lift in kilograms, where there are speeds, and no noise alone without.
func TestLiftInDoubtLaw(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 9))
		from := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
		var at, out []float64
		for when := 3.0; when < 40; when += from(0.3, 6) {
			at, out = append(at, when), append(out, from(0.05, 0.7))
		}
		at, out = append(at, 41), append(out, 0.5)
		rise := from(0.05, 3)
		course := func(t float64) float64 {
			if t < 1 {
				return 0
			}
			v := 0.05
			for i := range at {
				if t >= at[i] {
					v += (out[i] - v) * min(1, (t-at[i])/rise)
				}
			}
			return v
		}
		blips := seed%4 == 3 // too short to tell anything by
		if each, share, top := from(0.2, 2), from(0.1, 0.9), from(0.1, 0.7); blips {
			course = func(t float64) float64 {
				if t > 2 && math.Mod(t, each) < share*each {
					return top
				}
				return 0.05
			}
		}
		off, drift, gust, each := from(-5, 5), from(-3, 3)/60, from(0, heronN/20), from(0.05, 1.5)
		extra := func(t float64) float64 { return off + drift*t + gust*math.Sin(2*math.Pi*each*t) }
		s := spinUp{
			course: course, hz: from(10, 100), noise: from(0, 0.3), lag: from(0, 0.4),
			extra: extra, factor: 1, turns: float64(seed%2) * heronTurns * from(0.9, 1.6), mute: seed%3 == 0,
		}
		if tr, when := runSpin(&heron, s, 50, seed); when >= 0 || tr.b.Doubt[decode.ERPM] != "" {
			t.Errorf("seed %d: sound, in doubt at %.2f s; speeds: %q", seed, when, tr.b.Doubt[decode.ERPM])
		}
		kg, newtons := s, s
		kg.factor, kg.noise = 0.102, 0.102*s.noise
		kg.extra = func(t float64) float64 { return 0.102 * extra(t) }
		if _, when := runSpin(&heron, kg, 50, seed); (when >= 0) != (s.turns > 0) && !blips {
			t.Errorf("seed %d: in kilograms, speeds to %.0f, in doubt at %.2f s", seed, s.turns, when)
		}
		s.noise = from(0, 8)
		if _, when := runSpin(&heron, s, 50, seed); when >= 0 {
			t.Errorf("seed %d: sound, noise %.2f N, in doubt at %.2f s", seed, s.noise, when)
		}
		s.factor, s.extra, s.turns = 0, nil, 0
		if _, when := runSpin(&heron, s, 50, seed); when >= 0 {
			t.Errorf("seed %d: no lift, noise %.2f N, in doubt at %.2f s", seed, s.noise, when)
		}
		s = newtons
		s.factor = -1
		if _, when := runSpin(&heron, s, 50, seed); when < 0 && !blips {
			t.Errorf("seed %d: swapped, never in doubt", seed)
		}
	}
}

// Lift that is far less than the speeds mean is in doubt, whatever it is; as much
// as a propeller or a pole count may be off it is not.
func TestLiftTooLittle(t *testing.T) {
	poles := func(n int) craft.Craft {
		c := heron
		c.Poles = n
		return c
	}
	small := heron
	small.DiameterMM = 0
	for _, tt := range []struct {
		name   string
		craft  craft.Craft
		factor float64
		turns  float64
		want   string
	}{
		{"sound", heron, 1, heronTurns, ""},
		{"kilograms", heron, 0.102, heronTurns, liftLittle},
		{"kilograms, wires swapped", heron, -0.102, heronTurns, liftLittle},
		{"kilograms, little throttle", heron, 0.102, 0.45 * heronTurns, ""},
		{"kilograms, no speeds", heron, 0.102, 0, ""},
		{"kilograms, poles not known", poles(0), 0.102, heronTurns, ""},
		{"kilograms, propeller not known", small, 0.102, heronTurns, ""},
		{"cells unplugged", heron, 0, heronTurns, liftLittle},
		{"swapped", heron, -1, heronTurns, liftFalls},
		{"under a sixth", heron, 0.15, heronTurns, liftLittle},
		{"over a sixth", heron, 0.19, heronTurns, ""},
		{"half of the thrust", heron, 0.5, heronTurns, ""},
		{"a pole pair wrong", poles(12), 1, heronTurns, ""},
		{"twice the poles", poles(28), 1, heronTurns, ""},
		{"half of the poles on a fine propeller", poles(8), 0.6, heronTurns, ""},
		{"a third of the speed", heron, 1, heronTurns / 3.05, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr, at := runSpin(&tt.craft, spinUp{course: opening(4, 6, 0.6), factor: tt.factor, turns: tt.turns, hz: 50, noise: 0.02}, 20, 1)
			if got := tr.b.Doubt[decode.Load]; got != tt.want {
				t.Errorf("got %q", got)
			}
			if got := tr.b.Doubt[decode.ERPM]; got != "" {
				t.Errorf("speeds: %q", got)
			}
			if tt.want != "" && (at < 5 || at > 8) {
				t.Errorf("in doubt at %.2f s", at)
			}
			if got := NewHoldLost().Missing(&tr.b); got != tt.want {
				t.Errorf("hold-lost: %q", got)
			}
		})
	}
}

// Speeds that are far too slow for the lift are in doubt, and lift is not; then
// rotor-line is not watched, and no rotor's line is where they say.
func TestSpeedTooLittle(t *testing.T) {
	for _, tt := range []struct {
		name  string
		turns float64
		want  string
	}{
		{"the shaft's", heronTurns / 7, speedLittle},
		{"hundreds", heronTurns / 100, speedLittle},
		{"under a third", heronTurns / 3.4, speedLittle},
		{"over a third", heronTurns / 3.05, ""},
		{"sound", heronTurns, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr, at := runSpin(&heron, spinUp{course: opening(4, 6, 0.6), factor: 1, turns: tt.turns, hz: 50, noise: 0.02}, 20, 1)
			if got := tr.b.Doubt[decode.ERPM]; got != tt.want || at >= 0 {
				t.Errorf("got %q, lift in doubt at %g", got, at)
			}
			lines := newSpeeds(10, 0)
			if lines.set(&tr.b); lines.known(tr.b.Now) != (tt.want == "") {
				t.Error("speeds in doubt tell of no line")
			}
			tr.b.Streams[decode.Axes] = Stream{Count: 100, Period: 500, Steady: true}
			if got := NewRotorLine().Missing(&tr.b); got != tt.want {
				t.Errorf("rotor-line: %q", got)
			}
			if got := NewNearLift().Missing(&tr.b); got != "" {
				t.Errorf("near-lift: %q", got)
			}
		})
	}
}

// What was found outlives a restart of the bridge in mid-run, and ends where lift
// is seen to rise in a later run.
func TestLiftDoubtLasts(t *testing.T) {
	tr, at := runSpin(&heron, spinUp{course: opening(4, 6, 0.6), factor: -1, hz: 50, noise: 0.02, reset: 10}, 20, 1)
	if at < 0 || tr.b.Doubt[decode.Load] == "" {
		t.Fatal("a restart must not take it back")
	}
	later := func(lift func(t float64) float64, from, to float64) {
		tr.run(from, to, stream{decode.State, 20, 0, 0, func(t float64) []float64 {
			if t < from+2 {
				return state(0, 0, 1, 0)
			}
			return state(1, 0, 1, 0.3)
		}}, stream{decode.Out, 100, 0, 0, func(t float64) []float64 { return all4(opening(4, 6, 0.6)(t - from - 1)) }},
			stream{decode.Load, 50, 0, 0, func(t float64) []float64 { return []float64{lift(t - from - 1)} }})
	}
	later(func(t float64) float64 { return -2 * heronN * opening(4, 6, 0.6)(t) * opening(4, 6, 0.6)(t) }, 20, 32)
	if tr.b.Doubt[decode.Load] == "" {
		t.Error("a second run that shows the same takes nothing back")
	}
	later(func(t float64) float64 { return 2 * heronN * opening(4, 6, 0.6)(t) * opening(4, 6, 0.6)(t) }, 32, 44)
	if got := tr.b.Doubt[decode.Load]; got != "" {
		t.Errorf("wired right, still %q", got)
	}
}

// Where lift alone shows thrust, those that live on it say so too; where outputs
// or speeds do, they go on by these.
func TestLiftDoubtOfOthers(t *testing.T) {
	for _, out := range []bool{false, true} {
		b := newTrial(NewNearLift(), heron).b
		b.Craft.Poles = 0 // the speeds mean no lift
		b.Armed, b.Ground = Yes, Yes
		b.Stick[0], b.Thr, b.Load = Reading{OK: true}, Reading{OK: true}, Reading{V: -3, OK: true}
		b.Doubt[decode.Load] = liftFalls
		want := liftFalls
		for i := range 4 {
			b.Out[i] = Reading{V: 0.3, OK: out}
		}
		if out {
			want = ""
		}
		for _, d := range []Detector{NewGroundThrust(), NewIdleGap(), NewThrottleMismatch()} {
			if got := d.Missing(&b); got != want {
				t.Errorf("outputs %v: %s: %q", out, d.Kind(), got)
			}
		}
		b.Doubt[decode.Load] = ""
		for _, d := range []Detector{NewGroundThrust(), NewIdleGap(), NewThrottleMismatch()} {
			if got := d.Missing(&b); got != "" {
				t.Errorf("sound, outputs %v: %s: %q", out, d.Kind(), got)
			}
		}
	}
}

func TestDoubtsAllocateNothing(t *testing.T) {
	tr, _ := runSpin(&heron, spinUp{course: opening(4, 6, 0.6), factor: -1, hz: 50}, 5, 1)
	tr.b.Force = [3]Reading{{OK: true}, {OK: true}, {V: -1, OK: true}}
	at := tr.b.Now
	if n := testing.AllocsPerRun(2000, func() {
		at += 10_000
		tr.b.Now = at
		for _, tag := range [...]decode.Tag{decode.Out, decode.Load, decode.Accel, decode.Axes} {
			tr.doubt.See(&tr.b, tag, at)
		}
	}); n > 0 {
		t.Errorf("%v allocations", n)
	}
}

// Whoever reads that values are in doubt reads what to do first: thrust away, then
// hands.
func TestDoubtsHaveAnAct(t *testing.T) {
	for _, why := range []string{liftFalls, liftLittle, speedLittle, offLight, offOpen, gyroStill} {
		if !strings.HasPrefix(ActOn(why), "ease off, disarm; check ") {
			t.Errorf("%s: %q", why, ActOn(why))
		}
	}
	for _, why := range []string{"no motor outputs", ""} {
		if ActOn(why) != "" {
			t.Errorf("%q: %q", why, ActOn(why))
		}
	}
}
