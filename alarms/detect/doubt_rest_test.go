package detect

import (
	"math/rand/v2"
	"strings"
	"testing"

	"tetherbell/decode"
)

// What the cells show while nothing turns is no lift, unless somebody has the craft
// in hand.
func TestRestInDoubt(t *testing.T) {
	w := heronN
	small := steady(all4(0)...)
	for _, tt := range []struct {
		name    string
		armed   float64
		ground  float64
		lift    func(float64) []float64
		out     func(float64) []float64
		turns   float64 // electrical, of all rotors; -1: no erpm lines
		rate    float64
		seconds float64
		begins  string // "" for no doubt
	}{
		{"tared", 0, 1, steady(0.02), small, 0, 0, 4, ""},
		{"4 N too little", 0, 1, steady(-4), small, 0, 0, 4, notTared + "-4.0 N"},
		{"a little too little", 0, 1, steady(-0.11 * w), small, 0, 0, 4, notTared},
		{"under that", 0, 1, steady(-0.09 * w), small, 0, 0, 4, ""},
		{"too little, off the ground", 0, 0, steady(-4), small, 0, 0, 4, notTared},
		{"4 N too much", 0, 1, steady(4), small, 0, 0, 4, "load is +4.0 N with all rotors standing: is it tared"},
		{"lifted off the stand", 0, 0, steady(w), small, 0, 0, 4, ""},
		{"off the ground for longer", 0, 0, steady(w), small, 0, 0, 7, "load is +6.4 N with all rotors standing: off the ground"},
		{"a part of it", 0, 0, steady(0.5 * w), small, 0, 0, 7, "load is +3.2 N with all rotors standing: off the ground"},
		{"carried for longer", 0, 0, steady(w), small, 0, 40, 12, ""},
		{"handled", 0, 0, func(t float64) []float64 { return []float64{w - 2*float64(int(t/3)%2)} }, small, 0, 0, 12, ""},
		{"carried, its own word wrong", 0, 1, steady(w), small, 0, 40, 4, ""},
		{"set down by turns", 0, 1, func(t float64) []float64 { return []float64{-2 + 1.5*float64(int(t)%2)} }, small, 0, 0, 8, ""},
		{"a tether that pulls by turns", 0, 1, func(t float64) []float64 { return []float64{1 + 1.5*float64(int(t)%2)} }, small, 0, 0, 8, ""},
		{"too short", 0, 1, steady(-4), small, 0, 0, 1.4, ""},
		{"armed", 1, 1, steady(-4), small, 0, 0, 4, ""},
		{"armed or not: not known", no, 1, steady(-4), small, 0, 0, 4, ""},
		{"an output", 0, 1, steady(-4), steady(0, 0, 0.1, 0), 0, 0, 4, ""},
		{"one the craft does not count", 0, 1, steady(-4), steady(0, 0, 0, 0, 0.1), 0, 0, 4, ""},
		{"rotors turn", 0, 1, steady(-4), small, 9000, 0, 4, ""},
		{"no speeds", 0, 1, steady(-4), small, -1, 0, 6, notTared},
		{"neither outputs nor speeds", 0, 1, steady(-4), steady(all4(no)...), -1, 0, 6, ""},
		{"no lift", 0, 1, steady(no), small, 0, 0, 4, ""},
	} {
		for _, hz := range []float64{10, 100} {
			tr := newTrial(NewNearLift(), heron)
			streams := []stream{
				{decode.State, 20, 0, 0, steady(state(tt.armed, 0, tt.ground, 0)...)}, {decode.Out, 50, 0, 0, tt.out},
				{decode.Axes, 100, 0, 0, steady(tt.rate, 0, 0, 0, 0, 0, 0, 0, 0, 0)}, {decode.Load, hz, 0.2, 0.02, tt.lift},
			}
			if tt.turns >= 0 {
				streams = append(streams, stream{decode.ERPM, 50, 0, 0, steady(all4(tt.turns)...)})
			}
			tr.run(0, tt.seconds, streams...)
			got := tr.b.Doubt[decode.Load]
			if (got == "") != (tt.begins == "") || !strings.HasPrefix(got, tt.begins) {
				t.Errorf("%s: %q", tt.name, got)
			}
			act := tareAct
			if strings.Contains(got, "off the ground") {
				act = holdAct
			}
			if got != "" && ActOn(got) != act {
				t.Errorf("%s: %q", tt.name, ActOn(got))
			}
		}
	}
}

