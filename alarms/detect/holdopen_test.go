package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode/craft"
)

// A stand that is open before lift reaches the weight: the cells stay at the weight
// however fast the rotors turn. One that holds shows what they make.
func TestHoldOpen(t *testing.T) {
	up := func(most, until float64) func(float64) float64 {
		return func(t float64) float64 { return ramp(t, 2, until, 0.1, most*weightN) }
	}
	free := func(_, thrust float64) float64 { return min(thrust, weightN) }
	holds := func(_, thrust float64) float64 { return thrust }
	for _, tt := range []struct {
		name     string
		thrust   func(float64) float64
		shows    func(t, thrust float64) float64
		hold     craft.Hold
		mass     float64 // grams, 0: as it is
		from, to float64 // by speeds, 0 silent
	}{
		{"open", up(2, 12), free, craft.Stand, 0, 8.5, 9.3},
		{"open, up fast", up(2, 4), free, craft.Stand, 0, 3.4, 4.3},
		{"open, slowly, staying a while over the weight", func(t float64) float64 {
			return ramp(t, 2, 6, 0.1, 1.15*weightN) + ramp(t, 14, 16, 0, 0.6*weightN)
		}, free, craft.Stand, 0, 14.3, 15.2},
		{"open, just over the weight", up(1.2, 8), free, craft.Stand, 0, 0, 0},
		{"holds", up(2, 12), holds, craft.Stand, 0, 0, 0},
		{"holds, at the weight", up(1, 6), holds, craft.Stand, 0, 0, 0},
		{"cells that lag by 0.4 s", func(t float64) float64 { return ramp(t, 2, 4, 0.1, 2*weightN) },
			func(t, _ float64) float64 { return ramp(t-0.4, 2, 4, 0.1, 2*weightN) }, craft.Stand, 0, 0, 0},
		{"cells that flag a little", up(2, 12), func(_, thrust float64) float64 { return thrust * (1 - 0.1*thrust/(2*weightN)) }, craft.Stand, 0, 0, 0},
		{"a slack tether", up(2, 12), free, craft.Tether, 0, 0, 0},
		{"mass not known", up(2, 12), holds, craft.Stand, -1, 0, 0},
	} {
		c := heron
		if c.Hold = tt.hold; tt.hold == craft.Stand {
			c.HoldRatedN = 60
		}
		c.MassG = max(0, c.MassG+tt.mass*1e6)
		for _, hz := range []float64{10, 50, 200} {
			for _, speeds := range []bool{true, false} {
				tr := newTrial(NewHoldLost(), c)
				tr.run(0, 16, holdRun{thrust: tt.thrust, shows: tt.shows}.streams(tr, hz, speeds)...)
				if tt.to == 0 {
					if len(tr.said) > 0 {
						t.Errorf("%s at %v, speeds %v: %s", tt.name, hz, speeds, tr.list())
					}
					continue
				}
				if len(tr.raised()) == 0 {
					if hz > 10 || tt.to > 5 { // in 2 s ten lines a second are too few to learn from
						t.Errorf("%s at %v, speeds %v: silent", tt.name, hz, speeds)
					}
					continue
				}
				end := tt.to
				if !speeds {
					end = math.Inf(1)
				}
				ch := tr.one(t, Craft, High, tt.from, end)
				assert.Equal(t, "stand let go", ch.story.Cause, tt.name)
			}
		}
	}
}
