package account

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A clockwork hands out the times of lines, microseconds: even, or with jitter,
// lost lines, and a rate that is not the one that was announced.
type clockwork struct {
	rate   float64
	jitter float64 // of the period, one standard deviation
	lost   float64
	chance *rand.Rand
}

func (c *clockwork) times(seconds float64) (at []int64) {
	for i := range int(seconds * c.rate) {
		if c.lost > 0 && c.chance.Float64() < c.lost {
			continue
		}
		t := (float64(i) + c.jitter*c.chance.NormFloat64()) * 1e6 / c.rate
		at = append(at, int64(math.Round(t))+1_000_000)
	}
	return at
}

// congruential is the signal of the outside check: a decaying and a steady line
// in noise of a linear congruential generator.
func congruential() []float64 {
	x := make([]float64, 1024)
	s := uint64(12345)
	for n := range x {
		s = (1103515245*s + 12345) % (1 << 31)
		t := float64(n) / 200
		x[n] = 0.8*math.Exp(-1.5*t)*math.Sin(2*math.Pi*7.3*t+0.3) + 0.2*math.Sin(2*math.Pi*31*t) + 0.1*(float64(s)/(1<<31)-0.5)
	}
	return x
}

// The density is that of SciPy 1.10.1, signal.welch(x, 200, "hann", 256, 128),
// which GNU Octave 7.3 confirms to 11 digits.
func TestWelchAgainstSciPy(t *testing.T) {
	w := welch{channels: 1}
	w.begin(256, 5000)
	for i, v := range congruential() {
		w.take(int64(i)*5000, &[3]float64{v}, 200)
	}
	require.Equal(t, 7, w.spans)
	for k, want := range map[int]float64{
		0: 3.869298530741725e-05, 1: 2.04441286575316e-05, 5: 1.1059121406344266e-05, 9: 0.006645880579602399, 10: 0.004424186673645517,
		20: 5.541897189049987e-06, 39: 0.009186514094610156, 40: 0.01479270935328769, 41: 0.001340743697309553, 64: 7.425880260990281e-06,
		100: 5.8378569214180865e-06, 128: 3.188501804387452e-06,
	} {
		assert.InEpsilon(t, want, w.sum[0][k]/7, 1e-9, "bin %d", k)
	}
	sum := 0.0
	for _, p := range w.sum[0] {
		sum += p / 7 * w.binHz()
	}
	assert.InEpsilon(t, 0.029983402594294096, sum, 1e-9)
}

// White noise of a known variance has the density variance over half the rate
// (Parseval), whatever the bins' width; a sine has half its amplitude's square,
// and its frequency and amplitude are told.
func TestWelchOfKnownDensity(t *testing.T) {
	for _, c := range []struct {
		name         string
		rate, hz     float64
		jitter, lost float64
		within       float64 // of the density
	}{
		{"even", 400, 13, 0, 0, 0.03},
		{"fast, so that bins are joined", 1000, 7.3, 0, 0, 0.03},
		{"very fast", 2000, 55, 0, 0, 0.03},
		{"slow", 60, 9, 0, 0, 0.05},
		{"jitter", 400, 13, 0.05, 0, 0.08},
		{"lost lines", 400, 13, 0.02, 0.02, 0.06},
	} {
		t.Run(c.name, func(t *testing.T) {
			chance := rand.New(rand.NewPCG(3, 4))
			clock := clockwork{c.rate, c.jitter, c.lost, chance}
			const noise, amplitude = 0.05, 0.2
			w := welch{channels: 2}
			seconds := 120.0
			for _, at := range clock.times(seconds) {
				v := [3]float64{noise * chance.NormFloat64(), amplitude * math.Sin(2*math.Pi*c.hz*float64(at)/1e6)}
				w.take(at, &v, c.rate*1.004) // the pace is known so well
			}
			require.Greater(t, float64(w.spans), seconds/2)
			s := w.spectrum(0, "noise", "1/sqrt(Hz)")
			assert.LessOrEqual(t, len(s.Root), maxBins)
			assert.InEpsilon(t, c.rate/2, s.TopHz, 1e-3)
			assert.InEpsilon(t, c.rate/2, s.BinHz*float64(len(s.Root)-1), 1e-3)
			mean := 0.0
			for _, r := range s.Root[2 : len(s.Root)*3/4] {
				mean += float64(r) * float64(r) / float64(len(s.Root)*3/4-2)
			}
			assert.InEpsilon(t, noise*noise/(c.rate/2), mean, c.within)

			line := w.spectrum(1, "line", "1/sqrt(Hz)")
			power := 0.0
			for _, r := range line.Root {
				power += float64(r) * float64(r) * line.BinHz
			}
			assert.InEpsilon(t, amplitude*amplitude/2, power, c.within)
			assert.InDelta(t, c.hz, w.loud[1].Hz, 0.03)
			assert.InEpsilon(t, amplitude, w.loud[1].Amplitude, 0.03)
			assert.Greater(t, w.loud[1].Share, 0.95)
		})
	}
}

