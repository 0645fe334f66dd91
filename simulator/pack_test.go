package simulator

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A real cell's voltage at rest at ten states of charge (Oak Ridge National
// Laboratory's pulse test, see the file). The charge was counted there from
// the currents, which are seldom written in the rests, so it is good to a
// few thousandths.
func TestCellRestsOfARealCell(t *testing.T) {
	cell, _ := table(t, "cell_rests.csv")
	require.Len(t, cell["rest_v"], 10)
	for k, volts := range cell["rest_v"] {
		charge := cell["charge"][k]
		assert.InDelta(t, charge, chargeAt(volts), 0.002, "at %v V", volts)
		assert.InDelta(t, volts, cellRest(chargeAt(volts)), 1e-9)
		if charge > 0.1 { // under it, a thousandth of charge is 9 mV
			assert.InDelta(t, volts, cellRest(charge), 0.004)
		}
	}
	for x := -0.2; x < 1.2; x += 0.001 {
		require.LessOrEqual(t, cellRest(x), cellRest(x+0.001), "more charge, no less voltage")
	}
}

// Resistance from two points, before a pulse and 0.5 s into it, R = (V1 -
// V2)/(I2 - I1): 1.77 mOhm of the real cell when full, 1.53 to 1.57 in the
// middle, 1.67 when nearly empty (worked out from the same data). A pack made
// of such a cell gives the same volts under the same pulse.
func TestTwoPointResistance(t *testing.T) {
	cell, _ := table(t, "cell_rests.csv")
	for k, rest := range cell["rest_v"] {
		ohm := (rest - cell["pulse_v"][k]) / -cell["pulse_a"][k]
		switch {
		case k == 0:
			assert.InDelta(t, 0.00177, ohm, 5e-6)
		case k == 9:
			assert.InDelta(t, 0.00167, ohm, 5e-6)
		default:
			assert.InDelta(t, 0.00155, ohm, 2.1e-5)
		}
		c := Default().Craft
		// Two thirds at once; of the slow third, 0.5 s of 2 s bring 22.120 %.
		const share = 0.221199
		c.Cells, c.RestV, c.PackMAH = 1, rest, 33_100
		c.PackSlowS, c.PackOhm, c.PackSlowOhm = 2, ohm*2/3, ohm/3/share
		p := newPack(&c)
		assert.InDelta(t, rest, p.volts, 1e-9)
		for range 1000 {
			p.draw(30)
		}
		assert.InDelta(t, cell["pulse_v"][k], p.volts, 0.0015, "the charge of half a second aside")
		assert.InEpsilon(t, ohm, (rest-p.volts)/30, 0.03)
	}
}

// Under a steady current the pack sags by I R at once, by 63.212 %, 86.466 %
// and 95.021 % of I R of the slow part after one, two, three of its times,
// and by what its charge, I t over the capacity, takes off the voltage at
// rest. Relieved, it comes back the same way (two resistances and a capacity,
// the usual equivalent circuit; definition, recomputed).
func TestPackSags(t *testing.T) {
	tests := []struct {
		name                    string
		amps, ohm, slow, tau    float64
		cells                   int
		milliampHours, cellVolt float64
	}{
		{"demo craft", 12, 0.018, 0.006, 8, 4, 3000, 4.08},
		{"hard pulled", 60, 0.018, 0.006, 8, 4, 3000, 3.9},
		{"slow and large", 20, 0.03, 0.05, 30, 6, 10_000, 4.0},
		{"brisk and small", 3, 0.1, 0.05, 0.5, 2, 450, 3.8},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := Default().Craft
			c.Cells, c.RestV, c.PackMAH = tt.cells, tt.cellVolt, tt.milliampHours
			c.PackOhm, c.PackSlowOhm, c.PackSlowS = tt.ohm, tt.slow, tt.tau
			p := newPack(&c)
			rest := p.volts
			assert.InEpsilon(t, tt.cellVolt*float64(tt.cells), rest, 1e-9)
			p.draw(tt.amps)
			assert.InDelta(t, tt.amps*tt.ohm, rest-p.volts, 1e-3*tt.amps*tt.slow+1e-4)

			steps := int(math.Round(tt.tau / stepSeconds))
			done := 1
			for k, share := range []float64{0.63212, 0.86466, 0.95021} {
				for ; done < (k+1)*steps; done++ {
					p.draw(tt.amps)
				}
				coulombs := tt.amps * float64(done) * stepSeconds
				require.InEpsilon(t, coulombs, p.used, 1e-9)
				charge := chargeAt(tt.cellVolt) - coulombs/(tt.milliampHours*3.6)
				sag := cellRest(charge)*float64(tt.cells) - p.volts
				assert.InEpsilon(t, tt.amps*(tt.ohm+share*tt.slow), sag, 1e-5, "after %d times", k+1)
			}
			before := p.volts
			p.draw(0)
			assert.InDelta(t, tt.amps*tt.ohm, p.volts-before, 2e-3*tt.amps*tt.slow+1e-9)
			for range 20 * steps {
				p.draw(0)
			}
			left := chargeAt(tt.cellVolt) - p.used/(tt.milliampHours*3.6)
			assert.InDelta(t, cellRest(left)*float64(tt.cells), p.volts, 1e-6)
		})
	}
}

// A pack of 3000 mA h gives 3 A for an hour, from full to empty (definition).
// Drawn by power, volts times amps are the watts asked for and the craft's
// own six.
func TestPackCounts(t *testing.T) {
	c := Default().Craft
	c.RestV = 4.182
	p := newPack(&c)
	for range 3600 * 2000 {
		p.draw(3)
	}
	assert.InDelta(t, 10_800, p.used, 1e-3)
	assert.InDelta(t, 4*3.0-3*0.024, p.volts, 1e-3)

	c = Default().Craft
	p = newPack(&c)
	for _, watts := range []float64{0, 40, 200} {
		for range 2000 {
			p.step(watts, 0)
		}
		assert.InEpsilon(t, watts+6, p.volts*p.amps, 1e-4)
	}
}

// On the bench itself: throttle up, and the pack's volts and amps before and
// half a second after lie on a line of a slope between the resistance at once
// and that of both parts.
func TestTwoPointResistanceOnTheBench(t *testing.T) {
	sc := quietScenario()
	sc.Events = append(sc.Events, Event{At: 3, Do: "throttle", To: 0.6, Over: 0.05})
	b := New(sc, 1)
	playUntil(b, 2.9)
	volts, amps := b.pack.volts, b.pack.amps
	playUntil(b, 3.6)
	ohm := (volts - b.pack.volts) / (b.pack.amps - amps)
	t.Logf("%.2f V %.2f A, then %.2f V %.2f A: %.2f mOhm", volts, amps, b.pack.volts, b.pack.amps, 1000*ohm)
	require.Greater(t, b.pack.amps-amps, 5.0)
	assert.Greater(t, ohm, sc.Craft.PackOhm)
	assert.Less(t, ohm, sc.Craft.PackOhm+sc.Craft.PackSlowOhm)
}
