package tone_test

import (
	"fmt"
	"math"
	"testing"

	"tetherbell/alarms/tone"
)

// response is the magnitude of the window's transform at a distance in bins,
// over the sum of its values.
func response(w []float64, bins float64) float64 {
	re, im, sum := 0.0, 0.0, 0.0
	for i, v := range w {
		s, c := math.Sincos(2 * math.Pi * bins * float64(i) / float64(len(w)))
		re += v * c
		im += v * s
		sum += v
	}
	return math.Hypot(re, im) / sum
}

func decibel(ratio float64) float64 { return 20 * math.Log10(ratio) }

// F. J. Harris, Proc. IEEE 66(1), 1978, table I, row Hann: gain 0.50, noise
// bandwidth 1.50 bins, scalloping 1.42 dB, worst case 3.18 dB (from memory);
// the further digits are for the periodic form with 4096 points (recomputed).
func TestHannWindow(t *testing.T) {
	for _, n := range []int{80, 160, 4096} {
		w := tone.Hann(n)
		sum, square := 0.0, 0.0
		for _, v := range w {
			sum += v
			square += v * v
		}
		near(t, "coherent gain", 0.5, sum/float64(n), 1e-12)
		near(t, "noise bandwidth", 1.5, float64(n)*square/(sum*sum), 1e-12)
	}
	w := tone.Hann(4096)
	scallop := -decibel(response(w, 0.5))
	near(t, "scalloping", 1.4236, scallop, 5e-5)
	near(t, "worst case", 3.185, scallop+10*math.Log10(1.5), 5e-4)
	near(t, "half the amplitude (-6 dB) 2.0000 bins wide", 0.5, response(w, 1), 1e-6)
	near(t, "first null at 2 bins", 0, response(w, 2), 1e-12)
}

// The same scalloping must show in the spectrum itself: with 64 samples and
// 128 points every other bin stands half a cell from a tone on a cell.
func TestScallopingInSpectrum(t *testing.T) {
	s := tone.NewSpectrum(64)
	s.Load(wave{amplitude: 1, frequency: 16. / 64, phase: 0.4}.samples(nil, 64))
	on := s.Power(32)
	near(t, "power on the cell", 1, on, 1e-3)
	for _, k := range []int{31, 33} {
		near(t, "scalloping", 1.4236, -decibel(math.Sqrt(s.Power(k)/on)), 0.01)
	}
}

// The fast transform must be the transform by its definition, of the
// windowed samples less their least-squares line.
func TestPowerByDefinition(t *testing.T) {
	for _, n := range []int{16, 80, 100} {
		x := wave{offset: 7, slope: -0.3}.samples(nil, n)
		newNoise(3).addTo(x, 1)
		s := tone.NewSpectrum(n)
		s.Load(x)
		flat, w := flatten(x), tone.Hann(n)
		for k := range s.Bins() {
			re, im := 0.0, 0.0
			for i, v := range flat {
				sin, cos := math.Sincos(2 * math.Pi * float64(k*i) / float64(s.Padded()))
				re += v * w[i] * cos
				im += v * w[i] * sin
			}
			near(t, fmt.Sprintf("n %d bin %d", n, k), 16*(re*re+im*im)/float64(n*n), s.Power(k), 1e-12)
		}
	}
}

// flatten takes the least-squares line from x by the normal equations in
// plain sample numbers.
func flatten(x []float64) []float64 {
	n, si, sii, sx, six := float64(len(x)), 0.0, 0.0, 0.0, 0.0
	for i, v := range x {
		t := float64(i)
		si, sii, sx, six = si+t, sii+t*t, sx+v, six+t*v
	}
	slope := (n*six - si*sx) / (n*sii - si*si)
	offset := (sx - slope*si) / n
	flat := make([]float64, len(x))
	for i, v := range x {
		flat[i] = v - offset - slope*float64(i)
	}
	return flat
}

