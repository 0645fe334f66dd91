package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// hold is a steady hold of a craft whose motors' outputs have these shares,
// with noise of 0.01 on each line.
func hold(level float64, shares []float64, rng *rand.Rand) func(float64) []float64 {
	return func(float64) []float64 {
		v := make([]float64, len(shares))
		for i, s := range shares {
			v[i] = min(max(level*s+0.01*rng.NormFloat64(), 0), 1)
		}
		return v
	}
}

var inFlight = stream{decode.State, 20, 0, 0.05, steady(state(1, 0, 0, 0.4)...)}

func TestOutputImbalance(t *testing.T) {
	least := heron
	least.IdleLeast = 0.3
	ready := heron
	ready.IdleReady = 0.26
	own := heron
	own.Limits.ImbalanceLow, own.Limits.ImbalanceMedium = 0.35, 0.38
	tests := []struct {
		name   string
		craft  craft.Craft
		level  float64
		shares []float64
		state  []float64
		want   Priority
		where  Where
	}{
		{"all alike", heron, 0.4, []float64{1, 1, 1, 1}, inFlight.value(0), None, 0},
		{"as real healthy craft differ", heron, 0.4, []float64{1.02, 1.0, 1.16, 0.82}, inFlight.value(0), None, 0},
		{"just under 20 %", heron, 0.4, []float64{1.19, 0.94, 0.94, 0.93}, inFlight.value(0), None, 0},
		{"low", heron, 0.4, []float64{0.93, 0.93, 1.22, 0.92}, inFlight.value(0), Low, M3},
		{"medium", heron, 0.4, []float64{0.9, 0.9, 1.3, 0.9}, inFlight.value(0), Medium, M3},
		{"high", heron, 0.4, []float64{0.85, 1.45, 0.85, 0.85}, inFlight.value(0), High, M2},
		{"a motor that is under the mean", heron, 0.4, []float64{0.7, 1.1, 1.1, 1.1}, inFlight.value(0), Medium, M1},
		{"armed not known", heron, 0.4, []float64{0.9, 0.9, 1.3, 0.9}, state(no, 0, 0, 0.4), Medium, M3},
		{"disarmed", heron, 0.4, []float64{0.9, 0.9, 1.3, 0.9}, state(0, 0, 0, 0.4), None, 0},
		{"under least flight output", least, 0.28, []float64{0.9, 0.9, 1.3, 0.9}, inFlight.value(0), None, 0},
		{"over least flight output", least, 0.34, []float64{0.9, 0.9, 1.3, 0.9}, inFlight.value(0), Medium, M3},
		{"at armed idle", ready, 0.26, []float64{0.9, 0.9, 1.3, 0.9}, inFlight.value(0), None, 0},
		{"over armed idle", ready, 0.34, []float64{0.9, 0.9, 1.3, 0.9}, inFlight.value(0), Medium, M3},
		{"no idle known, at idle", heron, 0.06, []float64{0.9, 0.9, 1.3, 0.9}, inFlight.value(0), None, 0},
		{"own limits", own, 0.4, []float64{0.9, 0.9, 1.3, 0.9}, inFlight.value(0), None, 0},
		{"a stick is held over", heron, 0.4, []float64{0.9, 0.9, 1.3, 0.9}, []float64{1, 0, 0, 0.4, 0.3, 0, 0, 1}, None, 0},
		{"sticks not known", heron, 0.4, []float64{0.9, 0.9, 1.3, 0.9}, []float64{1, 0, 0, no, no, no, no, 1}, Medium, M3},
	}
	for _, c := range tests {
		for _, p := range []struct{ hz, jitter, loss float64 }{{25, 0, 0.05}, {50, 0, 0}, {200, 0.3, 0.05}, {1000, 0.3, 0.05}} {
			t.Run(c.name, func(t *testing.T) {
				tr := newTrial(NewOutputImbalance(), c.craft)
				st := inFlight
				st.value = steady(c.state...)
				tr.run(0, 6, st, stream{decode.Out, p.hz, p.jitter, p.loss, hold(c.level, c.shares, tr.rng)})
				watchful(t, tr, true)
				if c.want == None {
					tr.silent(t)
					return
				}
				got := tr.one(t, c.where, c.want, 0.9, 1.3)
				mean := 0.0
				for _, s := range c.shares {
					mean += s / 4
				}
				i := tr.d.(*outputImbalance).motorOf(c.where)
				near(t, "value", math.Abs(c.shares[i]/mean-1), got.value, 0.02)
				if len(tr.said) > 1 {
					t.Errorf("must not change:%s", tr.list())
				}
			})
		}
	}
}

