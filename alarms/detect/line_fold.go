package detect

import (
	"math"

	"tetherbell/decode"
)

const (
	// foldLow and foldHigh bound the band of oscillations, hertz.
	foldLow, foldHigh = 2.0, 30.0
	// foldShare: a fold under a tenth of the limit for oscillations is too small
	// to be taken for one that matters (common practice, no source).
	foldShare = 0.1
	// foldRuns: heard in so many segments, 1.5 s, it stands in the band; on the
	// way through it in a ramp it does not. foldMiss segments without end it.
	foldRuns = 5
	foldMiss = 4
	// foldHold: one that left the band for no longer than this is the same.
	foldHold = 5 * Second
)

// lineFolds follows the lines that fold into the band of oscillations. Rotors
// of one speed share a line, so the largest is told and no rotor blamed.
type lineFolds struct {
	run, miss [decode.MaxMotors][3]int
	up        bool
	seen      int64   // engine time at which it last was so
	motor     int     // whose line it is, the first of those that share it
	order     int     // 0 once, 1 twice, 2 blade pass
	hz, at    float64 // the line, and where it shows
	size      float64 // deg/s, peak
	low, high float64 // the lines of once a turn then, hertz
}

func (d *lineFolds) clear() { *d = lineFolds{} }

// take looks at one segment of body rates.
func (d *lineFolds) take(b *Bench, e *lineEar, hz, spread *[decode.MaxMotors]float64, o [3]float64, n, motors, poles int) {
	best := 0.0
	low, high := math.Inf(1), 0.0
	for m := range motors {
		turn := hz[m] * 2 / float64(poles)
		if turn > 0 {
			low, high = min(low, turn), max(high, turn)
		}
		for k := range n {
			size, at := 0.0, 0.0
			if turn > 0 {
				size, at = d.heard(b, e, turn*o[k], spread[m]*o[k]*2/float64(poles))
			}
			run, miss := &d.run[m][k], &d.miss[m][k]
			if size == 0 {
				if *miss++; *miss >= foldMiss {
					*run = 0
				}
				continue
			}
			*run, *miss = *run+1, 0
			if *run >= foldRuns && size > best {
				best = size
				d.up, d.seen, d.motor, d.order = true, e.to, m, k
				d.size, d.hz, d.at = size, turn*o[k], at
			}
		}
	}
	if best > 0 {
		d.low, d.high = low, high
	}
}

// judge reports whether the fold is heard, and whether an alarm of it is held.
func (d *lineFolds) judge(b *Bench) (is, held bool) {
	if !d.up {
		return false, false
	}
	if !b.ArmedOrUnknown() || b.Now-d.seen > foldHold {
		d.clear()
		return false, false
	}
	return b.Now-d.seen <= Second, true
}

// heard returns the size of a line's fold in the band, deg/s; 0 where none is.
func (d *lineFolds) heard(b *Bench, e *lineEar, hz, spread float64) (size, at float64) {
	at = fold(hz, e.rate)
	cell := e.cell()
	if hz < e.rate/2 || at < foldLow || at > foldHigh || spread > 2*cell {
		return 0, 0
	}
	sum := 0.0
	for axis := range 3 {
		if over, power, _ := e.near(axis, at, lineError*hz+spread+cell/2); over > lineStands {
			sum = max(sum, power)
		}
	}
	if size = math.Sqrt(sum); size < foldShare*b.Limits.OscillationRate {
		return 0, 0
	}
	return size, at
}

// foldRates are paces that bridges can send at, lines a second.
var foldRates = [...]float64{100, 125, 150, 200, 250, 300, 400, 500, 600, 800, 1000, 1250, 1600, 2000}

// otherRate suggests the slowest pace at which no order of the rotors' lines
// folds into the band, and once a turn lies well below half of it; 0 none.
func otherRate(low, high float64, o [3]float64, n int) float64 {
next:
	for _, rate := range foldRates {
		if rate < 2.5*high {
			continue
		}
		for _, order := range o[:n] {
			// Speeds a tenth lower and higher count too.
			for f := 0.9 * low * order; f <= 1.1*high*order; f += 0.5 {
				if f > rate/2 && fold(f, rate) < foldHigh {
					continue next
				}
			}
		}
		return rate
	}
	return 0
}
