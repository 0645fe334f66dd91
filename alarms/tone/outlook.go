package tone

import (
	"math"
	"math/cmplx"
)

// An Outlook says how a tone grows, and when it passes a limit, with what is
// not known: each quantile is the posterior's.
type Outlook struct {
	Growth, GrowthErr float64 // per second, mean and standard deviation
	Amplitude         float64 // at the end of the stretch
	// Odds is the logarithm of the odds that it grows, against a tone that
	// would die away if noise did not drive it, both as likely before.
	Odds float64
	// Low, Middle and High are the 5 %, 50 % and 95 % quantiles of the time
	// from the end of the stretch to the limit, seconds.
	Low, Middle, High float64
	// Early is the 20 % quantile: four times in five there is more time.
	Early float64
}

const (
	growths = 36 // grid of the growth, logarithmic
	// ratios is the grid of driving noise over measuring noise in a block,
	// logarithmic from 0.1 to 1000. In a loop the noise that is measured also
	// drives: for a loop of lag and delay by about (omega/1.5)^2 of its density,
	// which makes 17 for a block of one cycle. Rounding and folds measure without
	// driving, what shakes the body drives without measuring.
	ratios    = 6
	nodes     = 7   // of the normal distribution, equally likely
	timeBins  = 256 // of the time to the limit, logarithmic
	leastTime = 0.01
	mostTime  = 200.0
	maxBlocks = 48
)

// normalNodes are the quantiles of the normal distribution at (i+1/2)/7.
var normalNodes = [nodes]float64{-1.4652, -0.7916, -0.3661, 0, 0.3661, 0.7916, 1.4652}

// A Grower finds the outlook of a tone that noise drives while it grows: its
// complex amplitude z follows z' = growth z + driving noise, and is seen with
// measuring noise. A fitted exponential takes what the noise adds to a small
// tone for growth, and is surer than it may be; here both noises are unknown,
// and the growth's posterior is summed over a grid of growth and of the ratio
// of the noises. For each cell a Kalman filter gives the likelihood of the
// blocks (R. E. Kalman, J. Basic Engineering 82, 1960, 35-45; the likelihood by
// innovations: F. C. Schweppe, IEEE Trans. Information Theory 11(1), 1965,
// 61-70; both from memory); the common scale of the noises is integrated out.
// Growth and scale have Jeffreys' prior of a positive quantity of unknown
// size, 1/x.
type Grower struct {
	z       [maxBlocks]complex128
	rise    float64 // over half a block, as guessed
	logL    [growths][ratios]float64
	end     [growths][ratios]float64 // amplitude
	spread  [growths][ratios]float64 // variance of its logarithm when the limit is passed
	density [timeBins]float64
}

// Look takes x, samples of a stretch at rate a second, the tone's frequency in
// hertz and a first guess of its growth a second. It reports false where the
// stretch is too short.
func (g *Grower) Look(x []float64, rate, hz, growth, limit float64) (Outlook, bool) {
	n, dt := g.demodulate(x, rate, hz, growth)
	if n < 4 || limit <= 0 {
		return Outlook{}, false
	}
	lo, hi := math.Log(0.05), math.Log(0.5*hz)
	against := g.weight(g.grid(n, dt, lo, hi, -1))
	best := g.grid(n, dt, lo, hi, 1)
	odds := g.weight(best) - against
	for range 2 {
		from, to := g.support(best)
		if to-from >= growths/2 {
			break
		}
		step := (hi - lo) / (growths - 1)
		lo, hi = lo+step*float64(max(from-1, 0)), lo+step*float64(min(to+1, growths-1))
		best = g.grid(n, dt, lo, hi, 1)
	}
	o, ok := g.sum(best, lo, hi, limit)
	o.Odds = odds
	return o, ok
}

// weight is the logarithm of the sum of all cells' likelihoods.
func (g *Grower) weight(best float64) float64 {
	sum := 0.0
	for i := range growths {
		for j := range ratios {
			sum += math.Exp(g.logL[i][j] - best)
		}
	}
	return best + math.Log(sum)
}

// grid computes all cells of growth or, with a sign of -1, of decay, and the
// highest likelihood.
func (g *Grower) grid(n int, dt, lo, hi, sign float64) float64 {
	best := math.Inf(-1)
	for i := range growths {
		s := sign * math.Exp(lo+(hi-lo)*float64(i)/(growths-1))
		for j := range ratios {
			g.filter(i, j, n, dt, s)
			best = max(best, g.logL[i][j])
		}
	}
	return best
}

// support is the range of growths that are likely at all.
func (g *Grower) support(best float64) (from, to int) {
	from, to = growths, 0
	for i := range growths {
		for j := range ratios {
			if g.logL[i][j] > best-8 {
				from, to = min(from, i), max(to, i)
			}
		}
	}
	return from, to
}

