package detect

import (
	"math"
	"testing"

	"tetherbell/decode"
)

// A stand that is open, at a throttle that came up too fast to learn lift from.
func TestOpenStandInDoubt(t *testing.T) {
	for _, tt := range []struct {
		name  string
		makes float64 // of the weight
		holds bool
		blade float64 // of the published law
		climb float64 // seconds
		off   float64 // when the craft says that it has left the ground
		want  string
	}{
		{"open", 2.5, false, 1, 0.05, 3, offOpen},
		{"open, and lift was learned", 2.5, false, 1, 3, 4, ""},
		{"holds", 2.5, true, 1, 0.05, 3, ""},
		{"holds, blades of little pitch, at the weight", 1, true, 0.55, 0.05, 3, ""},
		{"says that it is on the ground", 2.5, false, 1, 0.05, 99, ""},
	} {
		c := heron
		c.Hold, c.HoldRatedN = "stand", 60
		if c.Poles == 0 {
			c.Poles = 14
		}
		for _, hz := range []float64{10, 100} {
			tr := newTrial(NewNearLift(), c)
			made := func(t float64) float64 { return ramp(t, 3, 3+tt.climb, 0.03, tt.makes) * heronN }
			law := thrustLaw{}
			turns := func(t float64) float64 {
				return 60 * polePairs(&tr.b) * math.Sqrt(made(t)/4/tt.blade/law.published(&tr.b))
			}
			tr.run(0, 8, stream{decode.State, 20, 0, 0, func(t float64) []float64 { return state(1-below(t, 1), 0, below(t, tt.off), 0.5) }},
				stream{decode.Out, 50, 0, 0, func(t float64) []float64 { return all4(0.15 + 0.4*(1-below(t, 3))) }},
				stream{decode.ERPM, 50, 0, 0, func(t float64) []float64 { return all4(turns(t)) }},
				stream{decode.Load, hz, 0, 0, func(t float64) []float64 {
					if tt.holds {
						return []float64{made(t)}
					}
					return []float64{min(made(t), heronN)}
				}})
			if got := tr.b.Doubt[decode.Load]; got != tt.want && tt.name != "open, and lift was learned" || got != "" && tt.want == "" && hz > 10 {
				t.Errorf("%s at %v: %q", tt.name, hz, got)
			}
		}
	}
}
