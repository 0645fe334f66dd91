package detect

import "math"

// The resistance of the pack comes from a regression of its voltage on the
// current, beside what falls slowly and must not be taken for resistance: a
// constant, the charge drawn and its square (the open-circuit voltage falls
// with it, and faster near the end), and the current of the last ten seconds
// (diffusion in the cells follows so slowly). The current explains only what
// these do not, and where it moves no faster than they do, the standard error
// says so. It is done with the square of the charge and without: what the two
// disagree by is doubt as well. Older lines weigh less.
const (
	// fitKeep is the time constant of forgetting, s: long enough to hold the
	// throttle's last movement, short enough for the course of the charge to be a
	// parabola (common practice, no source).
	fitKeep = 20.0
	// fitSlow is the time constant, s, of what follows slowly. The d.c. resistance
	// of IEC 61960 is taken 1 s after a step that follows 10 s of rest (second
	// place): what comes on later is not resistance.
	fitSlow = 10.0
	// fitGap, s: over a longer hole the charge drawn is not known.
	fitGap = 2.0
	// fitLeast is the least sum of weights, in lines.
	fitLeast = 12
	// fitError: a resistance whose standard error is a larger share of it is
	// not told.
	fitError = 0.25
	// fitSpread: noise of the measured current makes a regression find too
	// little resistance, by its variance over that of the current's movement
	// (attenuation; W. A. Fuller, Measurement Error Models, 1987, chapter 1; from
	// memory). With five times as much movement it is a fifth at most.
	fitSpread = 5
	// fitSame: correlation of a residual with the next that still counts as noise
	// with a memory.
	fitSame = 0.98

	fitBend  = 3 // the charge squared
	fitLast  = 4 // the current: eliminated last
	fitTerms = 5
)

// packFit is the regression, kept up line by line.
type packFit struct {
	at     int64
	lines  int
	origin float64 // V of the first line, for small numbers
	amps   float64 // of the newest line
	before float64 // and of the one before
	charge float64 // drawn since the first line, 100 A s
	slow   float64 // current of the last ten seconds, A

	weight float64
	xx     [fitTerms][fitTerms]float64
	xy     [fitTerms]float64
	yy     float64

	tremble  float64 // weighted sum of second differences of the current, squared
	trembles float64 // and of their weights

	theta [fitTerms]float64 // as of the newest line, for the residuals
	rest  float64           // residual of the newest line
	same  float64           // weighted sum of residuals times the next
	vary  float64           // and times themselves

	ohm float64 // resistance, 0 not known
	se  float64 // its standard error
}

func (f *packFit) clear() { *f = packFit{} }

// take adds one line.
func (f *packFit) take(volts, amps float64, at int64) {
	dt := float64(at-f.at) / float64(Second)
	if f.lines > 0 && dt <= 0 {
		return
	}
	if f.lines > 0 && dt > fitGap {
		f.clear()
	}
	if f.lines == 0 {
		*f = packFit{at: at, origin: volts, amps: amps, before: amps, slow: amps}
		dt = 0
	}
	keep := math.Exp(-dt / fitKeep)
	middle := (amps + f.amps) / 2
	f.charge += middle * dt / 100
	f.slow += (middle - f.slow) * -math.Expm1(-dt/fitSlow)
	second := amps - 2*f.amps + f.before
	f.tremble, f.trembles = f.tremble*keep, f.trembles*keep
	if f.lines >= 2 {
		f.tremble += second * second
		f.trembles++
	}
	f.at, f.before, f.amps = at, f.amps, amps
	f.lines++

	x := [fitTerms]float64{1, f.charge, f.slow, f.charge * f.charge, amps}
	y := volts - f.origin
	f.weight = f.weight*keep + 1
	for i := range x {
		for j := range i + 1 {
			f.xx[i][j] = f.xx[i][j]*keep + x[i]*x[j]
		}
		f.xy[i] = f.xy[i]*keep + x[i]*y
	}
	f.yy = f.yy*keep + y*y

	e := y
	for i := range x {
		e -= f.theta[i] * x[i]
	}
	f.vary = f.vary*keep + e*e
	f.same = f.same*keep + e*f.rest
	f.rest = e
	f.solve()
}

// eliminate solves the normal equations term by term, the current last, with
// the square of the charge or without. pivot is what is left of the current's
// movement, left what is left of the voltage's, in squares.
func (f *packFit) eliminate(bend bool) (theta [fitTerms]float64, pivot, left float64) {
	var l [fitTerms][fitTerms]float64
	var d, z [fitTerms]float64 // pivots, and the right side in their terms
	left = f.yy
	for i := range fitTerms {
		if i == fitBend && !bend {
			continue
		}
		d[i], z[i] = f.xx[i][i], f.xy[i]
		for j := range i {
			if d[j] <= 0 {
				continue
			}
			v := f.xx[i][j]
			for k := range j {
				v -= l[i][k] * d[k] * l[j][k]
			}
			l[i][j] = v / d[j]
			d[i] -= l[i][j] * l[i][j] * d[j]
			z[i] -= l[i][j] * z[j]
		}
		// A term that the ones before it explain to the last digit says nothing.
		if d[i] <= 1e-9*f.xx[i][i] {
			d[i], z[i] = 0, 0
			continue
		}
		left -= z[i] * z[i] / d[i]
	}
	for i := fitLast; i >= 0; i-- {
		if d[i] <= 0 {
			continue
		}
		theta[i] = z[i] / d[i]
		for k := i + 1; k < fitTerms; k++ {
			theta[i] -= l[k][i] * theta[k]
		}
	}
	return theta, d[fitLast], max(left, 0)
}

// solve works out the resistance and its standard error.
func (f *packFit) solve() {
	f.ohm, f.se = 0, 0
	plain, _, _ := f.eliminate(false)
	theta, pivot, left := f.eliminate(true)
	f.theta = theta
	if f.weight < fitLeast || pivot <= 0 {
		return
	}
	ohm := -theta[fitLast]
	variance := left / (f.weight - fitTerms) / pivot
	// Residuals that follow each other tell less than so many lines would: by
	// (1+r)/(1-r) for noise with a memory and a current that moves slowly.
	if f.vary > 0 {
		r := min(max(f.same/f.vary, 0), fitSame)
		variance *= (1 + r) / (1 - r)
	}
	other := ohm + plain[fitLast]
	variance += other * other
	// The share of the movement that may be noise is bounded twice. White noise of
	// variance s has second differences of variance 6 s: what trembles is noise,
	// or current that flowed. And noise of the current has no answer in the
	// voltage: the regression the other way round finds too much resistance, by
	// one over the squared correlation (R. Frisch, Statistical Confluence
	// Analysis, 1934; from memory). Half of what noise would take away is given
	// back, and the rest is doubt, even from nought to all.
	lost := 1 - ohm*ohm*pivot/(ohm*ohm*pivot+left+hair)
	if f.trembles > 0 {
		lost = min(lost, f.tremble/f.trembles/6*f.weight/pivot)
	}
	ohm *= 1 + lost/2
	se := math.Sqrt(variance + ohm*ohm*lost*lost/12)
	if ohm <= 0 || lost > 1.0/fitSpread || se > fitError*ohm {
		return
	}
	f.ohm, f.se = ohm, se
}