// demodulate brings the tone down to complex amplitudes of blocks of whole
// cycles, the newest last, and turns them so that they stand still. Within a
// block the guessed growth is taken out, lest the mirror image of a tone that
// swells in a cycle be taken for noise.
func (g *Grower) demodulate(x []float64, rate, hz, growth float64) (n int, dt float64) {
	period := rate / hz
	cycles := math.Ceil(max(1, float64(len(x))/period/maxBlocks))
	block := cycles * period
	n = min(int(float64(len(x))/block), maxBlocks)
	dt = block / rate
	g.rise = math.Exp(growth * dt / 2)
	step := cmplx.Exp(complex(-growth/rate, -2*math.Pi/period))
	for k := range n {
		from := float64(len(x)) - float64(n-k)*block
		to := from + block
		i0, i1 := int(math.Floor(from)), min(int(math.Ceil(to)), len(x))
		turn := cmplx.Rect(math.Exp(-growth*(float64(i0)+0.5-from-block/2)/rate), -2*math.Pi/period*(float64(i0)+0.5))
		sum := complex(0, 0)
		for i := max(i0, 0); i < i1; i++ {
			// Samples at the edges belong to two blocks.
			share := min(float64(i+1), to) - max(float64(i), from)
			sum += complex(share*x[i], 0) * turn
			turn *= step
		}
		g.z[k] = sum * complex(2/block, 0)
	}
	lag := complex(0, 0)
	for k := 1; k < n; k++ {
		lag += g.z[k] * cmplx.Conj(g.z[k-1])
	}
	if lag != 0 {
		back := cmplx.Conj(lag) / complex(cmplx.Abs(lag), 0)
		turn := complex(1, 0)
		for k := range n {
			g.z[k] *= turn
			turn *= back
		}
	}
	return n, dt
}

// filter runs one cell's Kalman filter, with a measuring noise of one. The
// state z is the tone at a block's end. A block is a mean: of a path that noise
// drives from z to z' it is the mean of both ends, as the guessed growth shifts
// them, and a bridge's mean, a twelfth of the step's variance.
func (g *Grower) filter(i, j, n int, dt, growth float64) {
	ratio := math.Pow(10, float64(j)*0.8-1)
	a := math.Exp(growth * dt)
	end := 1 / (2 * g.rise)
	h := g.rise/2 + a*end
	drive := ratio * (a*a - 1) / (2 * growth * dt)
	seen := drive*(end*end+1.0/12) + 1
	z, p := g.z[0]*complex(a/h, 0), seen*(a/h)*(a/h)
	miss, logDet, det := 0.0, 0.0, 1.0
	for k := 1; k < n; k++ {
		e := g.z[k] - complex(h, 0)*z
		s := h*h*p + seen
		miss += (real(e)*real(e) + imag(e)*imag(e)) / s
		if det *= s; det > 1e100 {
			logDet, det = logDet+math.Log(det), 1
		}
		gain := (a*h*p + drive*end) / s
		z = complex(a, 0)*z + complex(gain, 0)*e
		p = a*a*p + drive - gain*gain*s
	}
	// The common scale is integrated out of n-1 innovations.
	g.logL[i][j] = -float64(n-1)*math.Log(miss+1e-300) - logDet - math.Log(det)
	size := cmplx.Abs(z)
	g.end[i][j] = size
	// What is not known of it now, and what noise will drive it by until it
	// is far larger; half of a complex variance lies along the amplitude.
	g.spread[i][j] = miss / float64(n-2) * (p + ratio/(2*growth*dt)) / (2 * size * size)
}

// sum adds the cells up.
func (g *Grower) sum(best, lo, hi, limit float64) (Outlook, bool) {
	clear(g.density[:])
	all, mean, square, amplitude := 0.0, 0.0, 0.0, 0.0
	scale := timeBins / math.Log(mostTime/leastTime)
	for i := range growths {
		s := math.Exp(lo + (hi-lo)*float64(i)/(growths-1))
		for j := range ratios {
			w := math.Exp(g.logL[i][j] - best)
			if w < 1e-9 {
				continue
			}
			now := g.end[i][j]
			all, mean, square, amplitude = all+w, mean+w*s, square+w*s*s, amplitude+w*now
			left, sd := math.Log(limit/now), math.Sqrt(g.spread[i][j])
			for _, q := range normalNodes {
				t := max((left-sd*q)/s, leastTime)
				g.density[min(int(math.Log(t/leastTime)*scale), timeBins-1)] += w / nodes
			}
		}
	}
	if all == 0 || math.IsNaN(all) {
		return Outlook{}, false
	}
	o := Outlook{Growth: mean / all, Amplitude: amplitude / all}
	o.GrowthErr = math.Sqrt(max(square/all-o.Growth*o.Growth, 0))
	at := func(share float64) float64 {
		sum := 0.0
		for k, d := range g.density {
			if sum+d >= share*all {
				part := 0.5
				if d > 0 {
					part = (share*all - sum) / d
				}
				return leastTime * math.Exp((float64(k)+part)/scale)
			}
			sum += d
		}
		return mostTime
	}
	o.Low, o.Early, o.Middle, o.High = at(0.05), at(0.2), at(0.5), at(0.95)
	return o, true
}
