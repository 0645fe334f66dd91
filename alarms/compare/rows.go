package compare

import (
	"math"
)

// The chance that any verdict of a comparison is wrong because chance looked
// like a difference that matters is at most 5 %: 3 % for the measures over all
// stages, 2 % for stages by themselves where there are several.
const (
	alphaOverall = 0.03
	alphaStage   = 0.02
)

// runsIn is how many runs a comparison has: each brings its own departure.
const runsIn = 2

// A pairing is one measure's batches in one matched stage.
type pairing struct {
	stage  *Stage
	a, b   batch
	weight float64 // information: the blocks of two batches as of one, n m/(n+m)
	bias   float64 // what the difference in throttle may explain, on the measure's scale
}

// pairings cuts one measure of all matched stages into batches. Stages in
// which a session has too little of it are left out.
func (m *measure) pairings(k int, stages []Stage) (all []pairing) {
	var inA, inB [][]float64 // hold by hold
	for i := range stages {
		s := &stages[i]
		if !s.Compared || s.Idle && !m.idle {
			continue
		}
		until := m.until(s.pair)
		x, y := series(s.pair.a, k, m, until), series(s.pair.b, k, m, until)
		p := pairing{stage: s, a: batchOf(flat(x)), b: batchOf(flat(y))}
		if p.a.n < leastBlocks || p.b.n < leastBlocks {
			continue
		}
		inA, inB = append(inA, x...), append(inB, y...)
		p.weight = float64(p.a.n) * float64(p.b.n) / float64(p.a.n+p.b.n)
		p.bias = m.level * math.Abs(math.Log(s.pair.b.level)-math.Log(s.pair.a.level)) // exactly the same the other way round
		if !m.log {
			p.bias *= max(math.Abs(p.a.mean), math.Abs(p.b.mean))
		}
		if math.IsNaN(p.bias) || math.IsInf(p.bias, 0) {
			p.bias = 0 // no output at all: there is no level to differ
		}
		all = append(all, p)
	}
	var a, b []*batch
	for i := range all {
		a, b = append(a, &all[i].a), append(b, &all[i].b)
	}
	spread(a, m.kin(inA))
	spread(b, m.kin(inB))
	return all
}

// kin estimates how blocks hang together, over all stages of a session: one
// stage has too few for it.
func (m *measure) kin(holds [][]float64) kinship {
	if !m.rises {
		return kinOf(correlation(holds))
	}
	// The mean of n rises is that from the first to the last: noise of the
	// first and of the last block, of n+1. Twice that for what is not noise.
	n := 0
	for _, x := range holds {
		n += len(x)
	}
	if n == 0 {
		return kinOf(0)
	}
	return kinship{min(2*float64(len(holds))/float64(n), 1), 1}
}

// until is how long after the throttle's last move a measure is compared, s.
func (m *measure) until(p match) float64 {
	if !m.aged {
		return math.Inf(1)
	}
	oldest := func(s *stage) (age float64) {
		for i := range s.blocks {
			age = max(age, s.blocks[i].age)
		}
		return age
	}
	return min(oldest(p.a), oldest(p.b)) + seconds(blockTime)/2
}

// series is a measure's values in a stage on its scale, hold by hold.
func series(s *stage, k int, m *measure, until float64) (all [][]float64) {
	last := int32(-1)
	for i := range s.blocks {
		b := &s.blocks[i]
		if math.IsNaN(b.v[k]) || b.age > until {
			continue
		}
		stretch := b.hold
		if m.rises {
			stretch = b.stay
		}
		if stretch != last || all == nil {
			all = append(all, nil)
			last = stretch
		}
		all[len(all)-1] = append(all[len(all)-1], m.onScale(b.v[k]))
	}
	return all
}

func flat(x [][]float64) (all []float64) {
	for _, v := range x {
		all = append(all, v...)
	}
	return all
}