// Pure tones on bins and between them, with offset and drift; frequency and
// amplitude are known by construction. The limit on amplitude is the one the
// documentation of Peak names; 80 samples are padded finer than 64.
func TestPeakOfPureTones(t *testing.T) {
	for _, n := range []int{64, 80, 128, 160} {
		s := tone.NewSpectrum(n)
		worstF, worstA := 0.0, 0.0
		for cell := 4.0; cell < float64(n)/2-3; cell += 0.0731 {
			for phase := 0.0; phase < 6; phase += 1.3 {
				w := wave{amplitude: 0.37, frequency: cell / float64(n), phase: phase, offset: 12, slope: 3 / float64(n)}
				s.Load(w.samples(nil, n))
				f, a, ok := s.Peak(w.frequency-2/float64(n), w.frequency+2/float64(n))
				if !ok {
					t.Fatalf("n %d cell %g: no peak", n, cell)
				}
				worstF = max(worstF, math.Abs(f-w.frequency)*float64(n))
				worstA = max(worstA, math.Abs(a/w.amplitude-1))
			}
		}
		t.Logf("n %d: frequency within %.4f cells, amplitude within %.3f %%", n, worstF, 100*worstA)
		under(t, "error of frequency in cells", 0.01, worstF)
		under(t, "error of amplitude", 0.005, worstA)
	}
}

// A band on the flank of a peak has no peak of its own.
func TestPeakLeavesAFlankAlone(t *testing.T) {
	s := tone.NewSpectrum(80)
	s.Load(wave{amplitude: 1, frequency: 0.2}.samples(nil, 80))
	if f, a, ok := s.Peak(0.205, 0.212); ok {
		t.Errorf("found %g at %g on the flank of a tone at 0.2", a, f)
	}
	if f, _, ok := s.Peak(0.19, 0.21); !ok || math.Abs(f-0.2) > 1e-3 {
		t.Errorf("lost the tone: %g, %v", f, ok)
	}
}

// Parseval: all bins together hold the mean square of the windowed samples,
// over that of the window. Bin 0 and the last stand for themselves only,
// every other one for its mirror too.
func TestBandByParseval(t *testing.T) {
	for _, n := range []int{64, 80, 160} {
		x := wave{amplitude: 2, frequency: 0.171, offset: -4, slope: 0.02}.samples(nil, n)
		newNoise(7).addTo(x, 1)
		s := tone.NewSpectrum(n)
		s.Load(x)
		w, want, square := tone.Hann(n), 0.0, 0.0
		for i, v := range flatten(x) {
			want += v * v * w[i] * w[i]
			square += w[i] * w[i]
		}
		ends := (s.Power(0) + s.Power(s.Bins()-1)) / 6 * float64(n) / float64(s.Padded())
		near(t, fmt.Sprintf("mean square, n %d", n), want/square, s.Band(0, 0.5)-ends, 1e-10)
	}
}

// A sinusoid of amplitude A has the mean square A^2/2, wherever between bins
// it stands; white noise spreads evenly; neither speaks in another's band.
func TestBandTellsMeanSquares(t *testing.T) {
	const n = 160
	s := tone.NewSpectrum(n)
	for _, cell := range []float64{20, 20.25, 20.5, 20.77} {
		x := wave{amplitude: 0.6, frequency: cell / n, phase: 1}.samples(nil, n)
		x = wave{amplitude: 3, frequency: 50.3 / n}.samples(x, n)
		s.Load(x)
		near(t, "tone", 0.18, s.Band((cell-3)/n, (cell+3)/n), 0.18*0.01)
		near(t, "other tone", 4.5, s.Band(47./n, 53./n), 4.5*0.01)
		near(t, "between", 0, s.Band(30./n, 40./n), 1e-4)
	}
	r, sum := newNoise(5), 0.0
	const runs = 4000
	for range runs {
		x := make([]float64, n)
		r.addTo(x, 2)
		s.Load(x)
		sum += s.Band(20./n, 40./n) / runs
	}
	// The band ends half a bin beyond its outer bins.
	wide := float64(s.Bin(40./n)-s.Bin(20./n)+1) / float64(s.Padded())
	near(t, "white noise", 4*2*wide, sum, 0.02*4*2*wide)
}
