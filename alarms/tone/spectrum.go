// Package tone finds and measures a sinusoid that grows, holds or decays in
// evenly spaced samples. Numbers go in; frequency, amplitude and growth with
// their standard errors come out. It knows nothing of benches, axes, units or
// alarms. Frequencies are in cycles a sample, growth is per sample.
package tone

import "math"

// Spectrum holds the Hann-windowed power spectrum of one stretch of samples.
// Its buffers are made once; Load allocates nothing.
type Spectrum struct {
	n      int
	padded int
	fft    *transform
	win    []float64
	lo, hi int       // bins that are made
	power  []float64 // squared amplitude of a sinusoid that would give this bin alone
}

// NewSpectrum returns a spectrum of n samples. They are padded with zeros to
// at least twice their number, a length that is quick to transform, so that
// neighbouring bins lie no further than half a resolution cell apart.
func NewSpectrum(n int) *Spectrum {
	padded := math.MaxInt
	for _, odd := range [...]int{1, 3, 5} {
		m := odd * leastSize
		for m < 2*n {
			m *= 2
		}
		padded = min(padded, m)
	}
	s := &Spectrum{
		n: n, padded: padded, fft: newTransform(padded),
		win: Hann(n), hi: padded / 2, power: make([]float64, padded/2+1),
	}
	return s
}

// Hann returns the periodic Hann window of n points: coherent gain 1/2, noise
// bandwidth 1.5 bins (F. J. Harris, Proc. IEEE 66(1), 1978, 51-83, table I).
func Hann(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
	}
	return w
}

// Load takes the first n samples of x. A straight line through them is removed
// first, so that an offset or a drift does not leak into the low bins.
func (s *Spectrum) Load(x []float64) {
	x = x[:s.n]
	a, b := line(x)
	mid := float64(s.n-1) / 2
	win := s.win[:len(x)]
	t := -mid
	in := s.fft.in
	i := 0
	for ; i+1 < len(x); i += 2 {
		in[i/2] = complex((x[i]-a-b*t)*win[i], (x[i+1]-a-b*(t+1))*win[i+1])
		t += 2
	}
	if i < len(x) {
		in[i/2] = complex((x[i]-a-b*t)*win[i], 0)
	}
	s.fft.run()
	// A sinusoid of amplitude A gives A*n/4 in its bin: half for the two signs
	// of frequency, half for the window's coherent gain.
	scale := 4 / float64(s.n)
	s.fft.power(s.power, s.lo, s.hi, scale*scale)
}

// Only has Load make the bins between two frequencies alone, which saves time;
// Power is nought elsewhere. It returns the first bin and the last.
func (s *Spectrum) Only(lo, hi float64) (first, last int) {
	s.lo, s.hi = s.Bin(lo), s.Bin(hi)
	clear(s.power)
	return s.lo, s.hi
}

// line returns offset (at the middle) and slope of the least-squares line. The
// sums run in pairs, since one addition would wait for the other.
func line(x []float64) (offset, slope float64) {
	n := float64(len(x))
	if len(x) < 2 {
		sum := 0.0
		for _, v := range x {
			sum += v
		}
		return sum / max(n, 1), 0
	}
	var even, odd, evenT, oddT float64
	t := -(n - 1) / 2
	rest := x
	for ; len(rest) >= 2; rest = rest[2:] {
		u, v := rest[0], rest[1]
		even += u
		odd += v
		evenT += u * t
		oddT += v * (t + 1)
		t += 2
	}
	for _, v := range rest {
		even += v
		evenT += v * t
	}
	return (even + odd) / n, (evenT + oddT) / (n * (n*n - 1) / 12)
}

// Bins returns the number of bins; bin k lies at k/Padded cycles a sample.
func (s *Spectrum) Bins() int { return len(s.power) }

// Padded returns the transform's length.
func (s *Spectrum) Padded() int { return s.padded }

// Power returns the squared amplitude that bin k stands for.
func (s *Spectrum) Power(k int) float64 { return s.power[k] }

// Powers returns the powers of all bins. They are the spectrum's own: to be
// read, and only until the next Load.
func (s *Spectrum) Powers() []float64 { return s.power }

// Bin returns the bin nearest to a frequency.
func (s *Spectrum) Bin(f float64) int {
	return min(max(int(math.Round(f*float64(s.padded))), 0), len(s.power)-1)
}

// Peak returns frequency and amplitude of the highest local maximum between
// two frequencies, refined by a parabola through the logarithms of three bins
// (exact for a Gaussian main lobe, within 0.5 % of amplitude for this one at
// this padding). ok is false where the band holds no maximum of its own: what
// falls off from the band's edge is another band's.
func (s *Spectrum) Peak(lo, hi float64) (f, amplitude float64, ok bool) {
	best := s.top(max(s.Bin(lo), 1), min(s.Bin(hi), len(s.power)-2))
	if best < 0 {
		return 0, 0, false
	}
	const tiny = 1e-300 // keeps the logarithm of an empty bin finite
	l, m, r := math.Log(s.power[best-1]+tiny), math.Log(s.power[best]+tiny), math.Log(s.power[best+1]+tiny)
	shift := 0.0
	if d := l - 2*m + r; d < 0 {
		shift = min(max(0.5*(l-r)/d, -0.5), 0.5)
	}
	amplitude = math.Exp((m - 0.25*(l-r)*shift) / 2)
	if math.IsNaN(amplitude) || math.IsInf(amplitude, 0) {
		return 0, 0, false // one sample that is no number spoils every bin
	}
	return (float64(best) + shift) / float64(s.padded), amplitude, true
}

// top is the bin of the highest local maximum from one bin to another, -1 where
// there is none. A bin that is no number is none, nor is one beside it.
func (s *Spectrum) top(from, to int) int {
	best, most := -1, 0.0
	if to < from {
		return best
	}
	before, p := s.power[from-1], s.power[from]
	for i, after := range s.power[from+1 : to+2] {
		if p > most && p >= before && p >= after {
			best, most = from+i, p
		}
		before, p = p, after
	}
	return best
}

// Band returns the mean square of the samples that lies between two
// frequencies: the sum of their bins over the window's noise bandwidth of 1.5
// cells and the padding.
func (s *Spectrum) Band(lo, hi float64) float64 {
	sum := 0.0
	for k := s.Bin(lo); k <= s.Bin(hi); k++ {
		sum += s.power[k]
	}
	return sum / 2 / 1.5 * float64(s.n) / float64(s.padded)
}
