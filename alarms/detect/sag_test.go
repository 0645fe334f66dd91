package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// packOf is a stream of volts a cell of four, and amperes.
func packOf(hz float64, of func(s float64) (cell, amps float64)) stream {
	return stream{tag: decode.Pack, hz: hz, value: func(s float64) []float64 {
		v, a := of(s)
		return []float64{math.Round(v*4e3) / 1e3, a}
	}}
}

func packIs(hz, cell, amps float64) stream {
	return packOf(hz, func(float64) (float64, float64) { return cell, amps })
}

func TestPackSagLimits(t *testing.T) {
	for _, hz := range []float64{5, 20, 50} {
		for _, c := range []struct {
			cell, seconds float64
			want          Priority
		}{
			{3.5, 9, None}, {3.495, 0.9, None}, {3.495, 1.3, Medium},
			{3.3, 0.9, None}, {3.3, 3, Medium}, {3.295, 0.4, None}, {3.295, 0.9, High},
		} {
			tr := newTrial(NewPackSag(), heron)
			s := packOf(hz, func(s float64) (float64, float64) {
				if s >= 3 && s < 3+c.seconds-1e-9 {
					return c.cell, 10
				}
				return 3.9, 10
			})
			tr.run(0, 6+c.seconds, append(spinning(even)[:2], s)...)
			if c.want == None {
				if len(tr.said) > 0 {
					t.Errorf("%v at %v a second: %s", c, hz, tr.list())
				}
				continue
			}
			need := map[Priority]float64{Medium: 1, High: 0.5}[c.want]
			got := tr.one(t, Pack, c.want, 3+need-0.6/hz, 3+need+1.5/hz+0.02)
			assert.InDelta(t, c.cell, got.value, 1e-9)
			assert.Equal(t, "V", got.story.Unit)
			assert.Equal(t, "cleared", tr.said[len(tr.said)-1].word, tr.list())
		}
	}
}

// Lost lines, jitter and holes neither ring nor hide it.
func TestPackSagOnABadLink(t *testing.T) {
	for _, hz := range []float64{5, 20, 50} {
		tr := newTrial(NewPackSag(), heron)
		s := packIs(hz, 3.4, 10)
		s.jitter, s.loss = 0.3, 0.05
		tr.run(0, 4, append(spinning(even)[:2], s)...)
		tr.one(t, Pack, Medium, 0.9, 1.9)
	}
	// A healthy spin-up: 16 % for four tenths of a second, then 12 %.
	tr := newTrial(NewPackSag(), heron)
	tr.run(0, 12, append(spinning(even)[:2], packOf(20, func(s float64) (float64, float64) {
		switch {
		case s < 3:
			return 4.0, 0.5
		case s < 3.4:
			return 4.0 * 0.84, 20
		}
		return 4.0 * 0.88, 15
	}))...)
	tr.silent(t)
	// Seen before a hole and after it is not seen all the time.
	tr = newTrial(NewPackSag(), heron)
	low, fine := packIs(20, 3.4, 10), packIs(20, 3.8, 10)
	tr.run(0, 0.3, low)
	tr.run(1.4, 1.7, low)
	tr.run(1.7, 3, fine)
	tr.silent(t)
}

func TestPackSagWhatIsNoPack(t *testing.T) {
	for _, c := range []struct {
		volts, armed float64
		cells        int
		watched      bool
		want         Priority
	}{
		{15.6, 1, 4, true, None},
		{15.6, 1, 0, false, None}, // cells not known
		{no, 1, 4, false, None},
		{0, 1, 4, false, None},
		{5, 0, 4, false, None},     // the bridge's own supply, no pack plugged in
		{12.8, 0, 4, true, Medium}, // at rest nobody must act at once
		{12.8, 1, 4, true, High},
		{12.8, no, 4, true, High},
		{25.2, 1, 4, false, None}, // six cells for four
	} {
		craft := heron
		craft.Cells = c.cells
		tr := newTrial(NewPackSag(), craft)
		out := 0.3
		if c.armed == 0 {
			out = 0
		}
		tr.run(0, 4, stream{tag: decode.State, hz: 20, value: steady(state(c.armed, 0, 1, 0.3)...)},
			stream{tag: decode.Out, hz: 50, value: steady(all4(out)...)}, stream{tag: decode.Pack, hz: 20, value: steady(c.volts, 5)})
		watchful(t, tr, c.watched)
		if c.want == None {
			tr.silent(t)
			continue
		}
		r := tr.raised()
		if assert.Len(t, r, 1, tr.list()) {
			last := tr.said[len(tr.said)-1]
			assert.Equal(t, c.want, last.level, tr.list())
			if c.want == High {
				assert.Regexp(t, "^cut throttle", last.story.Action)
			}
		}
	}
}

