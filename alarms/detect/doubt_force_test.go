package detect

import (
	"math"
	"testing"

	"tetherbell/decode"
)

func TestForceInDoubt(t *testing.T) {
	tests := []struct {
		name       string
		armed, out float64
		rate       float64
		force      []float64
		shake      float64
		odd, up    bool
	}{
		{"level", 0, 0, 0, []float64{0, 0, -9.81}, 0, false, false},
		{"on its side", 0, 0, 0, []float64{0, 9.81, 0}, 0, false, false},
		{"in g", 0, 0, 0, []float64{0, 0, -1}, 0, true, false},
		{"in g, z up", 0, 0, 0, []float64{0, 0, 1}, 0, true, false},
		{"in g, leant", 0, 0, 0, []float64{0.5, 0.5, -0.7}, 0, true, false},
		{"in feet", 0, 0, 0, []float64{0, 0, -32.2}, 0, true, false},
		{"dead", 0, 0, 0, []float64{0, 0, 0}, 0, true, false},
		{"at the lower edge", 0, 0, 0, []float64{0, 0, -7.01}, 0, false, false},
		{"under it", 0, 0, 0, []float64{0, 0, -6.99}, 0, true, false},
		{"at the upper edge", 0, 0, 0, []float64{0, 0, -11.99}, 0, false, false},
		{"over it", 0, 0, 0, []float64{0, 0, -12.01}, 0, true, false},
		{"z up", 0, 0, 0, []float64{0, 0, 9.81}, 0, false, true},
		{"z up, leant", 0, 0, 0, []float64{5, 0, 8.4}, 0, false, true},
		{"nose down by much", 0, 0, 0, []float64{9, 0, 3.9}, 0, false, false},
		{"in g, armed", 1, 0, 0, []float64{0, 0, -1}, 0, false, false},
		{"in g, driven", 0, 0.3, 0, []float64{0, 0, -1}, 0, false, false},
		{"in g, carried about", 0, 0, 40, []float64{0, 0, -1}, 0, false, false},
		{"in g, armed not known", no, 0, 0, []float64{0, 0, -1}, 0, false, false},
		{"in g, x empty", 0, 0, 0, []float64{no, 0, -1}, 0, false, false},
		{"level, shaken", 0, 0, 0, []float64{0, 0, -9.81}, 30, false, false},
		{"in g, shaken", 0, 0, 0, []float64{0, 0, -1}, 3, true, false},
	}
	for _, tt := range tests {
		for _, hz := range []float64{50, 500} {
			t.Run(tt.name, func(t *testing.T) {
				tr := newTrial(NewVibrationStep(), heron)
				tr.run(0, 4, stream{decode.State, 20, 0, 0, steady(state(tt.armed, 0, 1, 0)...)},
					stream{decode.Out, 50, 0, 0, steady(all4(tt.out)...)},
					stream{decode.Axes, 50, 0, 0, steady(tt.rate, 0, 0, 0, 0, 0, 0, 0, 0, 0)},
					stream{decode.Accel, hz, 0.2, 0.05, func(s float64) []float64 {
						f := append([]float64(nil), tt.force...)
						for i := range f {
							f[i] += tt.shake * math.Sin(2*math.Pi*17*s)
						}
						return f
					}})
				if got := tr.b.Doubt[decode.Accel]; (got == forceOdd) != tt.odd {
					t.Errorf("in doubt: %q", got)
				}
				if got := tr.b.Asks; (got == forceUp) != tt.up {
					t.Errorf("asks: %q", got)
				}
			})
		}
	}
}

// A unit that is set right is believed again; one that is short of two seconds
// tells nothing; and a detector that has rates besides goes on by these.
func TestForceDoubtEnds(t *testing.T) {
	tr := newTrial(NewVibrationStep(), heron)
	rest := func(from, to, z float64, more ...stream) {
		tr.run(from, to, append(more, stream{decode.State, 20, 0, 0, steady(state(0, 0, 1, 0)...)},
			stream{decode.Out, 50, 0, 0, steady(all4(0)...)},
			stream{decode.Accel, 500, 0, 0, steady(0, 0, z)})...)
	}
	rest(0, 1.9, -1)
	if tr.b.Doubt[decode.Accel] != "" {
		t.Error("too early")
	}
	rest(1.9, 3, -1)
	if got := tr.d.Missing(&tr.b); got != forceOdd {
		t.Errorf("by accel alone: %q", got)
	}
	rest(3, 4, -1, stream{decode.Axes, 500, 0, 0, steady(0, 0, 0, 0, 0, 0, 0, 0, 0, 0)})
	if got := tr.d.Missing(&tr.b); got != "" {
		t.Errorf("by rates: %q", got)
	}
	tr.doubt.Restart(^uint32(0))
	rest(4, 5, -9.81)
	if tr.b.Doubt[decode.Accel] == "" {
		t.Error("a restart takes nothing back")
	}
	rest(5, 7, -9.81)
	if got := tr.b.Doubt[decode.Accel]; got != "" {
		t.Errorf("set right, still %q", got)
	}
}

// A craft that was seen level and lies on its back later is no question.
func TestForceUpIsNoQuestionLater(t *testing.T) {
	tr := newTrial(NewVibrationStep(), heron)
	tr.run(0, 12, stream{decode.State, 20, 0, 0, steady(state(0, 0, 1, 0)...)},
		stream{decode.Accel, 100, 0, 0, from(5, []float64{0, 0, -9.81}, []float64{0, 0, 9.81})})
	if tr.b.Asks != "" || tr.b.Doubt[decode.Accel] != "" {
		t.Errorf("asks %q, in doubt %q", tr.b.Asks, tr.b.Doubt[decode.Accel])
	}
}