// A trial is a row in the making.
type trial struct {
	row   Row
	m     *measure
	d     float64 // on the measure's scale
	bias  float64
	se    float64
	df    float64
	tells bool // the values differ by more than the floor
}

// trial makes one of pairings, of one stage or of several.
func (m *measure) trial(of []pairing) trial {
	var (
		terms        []term
		total        float64
		trend        float64
		meanA, meanB float64
		t            = trial{m: m}
	)
	for _, p := range of {
		total += p.weight
	}
	for _, p := range of {
		w := p.weight / total
		meanA += w * p.a.mean
		meanB += w * p.b.mean
		t.bias += w * p.bias
		trend += w * math.Hypot(p.a.trend, p.b.trend) // one cause moves all stages of a run alike
		t.row.BlocksA += p.a.n
		t.row.BlocksB += p.b.n
		// Both of a stage together, so that the sum is the same whichever comes first.
		terms = append(terms, term{w, both(p.a, p.b)})
	}
	t.d = meanB - meanA
	t.se, t.df = errorOf(terms, runsIn*m.runs*m.runs+trend*trend)
	t.row.Measure, t.row.Name, t.row.Unit = m.key, m.name, m.unit
	t.row.Before, t.row.After = m.offScale(meanA), m.offScale(meanB)
	t.row.By, t.row.effect = "difference", t.d
	t.row.Matters = m.least
	if m.log {
		t.row.By, t.row.Matters = "ratio", math.Exp(m.least)
	}
	if t.row.Before > 0 {
		ratio := t.row.After / t.row.Before
		t.row.Ratio = &ratio
	}
	t.tells = math.Abs(t.row.After-t.row.Before) >= m.floor
	t.row.P = 1
	if over := math.Abs(t.d) - m.least - t.bias; over > 0 {
		t.row.P = min(1, 2*tail(over/t.se, t.df))
	}
	return t
}

// both is the variance of the difference of two means.
func both(a, b batch) batch {
	v := a.variance + b.variance
	c := batch{n: a.n + b.n, variance: v, df: 1}
	if v > 0 {
		c.df = v * v / (a.variance*a.variance/max(a.df, 1) + b.variance*b.variance/max(b.df, 1))
	}
	return c
}

// widest keeps the ends of an interval that knows nothing at numbers that can
// be written: a million times, either way.
const widest = 6 * math.Ln10

// short reports whether a trial rests on too few blocks to be told. All measures
// are held to the same: a verdict made of those that settle soon alone would be
// silent about what rocks. Rises lie between blocks, one fewer in a hold.
func (t *trial) short() bool {
	least := leastTold
	if t.m.rises {
		least--
	}
	return min(t.row.BlocksA, t.row.BlocksB) < least
}

// decide gives a trial its interval and its verdict, at the level at which its
// family decided it.
func (t *trial) decide(level float64) {
	half := t.bias + t.se*beyond(level/2, t.df)
	low, high := t.d-half, t.d+half
	r, m := &t.row, t.m
	r.Confidence = 1 - level
	r.Verdict = CannotTell
	switch {
	case t.short():
		r.Verdict = TooShort
	case r.P <= level && t.tells:
		r.Verdict = m.word(t.d)
	case low > -m.least && high < m.least, m.log && within(r, low, high, m.floor):
		r.Verdict = Same
	}
	r.Low, r.High = low, high
	if m.log {
		r.Low, r.High = math.Exp(max(low, -widest)), math.Exp(min(high, widest))
	}
}

// within reports whether no end of the interval, nor the estimate, makes a
// change of the floor.
func within(r *Row, low, high, floor float64) bool {
	most := max(r.Before, r.After)
	return most*(1-math.Exp(min(low, -high))) < floor && math.Abs(r.After-r.Before) < floor
}

// word says what a difference means.
func (m *measure) word(d float64) Word {
	switch {
	case m.sense == noSense && d > 0:
		return More
	case m.sense == noSense:
		return Less
	case (d > 0) == (m.sense == moreIsBetter):
		return Better
	}
	return Worse
}