func TestPackSagUnknownAndReset(t *testing.T) {
	tr := newTrial(NewPackSag(), heron)
	tr.run(0, 0.8, append(spinning(even)[:2], packIs(20, 3.4, 10))...)
	tr.run(0.8, 0.9, stream{tag: decode.Pack, hz: 20, value: steady(no, no)})
	tr.run(0.9, 1.7, packIs(20, 3.4, 10))
	tr.d.Reset()
	tr.run(1.7, 2.5, packIs(20, 3.4, 10))
	tr.silent(t)
	tr.run(2.5, 4, packIs(20, 3.4, 10))
	tr.one(t, Pack, Medium, 2.6, 2.8)
	// What goes away has not become better.
	tr.run(4, 9, spinning(even)[:2]...)
	assert.Len(t, tr.said, 1, tr.list())
	watchful(t, tr, false)
}

// model is a pack as physics has it: a resistance at once, one that follows, an
// open-circuit voltage that falls, measured with noise.
type model struct {
	ohm, slowOhm, slowS, noiseV, noiseA float64
	fall                                func(charge float64) float64 // V by A s
}

// estimate plays a current through a pack and returns the fit.
func (m model) estimate(seed uint64, hz, seconds float64, amps func(s float64) float64) *packFit {
	rng := rand.New(rand.NewPCG(seed, 9))
	f := &packFit{}
	slow, charge, before := 0.0, 0.0, amps(0)
	for i := range int(seconds * hz) {
		s := float64(i) / hz
		a := amps(s)
		charge += (a + before) / 2 / hz
		before = a
		slow += (a*m.slowOhm - slow) * (1 - math.Exp(-1/hz/max(m.slowS, 0.1)))
		v := 16 - m.fall(charge) - a*m.ohm - slow
		f.take(v+m.noiseV*rng.NormFloat64(), a+m.noiseA*rng.NormFloat64(), int64(s*1e6))
	}
	return f
}

// throttled is a run as a person makes it: idle, slowly up, held with small
// movements.
func throttled(s float64) float64 {
	switch {
	case s < 4:
		return 0.5
	case s < 10:
		return 0.5 + 9.5*math.Pow((s-4)/6, 2)
	}
	return 10 + 0.8*math.Sin(1.3*s)
}

func straight(perAs float64) func(float64) float64 {
	return func(q float64) float64 { return perAs * q }
}

// TestResistanceAgainstTruth: whatever falls slowly beside it, the resistance
// lies within three of its standard errors of what it is at once plus what
// comes on within a second.
func TestResistanceAgainstTruth(t *testing.T) {
	knee := func(q float64) float64 { return 0.0008*q + 0.004*max(q-60, 0) }
	for name, m := range map[string]model{
		"pure":         {0.05, 0, 1, 0.004, 0.03, straight(0)},
		"old":          {0.24, 0.15, 8, 0.004, 0.03, straight(0.001)},
		"falls fast":   {0.05, 0, 1, 0.004, 0.03, straight(0.02)},
		"falls faster": {0.08, 0.03, 8, 0.004, 0.03, knee},
		"coarse":       {0.05, 0.02, 20, 0.03, 0.1, straight(0.001)},
	} {
		for _, hz := range []float64{5, 20, 50} {
			within, told := 0, 0
			for seed := range uint64(20) {
				f := m.estimate(seed, hz, 20, throttled)
				if f.ohm == 0 {
					continue
				}
				told++
				most := m.ohm + m.slowOhm*(1-math.Exp(-1/m.slowS))
				if f.ohm > m.ohm-3*f.se && f.ohm < most+3*f.se {
					within++
				}
			}
			assert.GreaterOrEqual(t, told, 15, "%s at %v a second", name, hz)
			assert.GreaterOrEqual(t, float64(within), 0.9*float64(told), "%s at %v a second: %d of %d", name, hz, within, told)
		}
	}
}

// TestResistanceIsNotGuessed: where the current does not move there is no
// resistance, however much the voltage falls; nor where only noise moves.
func TestResistanceIsNotGuessed(t *testing.T) {
	for seed := range uint64(20) {
		m := model{0.05, 0.02, 8, 0.004, 0.03, straight(0.02)}
		assert.Zero(t, m.estimate(seed, 20, 30, func(float64) float64 { return 10 }).ohm)
		assert.Zero(t, m.estimate(seed, 20, 0.4, throttled).ohm, "too few lines")
		m = model{0, 0, 1, 0.004, 0.03, straight(0.001)}
		f := m.estimate(seed, 20, 20, throttled)
		assert.Less(t, f.ohm, 0.001, "no resistance at all")
	}
}

// TestDirectCurrentResistance: the worked example of IEC 61960 (second place):
// 4.05 V at 0.2 A and 3.93 V at 1.0 A make 0.150 ohm.
func TestDirectCurrentResistance(t *testing.T) {
	var f packFit
	for i := range 220 { // 0.2 of the rated current for 10 s, then 1.0 for 1 s
		v, a := 4.05, 0.2
		if i >= 200 {
			v, a = 3.93, 1.0
		}
		f.take(v, a, int64(i)*50_000)
	}
	assert.InEpsilon(t, 0.150, f.ohm, 0.05)
	assert.InDelta(t, 0.150, f.ohm, 2*f.se)
}

