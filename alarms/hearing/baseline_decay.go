package hearing

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// What the decay ratio is set to. The method is T. Miao and D. E. Seborg,
// "Automatic detection of excessively oscillatory feedback control loops",
// Proc. IEEE Conf. Control Applications, 359-364, 1999: criterion and limit
// from memory. Window and lags are ours.
const (
	// decayHop is both how often the ratio is told, in seconds, and the length
	// of the blocks the window is made of.
	decayHop    = 0.1
	decayBlocks = 25 // in the window: 2.5 s
	decayLags   = 10 // blocks of lag: 1 s, so 1.5 s of signal always overlap
	decayLimit  = 0.5

	// decayFloor is the mean square under which the window counts as constant:
	// a single flicker of the stream's last digit lies a factor of ten above,
	// rounding errors of the sums below.
	decayFloor = 1e-13
)

// A decayRatio is Miao and Seborg's detector: how much of the first swing of
// the autocorrelation function is left in the second.
//
// The autocorrelation of the window is kept as sums of products of the blocks'
// spectra, one sum for each distance of two blocks. A new block then costs its
// own products alone, and only the lags up to the second minimum are ever
// transformed back.
type decayRatio struct {
	gated bool // tell the window's RMS while the ratio is excessive, else 0

	block int     // grid points a block
	step  float64 // of the grid, seconds
	fft   *fourier.FFT

	begun   bool
	origin  float64 // time of the first grid point
	points  int     // on the grid up to now
	newest  rmsFrame
	axes    [3]decayAxis
	mixed   []complex128 // spectrum of a block of lags
	lagged  []float64    // and its products, twice a block long
	slot    int          // where the next block goes
	windows int          // blocks seen, at most decayBlocks
}

type decayAxis struct {
	filling  []float64 // the block under way, then as many zeros
	x        []float64 // the window, a ring of blocks
	sums     [decayBlocks]float64
	spectra  []complex128 // of the blocks, a ring too
	products []complex128 // sums over the window, by distance in blocks
	score    float64
}

// Name implements Baseline.
func (d *decayRatio) Name() string {
	if d.gated {
		return "decay ratio (Miao and Seborg 1999), RMS where excessive"
	}
	return "decay ratio (Miao and Seborg 1999)"
}

// Reset implements Baseline.
func (d *decayRatio) Reset(rate float64) {
	if block := max(2, int(math.Round(rate*decayHop))); block != d.block {
		d.block, d.step = block, decayHop/float64(block)
		d.fft = fourier.NewFFT(2 * block)
		d.mixed, d.lagged = make([]complex128, block+1), make([]float64, 2*block)
		for i := range d.axes {
			d.axes[i] = decayAxis{
				filling:  make([]float64, 2*block),
				x:        make([]float64, decayBlocks*block),
				spectra:  make([]complex128, decayBlocks*(block+1)),
				products: make([]complex128, (decayLags+1)*(block+1)),
			}
		}
	}
	d.begun = false
}

// begin starts an empty window at a frame.
func (d *decayRatio) begin(f *Frame) {
	d.begun, d.origin, d.points = true, f.T, 0
	d.slot, d.windows = 0, 0
	for i := range d.axes {
		clear(d.axes[i].products)
		d.axes[i].score = 0
	}
	d.newest = rmsFrame{f.T, f.Output}
}

// Take implements Baseline.
func (d *decayRatio) Take(f *Frame) {
	// After a hole as long as the window nothing of it is left.
	if !d.begun || f.T-d.newest.t > decayHop*decayBlocks {
		d.begin(f)
	}
	for {
		at := d.origin + float64(d.points)*d.step
		if at > f.T {
			break
		}
		share := 1.0
		if f.T > d.newest.t {
			share = (at - d.newest.t) / (f.T - d.newest.t)
		}
		k := d.points % d.block
		for i, v := range f.Output {
			d.axes[i].filling[k] = d.newest.x[i] + share*(v-d.newest.x[i])
		}
		d.points++
		if k == d.block-1 {
			d.move()
		}
	}
	d.newest = rmsFrame{f.T, f.Output}
}

// move lets the window slide by the block just filled and judges it.
func (d *decayRatio) move() {
	full := d.windows == decayBlocks
	for i := range d.axes {
		a := &d.axes[i]
		if full {
			d.multiply(a, decayLags, 1, -1)
		}
		own := a.x[d.slot*d.block : (d.slot+1)*d.block]
		copy(own, a.filling)
		sum := 0.0
		for _, v := range own {
			sum += v
		}
		a.sums[d.slot] = sum
		d.fft.Coefficients(d.spectrum(a, d.slot), a.filling)
		d.multiply(a, min(decayLags, d.windows), -1, 1)
	}
	d.slot = (d.slot + 1) % decayBlocks
	if !full {
		d.windows++
	}
	if d.windows == decayBlocks {
		for i := range d.axes {
			d.judge(&d.axes[i])
		}
	}
}