// Cells that are known to show too little do not keep near-lift quiet; those that
// show too much are believed; and once they are tared all is as before.
func TestNearLiftOfAStandNotTared(t *testing.T) {
	for _, tt := range []struct {
		name string
		off  float64
		up   float64 // true lift over the weight
		want Priority
	}{
		{"4 N too little", -4, 0.95, High}, {"and far from it", -4, 0.5, None}, {"too much", 2, 0.65, High}, {"tared", 0, 0.65, None},
	} {
		tr := newTrial(NewNearLift(), heron)
		feed := func(from, to, armed, ground, lift, out float64) {
			tr.run(from, to, stream{decode.State, 20, 0, 0, steady(state(armed, 0, ground, 0)...)}, stream{decode.Out, 50, 0, 0, steady(all4(out)...)},
				stream{decode.ERPM, 50, 0, 0, steady(all4(40000 * out)...)}, stream{decode.Load, 50, 0, 0, steady(lift)})
		}
		feed(0, 3, 0, 1, tt.off, 0)
		feed(3, 4, 1, 1, tt.off+tt.up*heronN, 0.5)
		if tt.want == None {
			tr.silent(t)
		} else if got := tr.one(t, Craft, tt.want, 3, 3.2); tt.off < 0 && !strings.Contains(got.story.Text, " shown, not tared) is ") {
			t.Errorf("%s: %q", tt.name, got.story.Text)
		}
		feed(4, 7, 0, 1, 0.01, 0)
		if tr.b.Rest != 0 || tr.b.Doubt[decode.Load] != "" {
			t.Errorf("%s: tared, and %.1f N, %q", tt.name, tr.b.Rest, tr.b.Doubt[decode.Load])
		}
		feed(7, 9, 0, 1, -20, 0) // a box that is put down
		feed(9, 9.6, 0, 1, 0, 0) // and taken away
		feed(9.6, 11, 1, 1, 0.3*heronN, 0.3)
		if tr.b.Rest != 0 || len(tr.up) > 0 {
			t.Errorf("%s: what is gone counts: %.1f N, %v", tt.name, tr.b.Rest, tr.up)
		}
	}
}

// TestTremblingCellsAreTared: 0.3 N of noise on a craft of 2 N, at the slowest pace, for
// an hour; and it hides no stand that is not tared.
func TestTremblingCellsAreTared(t *testing.T) {
	c := heron
	c.MassG = 204
	for _, off := range []float64{0, -0.8} {
		tr, doubts, rng := newTrial(NewNearLift(), c), 0, rand.New(rand.NewPCG(1, 2))
		tr.run(0, 3600, stream{decode.State, 10, 0, 0, steady(state(0, 0, 1, 0)...)}, stream{decode.Out, 25, 0, 0, steady(all4(0)...)},
			stream{decode.Load, 10, 0, 0, func(float64) []float64 {
				if tr.b.Doubt[decode.Load] != "" {
					doubts++
				}
				return []float64{off + rng.NormFloat64()*0.3}
			}})
		if (off == 0) != (doubts == 0) || off != 0 && doubts < 35_900 {
			t.Errorf("off by %g N: %d lines in doubt", off, doubts)
		}
	}
}

// A craft that says that it has left the ground, far from lifting its weight.
func TestOffGroundInDoubt(t *testing.T) {
	standing, free := heron, heron
	standing.Hold, standing.HoldRatedN, free.Hold = "stand", 40, "free"
	ramp := func(t float64) float64 { return min(1.5, max(0.05, (t-2)/4)) } // of the true weight, 1 at 6 s
	for _, tt := range []struct {
		name   string
		times  float64 // of its mass the craft file says
		ground func(t float64) float64
		lift   func(t float64) float64
		craft  int // 0 tether, 1 stand, 2 free
		from   float64
		until  float64 // 0: never in doubt
	}{
		{"sound", 1, func(t float64) float64 { return below(t, 6) }, ramp, 0, 0, 0},
		{"ten times its mass", 10, func(t float64) float64 { return below(t, 6) }, ramp, 0, 6.3, 6.6},
		{"twice its mass", 2, func(t float64) float64 { return below(t, 6) }, ramp, 0, 6.3, 6.6},
		{"ten times, on a stand", 10, func(t float64) float64 { return below(t, 6) }, ramp, 1, 0, 0},
		{"ten times, free", 10, func(t float64) float64 { return below(t, 6) }, ramp, 2, 0, 0},
		{"off for a moment", 10, func(t float64) float64 { return below(t, 6) + 1 - below(t, 6.2) }, ramp, 0, 0, 0},
		{"its own word goes by arming", 1, func(t float64) float64 { return below(t, 1) }, ramp, 0, 0, 0},
		{"hung on a taut tether", 1, func(float64) float64 { return 0 }, ramp, 0, 0, 0},
		{"its word is not known", 10, func(float64) float64 { return no }, ramp, 0, 0, 0},
		{"lift falls, its word is late", 1, func(t float64) float64 { return below(t, 6) + 1 - below(t, 10) },
			func(t float64) float64 { return ramp(t) - max(0, 1.2*(1-below(t, 8))) }, 0, 0, 0},
	} {
		c := heron
		switch tt.craft {
		case 1:
			c = standing
		case 2:
			c = free
		}
		c.MassG *= tt.times
		tr, when := newTrial(NewNearLift(), c), 0.0
		tr.run(0, 12, stream{decode.State, 20, 0, 0, func(t float64) []float64 { return state(1-below(t, 1), 0, tt.ground(t), 0.4) }},
			stream{decode.Out, 50, 0, 0, func(t float64) []float64 { return all4(0.08 + 0.3*(1-below(t, 2.5))) }},
			stream{decode.Load, 50, 0, 0, func(t float64) []float64 {
				if when == 0 && tr.b.Doubt[decode.Load] != "" {
					when = t
				}
				return []float64{tt.lift(t) * heronN}
			}})
		if when < tt.from || when > tt.until {
			t.Errorf("%s: in doubt at %.2f s, %q", tt.name, when, tr.b.Doubt[decode.Load])
		}
		if when > 0 && tr.b.Doubt[decode.Load] != offLight {
			t.Errorf("%s: it does not stand: %q", tt.name, tr.b.Doubt[decode.Load])
		}
	}
}