// TestResistanceOfARealCell: steps of 0 to -30 A at ten states of charge. From
// the two lines beside a step 1.77 mohm full, 1.53 to 1.57 in the middle and
// 1.67 near empty (computed with NumPy from the data of Oak Ridge National
// Laboratory, repository equiv-circ-model, MIT).
func TestResistanceOfARealCell(t *testing.T) {
	var at, amps, volts []float64
	for _, v := range openNumbers(t, "battery_cell/hppc_25C.csv") {
		at, amps, volts = append(at, v[0]), append(amps, -v[1]), append(volts, v[2])
	}
	var got []float64
	for k := 1; k < len(at); k++ {
		if amps[k] < 25 || amps[k-1] > 1 || at[k] < 1000 {
			continue
		}
		// The lines before a pulse come once a minute at rest: five seconds of that
		// rest, then what followed.
		var f packFit
		for i := range 10 {
			f.take(volts[k-1], amps[k-1], int64(i)*500_000)
		}
		for i := k; i < k+18; i++ {
			f.take(volts[i], amps[i], 5_000_000+int64((at[i]-at[k])*1e6))
		}
		got = append(got, f.ohm*1000)
	}
	require.Len(t, got, 10)
	for _, mohm := range got {
		assert.Greater(t, mohm, 1.4)
		assert.Less(t, mohm, 2.2)
	}
	assert.InEpsilon(t, 1.77, got[0], 0.15)
	assert.InEpsilon(t, 1.55, got[5], 0.15)
	assert.InEpsilon(t, 1.67, got[9], 0.15)
}

// TestPackSagTellsWhy: an empty pack, an old one, both, and what is left.
func TestPackSagTellsWhy(t *testing.T) {
	for _, c := range []struct {
		name, cause     string
		cellOpen, ohm   float64
		known, measured bool
	}{
		{"empty", "nearly empty", 3.5, 0.02, true, true},
		{"old", "high resistance", 3.95, 0.30, true, true},
		{"both", "old or cold pack, nearly empty", 3.55, 0.30, true, true},
		{"no current, charged", "high resistance", 4.0, 0.30, true, false},
		{"no current, empty", "nearly empty", 3.55, 0.03, true, false},
	} {
		machine := heron
		tr := newTrial(NewPackSag(), machine)
		rest := append(spinning([4]float64{})[1:2], stream{tag: decode.State, hz: 20, value: steady(state(0, 0, 1, 0)...)})
		pack := packOf(20, func(s float64) (float64, float64) {
			a := 0.5 + 7.5*min(max((s-3)*2, 0), 1) + 0.4*math.Sin(2*s)
			v := c.cellOpen - a*c.ohm/4
			if !c.measured {
				a = no
			}
			return v, a
		})
		tr.run(0, 3, append(rest, pack)...)
		tr.run(3, 12, append(spinning(even)[:2], pack)...)
		last := tr.d.Describe(&tr.b, Finding{Where: Pack, Level: Medium, Value: 3.4, Limit: 3.5})
		assert.Contains(t, last.Cause, c.cause, "%s: %v", c.name, last.More)
		if !c.measured {
			assert.Nil(t, factOf(last, "resistance_ohm"), c.name)
			continue
		}
		assert.InEpsilon(t, c.ohm, factOf(last, "resistance_ohm"), 0.05, c.name)
		assert.Positive(t, factOf(last, "resistance_se_ohm"), c.name)
		assert.InEpsilon(t, c.cellOpen*4, factOf(last, "open_circuit_v"), 0.01, c.name)
		d := tr.d.(*packSag)
		assert.InDelta(t, (d.volts-3.3)*4/c.ohm, factOf(last, "margin_a"), 0.08*math.Abs((d.volts-3.3)*4/c.ohm)+0.1, c.name)
	}
}

// TestHoverPower: the ideal power of a hover, of one rotor with 2.5 N and
// 0.2032 m: 14.0236 W (J. G. Leishman, Principles of Helicopter Aerodynamics,
// chapter 2; formula from memory, value computed).
func TestHoverPower(t *testing.T) {
	b := Bench{Motors: 1, Craft: craft.Craft{MassG: 2.5 / gravity * 1000, DiameterMM: 203.2}}
	assert.InEpsilon(t, 14.0236/hoverYield, hoverWatts(&b), 1e-4)
	// Half of the weight in lift at 10 A: 2^1.5 times as much for all of it.
	b.Load, b.Amps, b.Volts = Reading{V: 1.25, OK: true}, Reading{V: 10, OK: true}, Reading{V: 15, OK: true}
	assert.InEpsilon(t, 150*math.Pow(2, 1.5), hoverWatts(&b), 1e-9)
	// 10 ohm behind 20 V give 10 W at the current of the halved resistance at most.
	assert.InDelta(t, 1, ampsFor(20, 10, 10), 1e-9)
	assert.InDelta(t, 1, ampsFor(20, 10, 50), 1e-9)
}