// What moves is not judged: a ramp, a demand. What was up stays until it can
// be judged, and ends with the throttle.
func TestOutputImbalanceWantsAHold(t *testing.T) {
	shares := []float64{0.9, 0.9, 1.3, 0.9}
	ramp := func(t float64) []float64 {
		v := make([]float64, 4)
		for i := range v {
			v[i] = shares[i] * (0.12 + 0.06*t) // 0.06 a second
		}
		return v
	}
	tr := newTrial(NewOutputImbalance(), heron)
	tr.run(0, 5, inFlight, stream{decode.Out, 100, 0, 0, ramp})
	tr.silent(t)
	out := tr.d.(Reacher).Reach(&tr.b, nil)
	if len(out) != 4 || out[2].Share < 1 || !out[2].Waits {
		t.Errorf("what is past its limit on a ramp waits for a hold: %+v", out)
	}
	tr.run(5, 8, inFlight, stream{decode.Out, 100, 0, 0, hold(0.42, shares, tr.rng)})
	tr.one(t, M3, Medium, 5.1, 7)
	if out = tr.d.(Reacher).Reach(&tr.b, nil); len(out) != 4 || out[2].Waits {
		t.Errorf("what rings waits for nothing: %+v", out)
	}

	tr = newTrial(NewOutputImbalance(), heron)
	tr.run(0, 5, inFlight, stream{decode.Out, 100, 0, 0, hold(0.4, shares, tr.rng)},
		stream{decode.Axes, 100, 0, 0, steady(0, 0, 0, 0, 40.0, 0, 0, 0, 0, 0.4)})
	tr.silent(t)

	tr = newTrial(NewOutputImbalance(), heron)
	busy := func(t float64) []float64 {
		if t > 3 && t < 6 {
			return []float64{1, 0, 0, 0.4, 0, 0.5, 0, 1}
		}
		return state(1, 0, 0, 0.4)
	}
	level := func(t float64) []float64 {
		if t > 3 && t < 6 {
			return hold(0.4+0.2*math.Sin(5*t), shares, tr.rng)(t)
		}
		if t > 8 {
			return all4(0.05)
		}
		return hold(0.4, shares, tr.rng)(t)
	}
	tr.run(0, 10, stream{decode.State, 20, 0, 0, busy}, stream{decode.Out, 100, 0, 0, level})
	tr.one(t, M3, Medium, 0.9, 1.1)
	if last := tr.said[len(tr.said)-1]; len(tr.said) != 2 || last.word != "cleared" || last.at < 8.4 || last.at > 8.7 {
		t.Errorf("must hold on through the movement and end with the throttle:%s", tr.list())
	}
}

// One bell: two motors that are out alike make one alarm, for minutes; a
// motor that goes further out by a level of its own is heard.
func TestOutputImbalanceIsOneBell(t *testing.T) {
	tr := newTrial(NewOutputImbalance(), heron)
	tr.run(0, 60, inFlight, stream{decode.Out, 100, 0, 0, hold(0.4, []float64{1.22, 0.78, 0.78, 1.22}, tr.rng)})
	if r := tr.raised(); len(r) != 1 || r[0].level != Low || len(tr.said) != 1 {
		t.Errorf("must ring once:%s", tr.list())
	}

	tr = newTrial(NewOutputImbalance(), heron)
	tr.run(0, 5, inFlight, stream{decode.Out, 100, 0, 0, hold(0.4, []float64{1.22, 0.93, 0.92, 0.93}, tr.rng)})
	tr.run(5, 10, inFlight, stream{decode.Out, 100, 0, 0, hold(0.4, []float64{1.22, 0.60, 1.22, 0.96}, tr.rng)})
	r := tr.raised()
	if len(r) != 2 || r[0].where != M1 || r[1].where != M2 || r[1].level < Medium {
		t.Errorf("a motor that is far further out must be heard:%s", tr.list())
	}
}

