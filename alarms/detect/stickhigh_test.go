package detect

import (
	"testing"

	"tetherbell/decode"
)

func TestStickHigh(t *testing.T) {
	at := func(armed, stick float64) []float64 { return state(armed, 0, 1, stick) }
	for _, tt := range []struct {
		name  string
		parts [][]float64 // a second each
		rings bool
	}{
		{"stick down", [][]float64{at(0, 0), at(1, 0)}, false},
		{"at the limit", [][]float64{at(0, 0.05), at(1, 0.05)}, false},
		{"just over it", [][]float64{at(0, 0.051), at(1, 0.051)}, true},
		{"far up", [][]float64{at(0, 0.33), at(1, 0.33)}, true},
		{"raised later", [][]float64{at(0, 0), at(1, 0), at(1, 0.33)}, false},
		{"was high while disarmed", [][]float64{at(0, 0.33), at(0, 0), at(1, 0)}, false},
		{"armed as we came", [][]float64{at(1, 0.33)}, false},
		{"never armed", [][]float64{at(0, 0.33)}, false},
		{"unknown between", [][]float64{at(0, 0.33), at(no, 0.33), at(1, 0.33)}, true},
		{"stick not known", [][]float64{at(0, no), at(1, no)}, false},
	} {
		for _, hz := range []float64{10, 20, 50} {
			for _, loss := range []float64{0, 0.05} {
				tr := newTrial(NewStickHigh(), heron)
				for i, p := range tt.parts {
					tr.run(float64(i), float64(i+1), stream{decode.State, hz, 0, loss, steady(p...)})
				}
				t.Run(tt.name, func(t *testing.T) {
					if !tt.rings {
						tr.silent(t)
						return
					}
					begin := float64(len(tt.parts) - 1)
					got := tr.one(t, Craft, High, begin, begin+0.01+2/hz*20*loss+0.1*loss*20)
					near(t, "value", tt.parts[len(tt.parts)-1][3], got.value, 0)
				})
			}
		}
	}
}

// It holds until the stick is down or the craft disarmed; a stick that trembles
// about the limit makes one alarm.
func TestStickHighEnds(t *testing.T) {
	for name, last := range map[string][]float64{"stick down": state(1, 0, 1, 0.03), "disarmed": state(0, 0, 1, 0.33)} {
		tr := newTrial(NewStickHigh(), heron)
		n := 0
		tr.run(0, 1, stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0.06)...)})
		tr.run(1, 3, stream{decode.State, 50, 0, 0, func(float64) []float64 {
			n++
			return state(1, 0, 1, 0.06-0.015*float64((n+1)%2))
		}})
		tr.run(3, 5, stream{decode.State, 50, 0, 0, steady(last...)})
		if len(tr.raised()) != 1 || len(tr.up) > 0 {
			t.Errorf("%s: said%s", name, tr.list())
		}
	}
}

func TestStickHighMissingAndReset(t *testing.T) {
	for _, tt := range []struct {
		s     []float64
		watch bool
	}{{state(0, 0, 1, 0), true}, {state(no, 0, 1, 0), false}, {state(0, 0, 1, no), false}} {
		tr := newTrial(NewStickHigh(), heron)
		tr.feed(0, decode.State, 50, tt.s)
		watchful(t, tr, tt.watch)
	}
	tr := newTrial(NewStickHigh(), heron)
	tr.run(0, 1, stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0)...)})
	tr.d.Reset() // the bridge was away: the stick may have been raised in flight
	tr.run(1, 2, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0.4)...)})
	tr.silent(t)
}

// TestStickHighUnseen: after a hole in the lines nobody knows when the craft was
// armed, nor where the stick was then; a few lost lines make no hole.
func TestStickHighUnseen(t *testing.T) {
	for _, tt := range []struct {
		name  string
		hz    float64
		hole  float64 // seconds
		rings bool
	}{
		{"no hole", 20, 0, true}, {"two lines lost", 10, 0.2, true}, {"at the least", 50, 0.4, true},
		{"longer than five periods", 50, 0.7, false}, {"blind for six seconds", 10, 6, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr := newTrial(NewStickHigh(), heron)
			tr.run(0, 2, stream{decode.State, tt.hz, 0, 0, steady(state(0, 0, 1, 0.07)...)})
			tr.run(2+tt.hole, 4+tt.hole, stream{decode.State, tt.hz, 0, 0, steady(state(1, 0, 1, 0.07)...)})
			if rang := len(tr.raised()) == 1; rang != tt.rings {
				t.Errorf("rings %v, want %v:%s", rang, tt.rings, tr.list())
			}
		})
	}
}
