package compare

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// A batch is the values of one measure in the blocks of one stage, on the
// measure's scale: batch means in the words of simulation output analysis
// (Law, Simulation Modeling and Analysis, ch. 9).
type batch struct {
	n        int
	mean     float64
	squares  float64 // sum of squares about a straight line through them
	trend    float64 // standard deviation that the line makes, beyond what chance would
	variance float64 // of the mean, the line taken as no part of chance
	df       float64 // degrees of freedom of that variance
}

// batchOf sums values up that lie one after another. A value that rises or
// falls through the whole stage (an oscillation that grows, integrators that
// wind up) shows the spread of one draw, not of many: when it began is chance
// from run to run. Three times what chance would draw of values that do not hang
// together is left out of it (F with one degree of freedom is over 3 in about
// one of ten).
func batchOf(x []float64) batch {
	b := batch{n: len(x)}
	n := float64(b.n)
	for _, v := range x {
		b.mean += v / n
	}
	along, across := 0.0, 0.0
	for i, v := range x {
		t := float64(i) - (n-1)/2
		along += t * t
		across += t * (v - b.mean)
		b.squares += (v - b.mean) * (v - b.mean)
	}
	if b.n < 3 {
		return b
	}
	line := across * across / along
	b.squares = max(b.squares-line, 0)
	if chance := 3 * b.squares / (n - 2); line > chance {
		b.trend = math.Sqrt((line - chance) / (n - 1))
	}
	return b
}

// A kinship is how neighbouring blocks know of each other, of one measure in
// one session.
type kinship struct {
	mean float64 // by how much it makes the variance of a mean greater than that of as many strangers
	df   float64 // what it leaves of the degrees of freedom of a variance
}

// kinOf is the kinship of blocks with a lag-one correlation r that falls off
// geometrically. For the mean (1+r)/(1-r), for the variance (1-r^2)/(1+r^2)
// (Bayley & Hammersley, Supplement to J. R. Stat. Soc. 8 (1946) 184).
func kinOf(r float64) kinship {
	return kinship{(1 + r) / (1 - r), (1 - r*r) / (1 + r*r)}
}

// leastKin is the least lag-one correlation that is reckoned with: a craft
// that rocks on its pads rocks on for about a block, and few blocks cannot show
// it. In the simulator the means of stages of 10 to 40 blocks spread from run to
// run as one of 0.3 makes them.
const leastKin = 0.3

// correlation estimates the lag-one correlation of neighbouring blocks from
// what is left of each stretch about its line. The estimate from n values is
// too small by (1+4r)/n (Marriott & Pope, Biometrika 41 (1954) 390), by about
// one part in n more where a line was taken out; that is put right.
func correlation(stretches [][]float64) float64 {
	cross, square, pairs, all, used := 0.0, 0.0, 0, 0, 0
	for _, x := range stretches {
		if len(x) < 4 {
			continue
		}
		rest := aboutLine(x)
		for i, v := range rest {
			square += v * v
			if i > 0 {
				cross += v * rest[i-1]
			}
		}
		pairs += len(x) - 1
		all += len(x)
		used++
	}
	if !(square > 0) {
		return leastKin
	}
	r := cross / float64(pairs) / (square / float64(all))
	r += (2 + 4*max(r, 0)) * float64(used) / float64(all)
	return min(max(r, leastKin), 0.8)
}

// aboutLine is what is left of values about a straight line through them.
func aboutLine(x []float64) []float64 {
	n, mean, along, across := float64(len(x)), 0.0, 0.0, 0.0
	for _, v := range x {
		mean += v / n
	}
	for i, v := range x {
		t := float64(i) - (n-1)/2
		along += t * t
		across += t * (v - mean)
	}
	rest := make([]float64, len(x))
	for i, v := range x {
		rest[i] = v - mean - across/along*(float64(i)-(n-1)/2)
	}
	return rest
}

// spread gives the batches of one session their variances. A stage of a few
// blocks may look calmer than it is by chance: none is taken to spread less
// than all stages together do.
func spread(of []*batch, kin kinship) {
	squares, df := 0.0, 0.0
	for _, b := range of {
		squares += b.squares
		df += float64(b.n - 2)
	}
	if df < 1 {
		return
	}
	pooled := squares / df
	for _, b := range of {
		n := float64(b.n)
		// Correlated values spread less about their own mean than about the true
		// one: E s^2 = var (1 - (f-1)/(n-1)), the other half of the same formula.
		own := b.squares / (n - 2)
		short := max(1-(kin.mean-1)/(n-1), 0.5)
		b.variance = max(own, pooled) / short * kin.mean / n
		b.df = max(df*kin.df, 1)
	}
}

// A term is one batch's part in a sum: weight times its mean.
type term struct {
	weight float64
	batch
}

// errorOf gives the standard error of a weighted sum of independent means, and
// its degrees of freedom (Welch, Biometrika 34 (1947) 28; Satterthwaite,
// Biometrics Bulletin 2 (1946) 110). known is a variance besides that was not
// estimated from these values: it has no end of degrees of freedom.
func errorOf(terms []term, known float64) (se, df float64) {
	sum, below := 0.0, 0.0
	for _, t := range terms {
		v := t.weight * t.weight * t.variance
		sum += v
		if v > 0 {
			below += v * v / t.df
		}
	}
	total := sum + known
	if below == 0 {
		return math.Sqrt(total), math.Inf(1)
	}
	return math.Sqrt(total), total * total / below
}

// tail is the probability that Student's t with so many degrees of freedom
// lies over x.
func tail(x, df float64) float64 {
	if math.IsInf(df, 1) || df > 1e6 {
		return distuv.UnitNormal.Survival(x)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Survival(x)
}

// beyond is the x over which it lies with probability p.
func beyond(p, df float64) float64 {
	if math.IsInf(df, 1) || df > 1e6 {
		return -distuv.UnitNormal.Quantile(p)
	}
	return -distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}