// TestOffGroundEnds: the doubt stands through the disarming, does not hide that the
// cells are not tared, and ends with another mass.
func TestOffGroundEnds(t *testing.T) {
	c := heron
	c.MassG *= 10
	tr, rest := newTrial(NewNearLift(), c), 0.0
	run := func(from, until, armed, ground, out, lift float64) {
		tr.run(from, until, stream{decode.State, 20, 0, 0, func(float64) []float64 { return state(armed, 0, ground, 0.4) }},
			stream{decode.Out, 50, 0, 0, func(float64) []float64 { return all4(out) }},
			stream{decode.Load, 50, 0, 0, func(float64) []float64 { return []float64{lift*heronN + rest} }})
	}
	must := func(ok bool, when string) {
		if !ok {
			t.Errorf("%s: %q", when, tr.b.Doubt[decode.Load])
		}
	}
	is := func(why string) bool { return tr.b.Doubt[decode.Load] == why }
	run(0, 1, 0, 1, 0, 0)
	run(1, 3, 1, 1, 0.3, 0.5)
	run(3, 4, 1, 0, 0.4, 1)
	must(is(offLight), "off the ground")
	run(4, 8, 0, 1, 0, 0)
	must(is(offLight), "nothing is mended")
	rest = -1.5 * heronN
	run(8, 12, 0, 1, 0, 0)
	must(strings.HasPrefix(tr.b.Doubt[decode.Load], notTared), "not tared")
	rest = 0
	run(12, 15, 0, 1, 0, 0)
	must(is(offLight), "tared, and the mass is still wrong")
	tr.b.Craft.MassG = heron.MassG
	run(15, 16, 0, 1, 0, 0)
	must(is(""), "the mass is mended")
}

// below is 1 before a time.
func below(t, until float64) float64 {
	if t < until {
		return 1
	}
	return 0
}

// A craft that was disarmed off its stand is told of at once, however it turns; on
// the ground again, and taken up then, it is in hands.
func TestRestAfterAHoldWasLost(t *testing.T) {
	for _, back := range []bool{false, true} {
		tr := newTrial(NewNearLift(), heron)
		feed := func(from, to, armed, ground, lift, out float64) {
			tr.run(from, to, stream{decode.State, 20, 0, 0, steady(state(armed, 0, ground, 0)...)}, stream{decode.Out, 50, 0, 0, steady(all4(out)...)},
				stream{decode.Axes, 100, 0, 0, steady(20, 0, 0, 0, 0, 0, 0, 0, 0, 0)},
				stream{decode.ERPM, 50, 0, 0, steady(all4(40000 * out)...)}, stream{decode.Load, 50, 0, 0, steady(lift)})
		}
		feed(0, 2, 1, 0, heronN, 0.6)
		if back {
			feed(2, 3, 0, 1, 0, 0)
		}
		feed(3, 6.2, 0, 0, heronN, 0)
		if got := tr.b.Doubt[decode.Load]; (got == "") != back {
			t.Errorf("set down between %v: %q", back, got)
		}
	}
}
