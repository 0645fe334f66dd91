package detect

import (
	"testing"

	"tetherbell/decode"
)

func TestControlLost(t *testing.T) {
	at := func(armed, ok float64) []float64 {
		v := state(armed, 0, 1, 0.3)
		v[7] = ok
		return v
	}
	for _, tt := range []struct {
		name        string
		first, then []float64
		rings       bool
	}{
		{"gone", at(1, 1), at(1, 0), true},
		{"good", at(1, 1), at(1, 1), false},
		{"gone while disarmed", at(0, 1), at(0, 0), false},
		{"gone at arming", at(0, 0), at(1, 0), true},
		{"not told", at(1, 1), at(1, no), false},
		{"armed no longer told", at(1, 1), at(no, 0), true},
		{"armed never told", at(no, 1), at(no, 0), false},
	} {
		for _, hz := range []float64{10, 20, 50} {
			for _, loss := range []float64{0, 0.05} {
				tr := newTrial(NewControlLost(), heron)
				tr.run(0, 2, stream{decode.State, hz, 0, loss, steady(tt.first...)})
				tr.run(2, 4, stream{decode.State, hz, 0, loss, steady(tt.then...)})
				t.Run(tt.name, func(t *testing.T) {
					if !tt.rings {
						tr.silent(t)
						return
					}
					tr.one(t, Craft, High, 2, 2.1+loss*4/hz*10)
				})
			}
		}
	}
}

// One odd line of a fast stream rings nothing; seconds are counted from the
// first line that says so; a line that does not tell clears nothing; good again
// clears.
func TestControlLostLife(t *testing.T) {
	at := func(ok float64) []float64 { v := state(1, 0, 1, 0.3); v[7] = ok; return v }
	tr := newTrial(NewControlLost(), heron)
	n := 0
	tr.run(0, 3, stream{decode.State, 50, 0, 0, func(float64) []float64 {
		if n++; n%20 == 0 {
			return at(0)
		}
		return at(1)
	}})
	tr.silent(t)

	tr = newTrial(NewControlLost(), heron)
	tr.run(0, 1, stream{decode.State, 50, 0, 0, steady(at(1)...)})
	tr.run(1, 2, stream{decode.State, 50, 0, 0, steady(at(0)...)})
	tr.run(2, 3, stream{decode.State, 50, 0, 0, steady(at(no)...)})
	f := tr.d.Judge(&tr.b, nil)
	if len(f) != 1 || f[0].Level != None {
		t.Fatalf("holds: %+v", f)
	}
	near(t, "seconds", 2, f[0].Value, 0.011)
	tr.run(3, 5, stream{decode.State, 50, 0, 0, steady(at(1)...)})
	if len(tr.raised()) != 1 || len(tr.up) > 0 {
		t.Errorf("said%s", tr.list())
	}
	watchful(t, tr, true)
	tr.feed(5_000_000, decode.State, 50, at(no))
	watchful(t, tr, false)
	tr.run(5.1, 6, stream{decode.State, 50, 0, 0, steady(at(0)...)})
	if tr.d.Reset(); len(tr.d.Judge(&tr.b, nil)) != 0 {
		t.Error("Reset keeps what was said before the restart")
	}
}
