package sound

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/dsp/fourier"

	"tetherbell/alarms/detect"
)

// A propNoise is rotor noise as this test makes it: on purpose not by the
// model's own figures. Lines fall by fall dB an octave, each rotor has lines
// at every multiple of its speed as well, and the carpet is louder at high
// frequencies or at low ones (common practice, no source).
type propNoise struct {
	rotors []float64
	blades int
	fall   float64 // dB an octave of the blade-pass lines
	shaft  float64 // dB of the lines of the shaft
	carpet float64 // dB of the carpet in 1 Hz at 1 kHz
	tilt   float64 // dB an octave of the carpet
}

const noiseSize = 1 << 16

// power is the power of each line of its spectrum, Hann-windowed, one line
// 0.73 Hz. It is made in time and transformed, as it would be of a recording.
func (n propNoise) power(seed uint64) []float64 {
	rnd := rand.New(rand.NewPCG(seed, 7))
	x := make([]float64, noiseSize)
	// Phasors: a sine for each sample of each line would take minutes.
	add := func(hz, amp float64) {
		turn := 2 * math.Pi * hz / Rate
		re, im := math.Sincos(2 * math.Pi * rnd.Float64())
		cs, sn := math.Cos(turn), math.Sin(turn)
		for i := range x {
			x[i] += amp * re
			re, im = re*cs-im*sn, re*sn+im*cs
		}
	}
	for _, f := range n.rotors {
		pass := f * float64(n.blades)
		for k := 1.0; k*pass < 6000; k++ {
			add(k*pass, math.Pow(10, -n.fall*math.Log2(k)/20))
		}
		for k := 1.0; k*f < 2000; k++ {
			add(k*f, math.Pow(10, (n.shaft-n.fall*math.Log2(k))/20))
		}
	}
	c := fourier.NewFFT(noiseSize).Coefficients(nil, hann(x))
	out := make([]float64, len(c))
	step := float64(Rate) / noiseSize
	for i, v := range c {
		out[i] = real(v)*real(v) + imag(v)*imag(v)
		if f := float64(i) * step; f > 50 {
			// A line of amplitude 1 has the power of 1 in the sum over its lines;
			// the carpet is exponentially spread about its mean, as noise is.
			unit := 3.0 / 8 * noiseSize * noiseSize / 4
			level := n.carpet + n.tilt*math.Log2(f/1000)
			out[i] += rnd.ExpFloat64() * float64(len(n.rotors)) * unit * math.Pow(10, level/10) * step
		}
	}
	return out
}

func hann(x []float64) []float64 {
	for i := range x {
		x[i] *= (1 - math.Cos(2*math.Pi*float64(i)/float64(len(x)))) / 2
	}
	return x
}

// A ruler is how much of the power at f+df counts as beside a tone at f.
type ruler func(f, df float64) float64

// rulers judge by other means than the model has: the ear as a gammatone
// filter of fourth order, (1 + (df/b)^2)^-4 with b of 1.019 bandwidths
// (Patterson and others 1988, from memory), whose bandwidth is the critical
// band of Zwicker and Terhardt 1980, 25 + 75 (1 + 1.4 f^2)^0.69 with f in kHz
// (from memory); and the third of an octave of ISO 7731.
var rulers = map[string]ruler{
	"ear": func(f, df float64) float64 {
		b := 1.019 * (25 + 75*math.Pow(1+1.4*f*f/1e6, 0.69))
		return math.Pow(1+df*df/b/b, -4)
	},
	"third": func(f, df float64) float64 {
		if f+df < f*math.Pow(2, -1.0/6) || f+df > f*math.Pow(2, 1.0/6) {
			return 0
		}
		return 1
	},
}

// around is the power around f by a ruler.
func (r ruler) around(power []float64, f float64) float64 {
	step := float64(Rate) / noiseSize
	var sum float64
	for i := int(0.4 * f / step); float64(i)*step < 1.6*f && i < len(power); i++ {
		sum += power[i] * r(f, float64(i)*step-f)
	}
	return sum
}

// tonePower is the spectrum of the full part of a pulse as it is synthesised.
func tonePower(p Pattern) []float64 {
	samples := p.Samples()
	x := make([]float64, noiseSize)
	n := int(p.Pulse.Seconds() * Rate)
	for i := range n {
		x[i] = float64(samples[int(p.attack().Seconds()*Rate)+i])
	}
	hann(x[:n])
	c := fourier.NewFFT(noiseSize).Coefficients(nil, x)
	out := make([]float64, len(c))
	for i, v := range c {
		out[i] = real(v)*real(v) + imag(v)*imag(v)
	}
	return out
}

// margins are the levels of a tone's components over the noise around each:
// the best of them, and the mean. What of the tone itself lies around is that
// component's power, the fifth line of each side of it and nearer.
func margins(tone, noise []float64, pitch float64, r ruler) (best, mean float64) {
	best = math.Inf(-1)
	for k := 1.0; k <= 5; k++ {
		var own float64
		mid := int(math.Round(k * pitch * noiseSize / Rate))
		for i := mid - 20; i <= mid+20; i++ { // 15 Hz: the Hann window of a pulse
			own += tone[i]
		}
		m := 10 * math.Log10(own/r.around(noise, k*pitch))
		best, mean = max(best, m), mean+m/5
	}
	return best, mean
}

