package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// TestPressureAltitude holds the conversion against rows of the standard
// atmosphere, ISO 2533:1975 (table from memory, recomputed with SciPy).
func TestPressureAltitude(t *testing.T) {
	for _, row := range []struct{ metres, pascal, within float64 }{
		{0, 101325, 1e-9}, {1, 101312.99, 0.001}, {100, 100129.44, 0.001}, {500, 95460.84, 0.001},
		{1000, 89874.57, 0.001}, {2000, 79495.22, 0.001}, {5000, 54019.91, 0.002},
	} {
		assert.InDelta(t, row.metres, pressureAltitude(row.pascal), row.within, "%v Pa", row.pascal)
	}
	// The same table's slope at sea level, 12.01314 Pa/m, and 101313 Pa.
	assert.InDelta(t, 12.01314, -1/(pressureAltitude(101326)-pressureAltitude(101325)), 0.001)
	assert.InDelta(t, 0.99895, pressureAltitude(101313), 1e-5)
}

// ramp is a throttle that rises from low to high between two times.
func ramp(t, from, to, low, high float64) float64 {
	return low + (high-low)*min(max((t-from)/(to-from), 0), 1)
}

// dipBench plays a run-up of outputs in which full thrust (outputs of 0.5)
// changes the pressure altitude by so many metres.
func dipBench(tr *trial, metres, drift, hz float64) []stream {
	out := func(s float64) float64 { return ramp(s, 5, 11, 0.05, 0.5) }
	return []stream{
		{tag: decode.State, hz: 20, value: steady(state(1, 0, 1, 0.3)...)},
		{tag: decode.Out, hz: hz, value: func(s float64) []float64 { return all4(out(s)) }},
		{tag: decode.Air, hz: 20, value: func(s float64) []float64 {
			q := out(s) * out(s)
			h := metres*(q-0.0025)/(0.25-0.0025) + drift*s + 0.1*tr.rng.NormFloat64()
			return []float64{101325 * math.Pow(1-isoLapse*h/isoTemperature, isoExponent), 14}
		}},
	}
}

func TestPressureDip(t *testing.T) {
	for _, c := range []struct {
		name          string
		metres, drift float64
		rings         bool
		text          string
	}{
		{"falls", -0.9, 0, true, "falls"},
		{"climbs", 0.9, 0, true, "climbs"},
		{"just over", -0.60, 0, true, "falls"},
		{"just under", -0.40, 0, false, ""},
		{"none", 0, 0, false, ""},
		{"slow weather alone, 0.02 m/s", 0, 0.02, false, ""},
		{"a dip that weather hides, 0.02 m/s", -0.9, 0.02, true, "falls"},
	} {
		for _, hz := range []float64{50, 200, 1000} {
			tr := newTrial(NewPressureDip(), heron)
			tr.run(0, 22, dipBench(tr, c.metres, c.drift, hz)...)
			watchful(t, tr, true)
			if !c.rings {
				if len(tr.said) > 0 {
					t.Errorf("%s at %v: %s", c.name, hz, tr.list())
				}
				continue
			}
			ch := tr.one(t, Craft, Note, 5, 22)
			assert.Contains(t, ch.story.Text, c.text, c.name)
			assert.Equal(t, "m", ch.story.Unit)
		}
	}
}

// TestPressureDipMeasures: at the end of the run the change is the true one.
func TestPressureDipMeasures(t *testing.T) {
	d := &pressureDip{}
	d.Reset()
	tr := newTrial(d, heron)
	tr.run(0, 22, dipBench(tr, -1.5, 0.01, 100)...)
	assert.InDelta(t, -1.5, d.change, 0.1)
	assert.InDelta(t, 0.03, d.errorM, 0.025)
}

func TestPressureDipUnknown(t *testing.T) {
	tr := newTrial(NewPressureDip(), heron)
	s := dipBench(tr, -2, 0, 100)
	s[2].value = steady(no, 14)
	tr.run(0, 22, s...)
	tr.silent(t)
	watchful(t, tr, false)

	free := heron
	free.Hold = craft.Free
	tr = newTrial(NewPressureDip(), free)
	tr.run(0, 22, dipBench(tr, -2, 0, 100)...)
	tr.silent(t)
	require.Equal(t, "free craft: its altitude may change", tr.d.Missing(&tr.b))
}

// TestPressureDipReset: what lies before a restart is not joined to what comes
// after it.
func TestPressureDipReset(t *testing.T) {
	tr := newTrial(NewPressureDip(), heron)
	s := dipBench(tr, -2, 0, 100)
	tr.run(0, 6, s...)
	tr.d.Reset()
	tr.run(11.5, 22, s...) // thrust stands from here on
	tr.silent(t)
}

// TestDipAtRest: rotors that stood for the whole window leave no number that is
// none, where thrust by which to fit is missing.
func TestDipAtRest(t *testing.T) {
	d := NewPressureDip().(*pressureDip)
	d.cur.slot = dipBins
	for i := range d.bins {
		d.bins[i] = dipBinOf{slot: int64(i) + 1, metres: float64(i % 3), metresN: 1, thrustN: 1}
	}
	d.fit()
	if d.sure || math.IsNaN(d.change) || math.IsNaN(d.errorM) {
		t.Fatalf("sure %v, change %v, error %v", d.sure, d.change, d.errorM)
	}
}
