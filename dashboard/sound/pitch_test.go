package sound

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tetherbell/alarms/detect"
)

// TestPitchesAreInOrder: the worse the higher, with room between, and the
// pattern's own pitch is among them.
func TestPitchesAreInOrder(t *testing.T) {
	low, medium, high := pitchesOf(detect.Low), pitchesOf(detect.Medium), pitchesOf(detect.High)
	for _, set := range [][]float64{low, medium, high} {
		assert.True(t, slices.IsSorted(set))
	}
	assert.Greater(t, medium[0]/low[pitchCount-1], 1.04)
	assert.Greater(t, high[0]/medium[pitchCount-1], 1.04)
	for _, pat := range patterns {
		assert.GreaterOrEqual(t, usualPitch(pat.Priority), 0, pat.Priority.String())
	}
}

// TestEveryPitchFigures holds every burst that may sound to the figures that
// TestPatternSpectrum and TestPatternFigures hold the usual ones to.
func TestEveryPitchFigures(t *testing.T) {
	size := 0
	for p, set := range *pitched() {
		for i, burst := range set {
			size += 2 * len(burst)
			samples := make([]float32, len(burst))
			for k, s := range burst {
				samples[k] = float32(s) / math.MaxInt16
			}
			checkStandard(t, p, samples, pitchesOf(p)[i], exact)
		}
	}
	t.Logf("%.1f MB in memory", float64(size)/1e6)
	assert.Less(t, size, 12_000_000)
}

// A slack is by how much a measured burst may miss a figure: what is rendered
// by a server is not cut to the sample.
type slack struct{ seconds, hz float64 }

var exact = slack{0, 1}

// A witness is told what does not hold: a test, or one of several tries in it.
type witness interface {
	require.TestingT
	Helper()
}

// checkStandard holds one burst, as it is in samples, to the published figures.
func checkStandard(t witness, p detect.Priority, samples []float32, hz float64, s slack) {
	t.Helper()
	want := published[p]
	marks, holes := joined(pulsesOf(envelope(samples, hz)))
	want.pulses.holds(t, p.String()+" pulses", float64(len(marks)))
	require.Len(t, marks, patternAt(p).Pulses(), "%s: %d dropouts", p, holes)
	wide := func(v span) span { return span{v.low - s.seconds, v.high + s.seconds} }
	for i, m := range marks {
		length := m.to90 - m.from90
		wide(want.length).holds(t, p.String()+" pulse length", length)
		if i > 0 {
			checkGap(t, p, i, m.from90-marks[i-1].to90, length, wide(want.spacing))
		}
	}
	var pulse []float64
	for _, v := range samples[int(marks[0].from90*Rate):int(marks[0].to90*Rate)] {
		pulse = append(pulse, float64(v))
	}
	lines := spectrum(pulse)
	pitch, level := strongest(lines)
	assert.InDelta(t, hz, pitch, s.hz, p.String())
	span{500, 1000}.holds(t, "fundamental", pitch)
	near := 0
	for k := 2.0; k*pitch <= 4000; k++ {
		if _, db := peakNear(lines, k*pitch); k*pitch >= 300 && math.Abs(db-level) <= 15 {
			near++
		}
	}
	assert.GreaterOrEqual(t, near, 4, "%s at %.0f Hz: harmonics within 15 dB", p, pitch)
}

func TestNoRotorNoChange(t *testing.T) {
	for _, hz := range [][]float64{nil, {0, 0, 0, 0}, {3, math.NaN(), math.Inf(1), -80}} {
		for _, c := range Choices(hz, 2) {
			assert.Equal(t, c.Usual, c.Pitch)
			assert.Zero(t, c.Gain)
		}
	}
}