// A short shake is found in a long calm, with its time.
func TestWelchFindsTheLoudest(t *testing.T) {
	chance := rand.New(rand.NewPCG(1, 1))
	w := welch{channels: 1}
	for i := range 400 * 60 {
		x := float64(i) / 400
		v := [3]float64{0.002 * chance.NormFloat64()}
		if x > 30 && x < 33 {
			v[0] += 0.07 * math.Sin(2*math.Pi*11*x)
		}
		w.take(int64(x*1e6), &v, 400)
	}
	assert.InDelta(t, 11, w.loud[0].Hz, 0.05)
	assert.InEpsilon(t, 0.07, w.loud[0].Amplitude, 0.05)
	assert.InDelta(t, 31.5, w.loud[0].At, 1)
}

// A hole ends a stretch: nothing is made up across it. Another pace is left out.
func TestWelchAcrossAHole(t *testing.T) {
	w := welch{channels: 1}
	var at int64
	feed := func(n int, period int64) {
		for range n {
			at += period
			w.take(at, &[3]float64{1}, 400)
		}
	}
	feed(700, 2500)
	at += 200_000
	feed(700, 2500)
	assert.Zero(t, w.spans, "no stretch is whole")
	feed(400, 2500)
	assert.Equal(t, 1, w.spans)
	w.drop()
	feed(4000, 3000)
	assert.Equal(t, 1, w.spans, "another pace")
	feed(2400, 2500)
	assert.Greater(t, w.spans, 2)
	slow := welch{channels: 1}
	for i := range int64(1000) {
		slow.take(i*200_000, &[3]float64{1}, 5)
	}
	assert.Nil(t, slow.spectrum(0, "", ""))
}

// Wider bins keep the power.
func TestWiden(t *testing.T) {
	assert.Equal(t, []float64{2, 2, 2, 2, 2}, widen([]float64{2, 2, 2, 2, 2, 2, 2, 2, 2}, 2))
	p := []float64{0, 0, 0, 0, 8, 0, 0, 0, 0}
	assert.Equal(t, []float64{0, 0, 4, 0, 0}, widen(p, 2))
	assert.Equal(t, []float64{0, 2, 0}, widen(p, 4))
}

// A rotor's line over half the rate shows below it: f folds to rate - f, and
// from the whole rate on to f - rate again (the sampling theorem).
func TestFold(t *testing.T) {
	for _, c := range []struct {
		name           string
		low, high, top float64
		want           []RotorLine
	}{
		{"below", 30, 60, 200, []RotorLine{{"x", 30, 60, false}}},
		{"above", 250, 300, 200, []RotorLine{{"x", 100, 150, true}}},
		{"across the top", 180, 260, 200, []RotorLine{{"x", 180, 200, false}, {"x", 140, 200, true}}},
		{"over the rate", 420, 450, 200, []RotorLine{{"x", 20, 50, true}}},
		{"across the rate", 380, 450, 200, []RotorLine{{"x", 0, 50, true}}},
		{"across three halves", 590, 610, 200, []RotorLine{{"x", 190, 200, true}}},
		{"all over", 250, 900, 200, []RotorLine{{"x", 0, 200, true}}},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, fold("x", c.low, c.high, c.top)) })
	}
}

// A line of a rotor is told from others by where it folds to: 68 turns a second
// in a stream of 60 show at 8 Hz.
func TestLineOfARotor(t *testing.T) {
	r := turning{68, 69, 3}
	assert.Equal(t, "once a turn", r.lineAt(8.5, 0.5, 30))
	assert.Equal(t, "twice a turn", r.lineAt(17, 0.5, 30)) // 137 less 120
	assert.Equal(t, "blades pass", r.lineAt(28, 0.5, 30))  // 207 less 180, or 240 less 207
	assert.Empty(t, r.lineAt(3, 0.5, 200))
	assert.Equal(t, "once a turn", r.lineAt(68.5, 0.5, 200))
	assert.Equal(t, "blades pass", r.lineAt(195, 0.5, 200))
	assert.Empty(t, (&turning{}).lineAt(68.5, 0.5, 200), "speeds not known")
}