func (d *decayRatio) spectrum(a *decayAxis, slot int) []complex128 {
	slot = (slot + decayBlocks) % decayBlocks
	return a.spectra[slot*(d.block+1):][:d.block+1]
}

// multiply adds to the products (sign 1), or takes from them (-1), those of
// the block in the slot with itself and with the blocks at up to the given
// distance, ahead of it in time (toward 1) or behind it (-1).
func (d *decayRatio) multiply(a *decayAxis, distance, toward int, sign float64) {
	own := d.spectrum(a, d.slot)
	for j := range distance + 1 {
		other := d.spectrum(a, d.slot+toward*j)[:len(own)]
		sums := a.products[j*len(own):][:len(own)]
		// The later block times the conjugate of the earlier one.
		turn := sign * float64(toward)
		for k, u := range own {
			v := other[k]
			sums[k] += complex(
				sign*(real(u)*real(v)+imag(u)*imag(v)),
				turn*(real(u)*imag(v)-imag(u)*real(v)))
		}
	}
}

// judge sets the score by the window as it is now.
func (d *decayRatio) judge(a *decayAxis) {
	a.score = 0
	n := d.block * decayBlocks
	total := 0.0
	for _, v := range a.sums {
		total += v
	}
	mean := total / float64(n)
	oldest := d.slot * d.block
	head, tail := oldest, oldest-1 // next to fall out of the overlap
	left, right := total, total    // sums of the earlier and the later of each pair
	var swings swings
	for lag := range decayLags * d.block {
		if lag%d.block == 0 {
			d.lag(a, lag/d.block)
		}
		if lag > 0 {
			if tail < 0 {
				tail += n
			}
			left -= a.x[tail]
			right -= a.x[head]
			tail--
			if head++; head == n {
				head = 0
			}
		}
		// Divided by the pairs there are, so that a steady oscillation keeps
		// its height at every lag.
		pairs := float64(n - lag)
		r := (d.lagged[lag%d.block]-mean*(left+right))/pairs + mean*mean
		if lag == 0 && r < decayFloor {
			return
		}
		if swings.add(r) {
			break
		}
	}
	ratio := swings.ratio()
	switch {
	case !d.gated:
		a.score = ratio
	case ratio >= decayLimit:
		a.score = math.Sqrt(swings.zero)
	}
}

// lag puts the sums of products at the lags from j blocks on into the first
// half of lagged: pairs of blocks j apart give them from that lag on, pairs
// j+1 apart up to it, a block later.
func (d *decayRatio) lag(a *decayAxis, j int) {
	near := a.products[j*len(d.mixed):][:len(d.mixed)]
	far := a.products[(j+1)*len(d.mixed):][:len(d.mixed)]
	scale := 1 / float64(2*d.block)
	odd := scale // a shift by half the transform turns every other sign
	for k := range d.mixed {
		d.mixed[k] = complex(
			scale*real(near[k])+odd*real(far[k]),
			scale*imag(near[k])+odd*imag(far[k]))
		odd = -odd
	}
	d.fft.Sequence(d.lagged, d.mixed)
}

// Score implements Baseline: the ratio, or with the gate the window's RMS
// while the ratio is excessive.
func (d *decayRatio) Score(i int) float64 {
	if !d.begun {
		return 0
	}
	return d.axes[i].score
}

// swings finds the first minimum, the first maximum and the second minimum of
// an autocorrelation function told lag by lag from 0.
type swings struct {
	zero      float64 // at lag 0
	last, now float64
	lag       int // of now, plus one
	found     int
	at, value [3]float64
}

// add takes the value of the next lag and reports whether all three are found.
func (s *swings) add(r float64) bool {
	if s.lag == 0 {
		s.zero = r
	}
	turned := s.now < s.last && s.now <= r
	if s.found == 1 {
		turned = s.now > s.last && s.now >= r
	}
	if s.lag >= 2 && turned {
		// A parabola through the three: on the grid alone, ten lags a cycle
		// would cut up to a twentieth off a peak.
		off := (s.last - r) / (2 * (s.last - 2*s.now + r))
		s.at[s.found] = float64(s.lag-1) + off
		s.value[s.found] = s.now - (s.last-r)*off/4
		s.found++
	}
	s.last, s.now = s.now, r
	s.lag++
	return s.found == 3
}

// ratio is a/b: a is the height of the maximum above the line through the two
// minima, b the depth of the first minimum below the line from lag 0 to the
// maximum. It is 0 where the function does not swing that often.
func (s *swings) ratio() float64 {
	if s.found < 3 {
		return 0
	}
	line := func(x, x0, y0, x1, y1 float64) float64 { return y0 + (y1-y0)*(x-x0)/(x1-x0) }
	a := s.value[1] - line(s.at[1], s.at[0], s.value[0], s.at[2], s.value[2])
	b := line(s.at[0], 0, s.zero, s.at[1], s.value[1]) - s.value[0]
	return a / b
}