// TestPitchProperties: whatever turns, a pitch is one of its priority's, never
// worse by the model than the usual one, and one that is kept is left for 3 dB
// only.
func TestPitchProperties(t *testing.T) {
	changed := 0
	rapid.Check(t, func(t *rapid.T) {
		hz := rapid.SliceOfN(rapid.Float64Range(30, 250), 1, maxRotors+2).Draw(t, "rotors")
		blades := rapid.IntRange(0, 8).Draw(t, "blades")
		kept := rapid.IntRange(0, pitchCount-1).Draw(t, "kept")
		r := noiseOf(hz, blades)
		for _, pat := range patterns {
			set := pitchesOf(pat.Priority)
			first := r.worth(set[bestPitch(pat.Priority, &r, -1)], pat.Harmonics)
			assert.GreaterOrEqual(t, first.over(r.worth(pat.Fundamental, pat.Harmonics)), 0.0)
			then, old := bestPitch(pat.Priority, &r, kept), r.worth(set[kept], pat.Harmonics)
			most := math.Inf(-1)
			for _, hz := range set {
				most = max(most, r.worth(hz, pat.Harmonics).over(old))
			}
			if then != kept {
				changed++
				assert.Equal(t, most, r.worth(set[then], pat.Harmonics).over(old))
			}
			assert.Equal(t, most >= 3, then != kept, "left for 3 dB, and for nothing less")
		}
		for _, c := range Choices(hz, blades) {
			assert.Contains(t, pitchesOf(c.Priority), c.Pitch)
			assert.False(t, math.IsNaN(c.Gain) || math.IsInf(c.Gain, 0))
		}
	})
	assert.Positive(t, changed, "some are left")
}

// TestMaskedPitchIsLeft works one case out by hand: rotors of 392 Hz with two
// blades pass 784 times a second, on the usual high pitch and on each of its
// multiples. 716 Hz is as far from that as the high pitches go; its third of
// an octave still has the line in it, the ear's band does not.
func TestMaskedPitchIsLeft(t *testing.T) {
	c := Choices([]float64{392, 392, 392, 392}, 2)[0]
	assert.Equal(t, detect.High, c.Priority)
	assert.Less(t, c.Pitch, 745.0)
	assert.Greater(t, c.Gain, 2.5)
	t.Logf("%.0f Hz, %+.1f dB", c.Pitch, c.Gain)
}

// TestPlayerTakesThePitch: the burst in the device is the one of the choice,
// and it stays while it repeats.
func TestPlayerTakesThePitch(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(1 * ms)
		rotors := []float64{392, 392, 392, 392}
		b.Rotors(rotors, 2)
		clear(rotors) // not kept
		want := Choices([]float64{392, 392, 392, 392}, 2)[0].Pitch
		b.after(999 * ms)
		b.alarm(detect.High)
		b.after(lengthOf(detect.High) + 100*ms)
		hz := b.pitchAfter(0)
		assert.InDelta(t, want, hz, 2)
		other := otherSpeed(t, want)
		b.Rotors([]float64{other}, 2)
		from := b.pulled()
		b.after(patternAt(detect.High).Interval + lengthOf(detect.High))
		assert.InDelta(t, want, b.pitchAfter(from), 2, "it stays")
		b.Rotors(nil, 2)
		from = b.pulled()
		b.after(patternAt(detect.High).Interval + lengthOf(detect.High))
		assert.InDelta(t, 783.99, b.pitchAfter(from), 2, "nothing turns")
	})
}

// otherSpeed finds a rotor speed at which a first high burst would take
// another pitch than hz, and one that repeats at hz keeps it.
func otherSpeed(t *testing.T, hz float64) float64 {
	kept := slices.Index(pitchesOf(detect.High), hz)
	for speed := 100.0; speed < 500; speed++ {
		r := noiseOf([]float64{speed}, 2)
		if bestPitch(detect.High, &r, -1) != kept && bestPitch(detect.High, &r, kept) == kept {
			return speed
		}
	}
	t.Fatal("there is no such speed")
	return 0
}

// pulled is how many samples the device has pulled.
func (b *bench) pulled() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return len(b.heard)
}

// pitchAfter measures the pitch of the first pulse after a sample.
func (b *bench) pitchAfter(from int) float64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	x := b.heard[from:]
	i := slices.IndexFunc(x, func(s int16) bool { return s > 10000 })
	require.GreaterOrEqual(b.t, i, 0)
	var pulse []float64
	for _, s := range x[i:min(len(x), i+Rate/10)] {
		pulse = append(pulse, float64(s))
	}
	hz, _ := strongest(spectrum(pulse))
	return hz
}

func BenchmarkChoice(b *testing.B) { // the dearest: slow rotors, many lines
	r := noiseOf([]float64{30, 31, 32, 33, 30, 31, 32, 33}, 0)
	for b.Loop() {
		bestPitch(detect.High, &r, -1)
	}
}
