package detect

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

func TestNearLift(t *testing.T) {
	stand := heron
	stand.Hold, stand.HoldRatedN = craft.Stand, 40
	bare := stand
	bare.HoldRatedN = 0
	free := heron
	free.Hold = craft.Free
	light := heron
	light.MassG = 0
	weight := 0.655 * gravity
	on, off := state(1, 0, 1, 0.4), state(0, 0, 1, 0)
	tests := []struct {
		name  string
		craft craft.Craft
		state []float64
		out   float64
		lift  float64
		want  Priority
		limit float64
	}{
		{"at 70 % of weight", heron, on, 0.4, 0.70 * weight, None, 0},
		{"over 70 %", heron, on, 0.4, 0.71 * weight, Medium, 0.70},
		{"at 90 %", heron, on, 0.4, 0.90 * weight, Medium, 0.70},
		{"over 90 %", heron, on, 0.4, 0.91 * weight, High, 0.90},
		{"stand: weight is no limit", stand, on, 0.4, 2 * weight, None, 0},
		{"stand: over 70 % of its rating", stand, on, 0.4, 28.1, Medium, 0.70},
		{"stand: over 90 % of its rating", stand, on, 0.4, 36.1, High, 0.90},
		{"stand without a rating", bare, on, 0.4, 100, None, 0},
		{"free", free, on, 0.4, 2 * weight, None, 0},
		{"mass not known", light, on, 0.4, 100, None, 0},
		{"lifted by hand while disarmed", heron, off, 0, 2 * weight, None, 0},
		{"disarmed, outputs up", heron, off, 0.4, 0.95 * weight, High, 0.90},
		{"armed not known", heron, state(no, 0, 1, 0), no, 0.95 * weight, High, 0.90},
		{"pulled down", heron, on, 0.4, -2 * weight, None, 0},
		{"lift not measured", heron, on, 0.4, no, None, 0},
	}
	for _, c := range tests {
		for _, hz := range []float64{10, 50, 100} {
			t.Run(c.name, func(t *testing.T) {
				tr := newTrial(NewNearLift(), c.craft)
				tr.run(0, 4, stream{decode.State, 20, 0, 0.05, steady(c.state...)}, stream{decode.Out, 100, 0, 0.05, steady(all4(c.out)...)},
					stream{decode.Load, hz, 0, 0, from(2, []float64{0}, []float64{c.lift})})
				if c.want == None {
					tr.silent(t)
					return
				}
				got := tr.one(t, Craft, c.want, 2, 2.06)
				near(t, "limit", c.limit, got.limit, 0)
				near(t, "value", c.lift/bears(&tr.b), got.value, 1e-12)
			})
		}
	}
}

// A ramp up and down: medium, high, each with its band of 0.05 on the way
// back. One wild sample of a fast stream rings nothing.
func TestNearLiftRamp(t *testing.T) {
	weight := 0.655 * gravity
	tr := newTrial(NewNearLift(), heron)
	tr.run(0, 12, stream{decode.State, 20, 0, 0, steady(state(1, 0, 1, 0.4)...)},
		stream{decode.Load, 100, 0, 0, func(t float64) []float64 { return []float64{weight * min(t, 12-t) * 0.2} }})
	// Over 0.70 at 3.5 s, over 0.90 at 4.5 s, under 0.85 at 7.75 s, under 0.65
	// at 8.75 s, and half a second of the reduced life.
	want := []struct {
		word  string
		level Priority
		at    float64
	}{{"raised", Medium, 3.5}, {"worsened", High, 4.5}, {"eased", Medium, 7.75}, {"cleared", Medium, 9.25}}
	if len(tr.said) != len(want) {
		t.Fatalf("said:%s", tr.list())
	}
	for i, w := range want {
		if got := tr.said[i]; got.word != w.word || got.level != w.level || got.at < w.at-0.001 || got.at > w.at+0.04 {
			t.Errorf("want %v, got %v", w, got)
		}
	}

	tr = newTrial(NewNearLift(), heron)
	n := 0
	tr.run(0, 5, stream{decode.State, 20, 0, 0, steady(state(1, 0, 1, 0.4)...)},
		stream{decode.Load, 100, 0, 0, func(float64) []float64 {
			if n++; n%50 == 0 {
				return []float64{5 * weight}
			}
			return []float64{0.3 * weight}
		}})
	tr.silent(t)
}

func TestNearLiftMissing(t *testing.T) {
	for _, tt := range []struct {
		name  string
		craft craft.Craft
		lift  float64
		watch bool
	}{
		{"all there", heron, 1, true},
		{"no lift", heron, no, false},
		{"no mass", craft.Craft{Hold: craft.Tether}, 1, false},
		{"no rating", craft.Craft{Hold: craft.Stand, MassG: 500}, 1, false},
		{"free", craft.Craft{Hold: craft.Free, MassG: 500}, 1, false},
	} {
		tr := newTrial(NewNearLift(), tt.craft)
		tr.feed(0, decode.Load, 50, []float64{tt.lift})
		t.Run(tt.name, func(t *testing.T) { watchful(t, tr, tt.watch) })
	}
}

func TestNearLiftReset(t *testing.T) {
	tr := newTrial(NewNearLift(), heron)
	tr.run(0, 1, stream{decode.State, 20, 0, 0, steady(state(1, 0, 1, 0.4)...)}, stream{decode.Load, 50, 0, 0, steady(20.0)})
	tr.one(t, Craft, High, 0, 0.1)
	tr.d.Reset()
	tr.run(1, 2, stream{decode.State, 20, 0, 0, steady(state(1, 0, 1, 0.4)...)})
	if len(tr.up) > 0 {
		t.Error("a lift from before the restart holds the alarm")
	}
}

// TestNearLiftToldLater: what a lift of before was is told with that lift, not with
// the one that the cells show by then.
func TestNearLiftToldLater(t *testing.T) {
	b := &Bench{Craft: heron}
	weight := b.WeightN()
	for _, rest := range []float64{0, -2} {
		b.Rest = rest
		b.Load = Reading{V: 0.50*weight + rest, OK: true}
		s := (&nearLift{}).Describe(b, Finding{Where: Craft, Level: High, Value: 2.26, Limit: 0.9})
		assert.Contains(t, s.Text, fmt.Sprintf("lift %.1f N", 2.26*weight))
		assert.Contains(t, s.Text, " is 2.26 of the weight")
		assert.InDelta(t, 2.26*weight+rest, s.More[0].Value, 1e-9)
		s = (&nearLift{}).Describe(b, Finding{Where: Craft, Level: High, Value: 0.5, Limit: 0.9})
		assert.Contains(t, s.Text, fmt.Sprintf("lift %.1f N", 0.5*weight), "of now")
	}
}
