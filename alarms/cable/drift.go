package cable

import "math"

const (
	// envelopeMost seconds of least differences are kept, and envelopeLeast are
	// needed: in 30 s, 200 ppm are 6 ms, and the least difference of a second is
	// known to about one.
	envelopeMost  = 60
	envelopeLeast = 30
	// driftLeast is what is told: crystals keep within 20 to 50 ppm, ceramic
	// resonators within 5000 (common practice, no source).
	driftLeast = 200.0
	// looseMost is how far the least differences may lie from a straight line, as
	// a standard deviation: beyond, something else moves them.
	looseMost = 4000.0 // us
	// driftLasts is how many seconds in a row must say so.
	driftLasts = 3
)

// An envelope is the least difference between the clocks in each second.
type envelope struct {
	at, least [envelopeMost]float64 // host time and difference, microseconds
	n         int                   // taken so far, may be over envelopeMost
	second    int64                 // that is being gone through
	low       int64
	lowAt     int64
	lasts     int
}

// take takes a difference, and reports whether a second has ended.
func (e *envelope) take(host, diff int64) bool {
	second := host / 1_000_000
	ended := e.n == 0 || second != e.second
	if ended {
		if e.n > 0 {
			e.at[(e.n-1)%envelopeMost], e.least[(e.n-1)%envelopeMost] = float64(e.lowAt), float64(e.low)
		} else {
			e.lasts = 0
		}
		e.n++
		e.second, e.low, e.lowAt = second, diff, host
	} else if diff < e.low {
		e.low, e.lowAt = diff, host
	}
	return ended
}

// drift returns by how many millionths the bridge's clock is fast, and whether
// that is sure: both halves of the time must say so, for a step gives a slope
// too.
func (e *envelope) drift() (ppm float64, sure bool) {
	n := min(e.n-1, envelopeMost)
	if n < envelopeLeast {
		return 0, false
	}
	from := e.n - 1 - n
	slope, doubt, loose := e.slope(from, n)
	first, _, _ := e.slope(from, n/2)
	second, _, _ := e.slope(from+n/2, n-n/2)
	apart := 150 + math.Abs(slope)/4
	if loose > looseMost || math.Abs(slope)-doubt < driftLeast || math.Abs(first-slope) > apart || math.Abs(second-slope) > apart {
		e.lasts = 0
		return 0, false
	}
	e.lasts++
	return -slope, e.lasts >= driftLasts
}

// slope fits a straight line to n seconds from one on (least squares) and
// returns its slope in millionths, three standard deviations of it, and by how
// many microseconds the seconds lie off the line.
func (e *envelope) slope(from, n int) (ppm, doubt, loose float64) {
	var mx, my float64
	for i := from; i < from+n; i++ {
		mx += e.at[i%envelopeMost]
		my += e.least[i%envelopeMost]
	}
	mx, my = mx/float64(n), my/float64(n)
	var xx, xy, yy float64
	for i := from; i < from+n; i++ {
		x, y := e.at[i%envelopeMost]-mx, e.least[i%envelopeMost]-my
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
	}
	if xx == 0 || n < 3 {
		return 0, math.Inf(1), math.Inf(1)
	}
	slope := xy / xx
	rest := math.Max(0, yy-slope*xy) / float64(n-2)
	return slope * 1e6, 3 * math.Sqrt(rest/xx) * 1e6, math.Sqrt(rest)
}
