package account

import "math"

const (
	// maxStretches bounds a curve: more than a screen or a page has dots across.
	// When they are used up two neighbours become one, so that a curve of any
	// session has between half of them and all.
	maxStretches = 1800
	// firstStep is the length of a stretch at the start of a session,
	// microseconds: the period of a usual output stream.
	firstStep = 20_000
	// periodsIn: a stretch of a curve that is handed out is at least so many
	// periods of its stream long, for else it would have holes that are none.
	periodsIn = 2
)

// A grid decimates the values of one kind of line to the least and the most of
// each stretch of time. All its values share the stretches, so that a line finds
// its place once.
type grid struct {
	step     int64 // microseconds
	from, to int64 // of the open stretch
	open     int   // its number, -1 none yet
	used     int   // stretches that have been open
	lo, hi   []float32
	min, max [][]float32
}

func newGrid(values int) grid {
	return grid{step: firstStep, open: -1, lo: make([]float32, values), hi: make([]float32, values)}
}

// at opens the stretch of a time; it must be called before add.
func (g *grid) at(t int64) {
	if t >= g.to || t < g.from || g.open < 0 {
		g.turn(max(t, 0))
	}
}

// add takes one value into the open stretch.
func (g *grid) add(k int, v float64) {
	f := float32(v)
	if f < g.lo[k] {
		g.lo[k] = f
	}
	if f > g.hi[k] {
		g.hi[k] = f
	}
}

var none = [2]float32{float32(math.Inf(1)), float32(math.Inf(-1))}

// turn goes to another stretch. A line that lags may go back to one.
func (g *grid) turn(t int64) {
	if g.open < 0 {
		g.min, g.max = make([][]float32, len(g.lo)), make([][]float32, len(g.lo))
		for k := range g.lo {
			g.min[k], g.max[k] = make([]float32, maxStretches), make([]float32, maxStretches)
		}
		g.wipe(0)
	} else {
		g.close()
	}
	for t/g.step >= maxStretches {
		g.double()
	}
	g.open = int(t / g.step)
	g.from = int64(g.open) * g.step
	g.to = g.from + g.step
	g.used = max(g.used, g.open+1)
	for k := range g.lo {
		g.lo[k], g.hi[k] = g.min[k][g.open], g.max[k][g.open]
	}
}

// close keeps the open stretch.
func (g *grid) close() {
	for k := range g.lo {
		g.min[k][g.open], g.max[k][g.open] = g.lo[k], g.hi[k]
	}
}

func (g *grid) wipe(from int) {
	for k := range g.min {
		for i := from; i < maxStretches; i++ {
			g.min[k][i], g.max[k][i] = none[0], none[1]
		}
	}
}

// double makes one stretch of two.
func (g *grid) double() {
	for k := range g.min {
		pair(g.min[k], g.max[k])
	}
	g.step *= 2
	g.used = (g.used + 1) / 2
	g.wipe(maxStretches / 2)
}

// pair merges neighbours in place; what is left of the slices is stale.
func pair(lo, hi []float32) {
	for i := range len(lo) / 2 {
		lo[i] = min(lo[2*i], lo[2*i+1])
		hi[i] = max(hi[2*i], hi[2*i+1])
	}
	if n := len(lo); n%2 == 1 {
		lo[n/2], hi[n/2] = lo[n-1], hi[n-1]
	}
}

// curve hands out value k, times a factor; nil where it was never measured.
// period is that of the stream, microseconds.
func (g *grid) curve(k int, name, unit string, period, factor float64) *Curve {
	if g.open < 0 {
		return nil
	}
	g.close()
	lo := append([]float32(nil), g.min[k][:g.used]...)
	hi := append([]float32(nil), g.max[k][:g.used]...)
	step := g.step
	for ; float64(step) < periodsIn*period && len(lo) > 1; step *= 2 {
		pair(lo, hi)
		n := (len(lo) + 1) / 2
		lo, hi = lo[:n], hi[:n]
	}
	c := &Curve{Name: name, Unit: unit, Step: float64(step) / 1e6, Min: make([]*float32, len(lo)), Max: make([]*float32, len(lo))}
	any := false
	for i := range lo {
		if lo[i] > hi[i] {
			continue
		}
		any = true
		lo[i], hi[i] = float32(float64(lo[i])*factor), float32(float64(hi[i])*factor)
		c.Min[i], c.Max[i] = &lo[i], &hi[i]
	}
	if !any {
		return nil
	}
	return c
}

// most is the greatest value of the curve, 0 where none is over nought.
func (c *Curve) most() float64 {
	most := 0.0
	for _, v := range c.Max {
		if v != nil {
			most = max(most, float64(*v))
		}
	}
	return most
}