// apart makes the speeds of motors that share a hover: some percent apart, as
// trim and weight leave them (common practice, no source).
func apart(hz float64, motors int, spread float64) []float64 {
	out := make([]float64, motors)
	for i := range out {
		out[i] = hz * (1 + spread*(2*float64(i)/float64(motors-1)-1))
	}
	return out
}

func at(p detect.Priority, hz float64) Pattern {
	pat := patternAt(p)
	pat.Fundamental = hz
	return pat
}

// spectra keeps each tone's spectrum.
var spectra sync.Map

func spectrumAt(p detect.Priority, hz float64) []float64 {
	key := [2]float64{float64(p), hz}
	if s, ok := spectra.Load(key); ok {
		return s.([]float64)
	}
	s := tonePower(at(p, hz))
	spectra.Store(key, s)
	return s
}

// A tally sums what the chosen pitches gained over the usual ones, in dB.
type tally struct {
	n, best, mean, worstBest, worstMean float64
}

func (y *tally) add(c Choice, noise []float64, r ruler) float64 {
	best, mean := margins(spectrumAt(c.Priority, c.Pitch), noise, c.Pitch, r)
	wasBest, wasMean := margins(spectrumAt(c.Priority, c.Usual), noise, c.Usual, r)
	y.n++
	y.best += best - wasBest
	y.mean += mean - wasMean
	y.worstBest = min(y.worstBest, best-wasBest)
	y.worstMean = min(y.worstMean, mean-wasMean)
	return best - wasBest
}

func (y *tally) String() string {
	return fmt.Sprintf("best component %+.1f dB on average (worst %+.1f), mean of components %+.1f dB (worst %+.1f), of %.0f",
		y.best/y.n, y.worstBest, y.mean/y.n, y.worstMean, y.n)
}

// TestPitchStandsOut measures chosen and usual pitch in rotor noise.
func TestPitchStandsOut(t *testing.T) {
	for _, b := range []struct {
		name string
		propNoise
		spread float64
		motors int
	}{
		{"four, two blades", propNoise{blades: 2, fall: 8, shaft: -15, carpet: -55, tilt: -2}, 0.02, 4},
		{"four, three blades", propNoise{blades: 3, fall: 6, shaft: -12, carpet: -52, tilt: 0}, 0.02, 4},
		{"six, two blades, wide apart", propNoise{blades: 2, fall: 5, shaft: -18, carpet: -50, tilt: 1}, 0.05, 6},
		{"four, two blades, close, little carpet", propNoise{blades: 2, fall: 10, shaft: -20, carpet: -60, tilt: -3}, 0.005, 4},
	} {
		t.Run(b.name, func(t *testing.T) {
			tallies := map[string]*tally{"ear": {}, "third": {}}
			for hover := 40.0; hover <= 240; hover += 20 {
				b.rotors = apart(hover, b.motors, b.spread)
				noise := b.power(uint64(hover))
				for _, c := range Choices(b.rotors, b.blades) {
					for name, y := range tallies {
						if g := y.add(c, noise, rulers[name]); g < -0.5 {
							t.Logf("%s, %.0f Hz, %s at %.0f Hz: %+.1f dB, %+.1f by the model", name, hover, c.Priority, c.Pitch, g, c.Gain)
						}
					}
				}
			}
			for name, y := range tallies {
				t.Log(name+":", y)
				assert.Greater(t, y.best/y.n, map[string]float64{"ear": 0.1, "third": 2.5}[name], "%s: gained on average", name)
				assert.Greater(t, y.mean/y.n, 0.1, "%s: components on average", name)
				assert.Greater(t, y.worstBest, -2.0, "%s: lost at worst", name)
			}
		})
	}
}

// TestPitchStandsOutAnywhere draws rotors of 30 to 250 Hz and noise of many
// shapes. A line on the edge of a band moves a single figure by some decibels,
// so the worst may lie lower than in the table above, but hardly ever.
func TestPitchStandsOutAnywhere(t *testing.T) {
	rnd := rand.New(rand.NewPCG(20261127, 1))
	tallies := map[string]*tally{"ear": {}, "third": {}}
	lost, all := 0, 0
	draws := 60
	if testing.Short() {
		draws = 15
	}
	for i := range draws {
		n := propNoise{
			blades: 2 + rnd.IntN(2), fall: 4 + 6*rnd.Float64(), shaft: -12 - 10*rnd.Float64(),
			carpet: -60 + 12*rnd.Float64(), tilt: -3 + 4*rnd.Float64(),
		}
		n.rotors = apart(30+220*rnd.Float64(), []int{4, 6, 8}[rnd.IntN(3)], 0.05*rnd.Float64())
		noise := n.power(uint64(i))
		for _, c := range Choices(n.rotors, n.blades) {
			for name, y := range tallies {
				all++
				if y.add(c, noise, rulers[name]) < -0.5 {
					lost++
				}
			}
		}
	}
	for name, y := range tallies {
		t.Log(name+":", y)
		assert.Greater(t, y.best/y.n, map[string]float64{"ear": 0.3, "third": 2}[name], name)
		assert.Greater(t, y.worstBest, -4.5, name)
	}
	t.Logf("%d of %d lost over 0.5 dB", lost, all)
	assert.Less(t, float64(lost), 0.04*float64(all))
}