// A level ends 0.03 under its limit.
func TestOutputImbalanceDeadband(t *testing.T) {
	tr := newTrial(NewOutputImbalance(), heron)
	share := func(t float64) float64 {
		switch {
		case t < 3:
			return 1.27 // medium
		case t < 6:
			return 1.23 // inside medium's band
		case t < 9:
			return 1.21 // under it: low
		case t < 12:
			return 1.18 // inside low's band
		}
		return 1.15
	}
	tr.run(0, 15, inFlight, stream{decode.Out, 100, 0, 0, func(t float64) []float64 {
		s := share(t)
		return []float64{0.4 * s, 0.4 * (4 - s) / 3, 0.4 * (4 - s) / 3, 0.4 * (4 - s) / 3}
	}})
	want := []struct {
		word  string
		level Priority
		from  float64
	}{{"raised", Medium, 0.9}, {"eased", Low, 6}, {"cleared", Low, 12}}
	if len(tr.said) != len(want) {
		t.Fatalf("said:%s", tr.list())
	}
	for i, w := range want {
		if g := tr.said[i]; g.word != w.word || g.level != w.level || g.at < w.from || g.at > w.from+1.7 {
			t.Errorf("want %v, got %v", w, g)
		}
	}
}

// Holes in the stream do not matter, a restart does, and so do motors that
// are not measured.
func TestOutputImbalanceLacks(t *testing.T) {
	shares := []float64{0.9, 0.9, 1.3, 0.9}
	tr := newTrial(NewOutputImbalance(), heron)
	for at := 0.0; at < 4; at += 0.4 {
		tr.run(at, at+0.33, inFlight, stream{decode.Out, 500, 0, 0.05, hold(0.4, shares, tr.rng)})
		tr.run(at+0.33, at+0.4, inFlight)
	}
	tr.one(t, M3, Medium, 0.9, 1.2)
	tr.run(4, 5.5, inFlight) // no outputs at all: what is up is not gone
	tr.run(5.5, 7, inFlight, stream{decode.Out, 500, 0, 0.05, hold(0.4, shares, tr.rng)})
	if len(tr.said) != 1 {
		t.Errorf("a hole must not end it:%s", tr.list())
	}

	tr = newTrial(NewOutputImbalance(), heron)
	tr.run(0, 0.85, inFlight, stream{decode.Out, 100, 0, 0, hold(0.4, shares, tr.rng)})
	tr.d.Reset()
	tr.run(0.85, 1.7, inFlight, stream{decode.Out, 100, 0, 0, hold(0.4, shares, tr.rng)})
	tr.silent(t)
	tr.run(1.7, 2, inFlight, stream{decode.Out, 100, 0, 0, hold(0.4, shares, tr.rng)})
	tr.one(t, M3, Medium, 1.7, 1.9)

	for _, tt := range []struct {
		name  string
		out   []float64
		watch bool
		hear  bool
	}{
		{"one of four not measured", []float64{0.36, 0.36, 0.54, no}, false, true},
		{"two of four not measured", []float64{0.36, no, 0.54, no}, false, false},
		{"none measured", all4(no), false, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr := newTrial(NewOutputImbalance(), heron)
			tr.run(0, 3, inFlight, stream{decode.Out, 100, 0, 0, steady(tt.out...)})
			watchful(t, tr, tt.watch)
			if tt.hear {
				tr.one(t, M3, Medium, 0.9, 1.1)
			} else {
				tr.silent(t)
			}
		})
	}
}
