package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTail holds Student's t against an independent library (scipy 1.10.1,
// scipy.stats.t.sf, computed).
func TestTail(t *testing.T) {
	for _, c := range []struct{ x, df, p float64 }{
		{0.5, 1, 0.35241638235}, {2, 1, 0.14758361765}, {12.706204736, 1, 0.025}, {2, 2.5, 0.078695747879},
		{3, 4.2, 0.0187662301984}, {5, 7, 0.000782638976586}, {2.2281388519, 10, 0.025}, {8, 6.3, 7.93303862289e-05},
		{4, 30.7, 0.000185052057798}, {6, 120, 1.07415190965e-08},
	} {
		assert.InEpsilon(t, c.p, tail(c.x, c.df), 1e-7, "%v", c)
		assert.InEpsilon(t, c.x, beyond(c.p, c.df), 1e-7, "%v", c)
	}
	// The normal distribution's, of any table.
	assert.InDelta(t, 0.025, tail(1.959964, math.Inf(1)), 1e-8)
	assert.InDelta(t, 2.575829, beyond(0.005, math.Inf(1)), 1e-6)
}

// strangers is a batch of values taken as independent, about their mean: the
// textbook's.
func strangers(x []float64) batch {
	b := batch{n: len(x)}
	for _, v := range x {
		b.mean += v / float64(len(x))
	}
	for _, v := range x {
		b.variance += (v - b.mean) * (v - b.mean)
	}
	b.df = float64(b.n - 1)
	b.variance /= b.df * float64(b.n)
	return b
}

// TestWelch: statistic, degrees of freedom and p of two samples as an
// independent library has them (scipy 1.10.1, ttest_ind with equal_var=False,
// and the degrees of freedom by numpy; computed).
func TestWelch(t *testing.T) {
	a := strangers([]float64{27.5, 21.0, 19.0, 23.6, 17.0, 17.9, 16.9, 20.1, 21.9, 22.6, 23.1, 19.6, 19.0, 21.7, 21.4})
	b := strangers([]float64{27.1, 22.0, 20.8, 23.4, 23.4, 23.5, 25.8, 22.0, 24.8, 20.2, 21.9, 22.1, 22.9, 30.1, 24.4})
	se, df := errorOf([]term{{1, both(a, b)}}, 0)
	assert.InEpsilon(t, 0.980265594071645, se, 1e-12)
	assert.InEpsilon(t, 27.766759168205894, df, 1e-12)
	x := (b.mean - a.mean) / se
	assert.InEpsilon(t, 2.8631696181530337, x, 1e-12)
	assert.InEpsilon(t, 0.00789260919363532, 2*tail(x, df), 1e-9)

	t.Run("a known variance besides", func(t *testing.T) {
		s, d := errorOf([]term{{1, both(a, b)}}, 3)
		assert.InEpsilon(t, se*se+3, s*s, 1e-12)
		assert.InEpsilon(t, df*math.Pow((se*se+3)/(se*se), 2), d, 1e-12)
		s, d = errorOf([]term{{1, batch{}}}, 4)
		assert.Equal(t, 2.0, s)
		assert.True(t, math.IsInf(d, 1))
	})
}

// TestKinship: the variance of the mean of n values of a first-order process
// is s^2/n (1 + 2 sum (1-k/n) r^k), the textbook's sum (Priestley, Spectral
// Analysis and Time Series, 5.3.2; from memory); what is used here is its limit.
func TestKinship(t *testing.T) {
	const n = 2000
	for _, r := range []float64{0, 0.3, 0.6, 0.8} {
		sum := 1.0
		for k := 1; k < n; k++ {
			sum += 2 * (1 - float64(k)/n) * math.Pow(r, float64(k))
		}
		assert.InEpsilon(t, sum, kinOf(r).mean, 0.005)
	}
}

// process is a first-order one of Gaussian values with deviation 1.
func process(rng *rand.Rand, n int, r float64) []float64 {
	x := make([]float64, n)
	v := rng.NormFloat64()
	for i := range x {
		x[i] = v
		v = r*v + math.Sqrt(1-r*r)*rng.NormFloat64()
	}
	return x
}

// TestCorrelation: the estimate is right on the average where it may speak.
func TestCorrelation(t *testing.T) {
	rng := rand.New(rand.NewPCG(100000, 1))
	for _, c := range []struct {
		r, want, off float64
		n            int
	}{{0.5, 0.5, 0.03, 200}, {0.7, 0.7, 0.03, 400}, {0, leastKin, 0.01, 400}, {0.6, 0.6, 0.1, 40}} {
		var m mean
		for range 200 {
			m.add(correlation([][]float64{process(rng, c.n, c.r)}))
		}
		assert.InDelta(t, c.want, m.of(1), c.off, "r %v, n %d", c.r, c.n)
	}
	assert.Equal(t, leastKin, correlation(nil))
	assert.Equal(t, leastKin, correlation([][]float64{{1, 1, 1, 1, 1}}))
	assert.LessOrEqual(t, correlation([][]float64{{1, 2, 3, 4, 5, 6, 9, 9, 9, 9}}), 0.8)
}

// TestCoverage: the interval of a difference holds the true one, which is
// nought, as often as it says: two sessions of several stages of Gaussian
// values with a known correlation, drawn without any spread from run to run.
func TestCoverage(t *testing.T) {
	if raceOn {
		t.Skip("the figures are the same without the race detector, and take a tenth of the time")
	}
	rng := rand.New(rand.NewPCG(100000, 2))
	const draws = 4000
	for _, c := range []struct {
		r      float64
		stages []int // blocks of each
	}{
		{0, []int{4}}, {0, []int{10}}, {0, []int{6, 10}}, {0.3, []int{6}}, {0.3, []int{6, 12}},
		{0.3, []int{40}}, {0.5, []int{10, 10, 10}}, {0.5, []int{40}}, {0.7, []int{80}},
	} {
		t.Run(fmt.Sprint(c.r, c.stages), func(t *testing.T) {
			inside := map[float64]int{}
			for range draws {
				d, se, df := drawn(rng, c.r, c.stages)
				for _, level := range []float64{0.05, 0.005} {
					if math.Abs(d) <= se*beyond(level/2, df) {
						inside[level]++
					}
				}
			}
			t.Logf("95 %%: %.1f %%, 99.5 %%: %.2f %%", 100*float64(inside[0.05])/draws, 100*float64(inside[0.005])/draws)
			// The binomial's own spread is 0.34 % and 0.11 % here.
			assert.GreaterOrEqual(t, float64(inside[0.05])/draws, 0.94)
			assert.GreaterOrEqual(t, float64(inside[0.005])/draws, 0.990)
			if c.r >= leastKin { // where that is the truth it is not too wide either
				assert.LessOrEqual(t, float64(inside[0.05])/draws, 0.99)
			}
		})
	}
}

// drawn is the difference of two sessions that are the same.
func drawn(rng *rand.Rand, r float64, stages []int) (d, se, df float64) {
	var holds [2][][]float64
	var batches [2][]*batch
	for _, n := range stages {
		for s := range 2 {
			x := process(rng, n, r)
			b := batchOf(x)
			holds[s], batches[s] = append(holds[s], x), append(batches[s], &b)
		}
	}
	m := &measure{log: true}
	for s := range 2 {
		spread(batches[s], m.kin(holds[s]))
	}
	var all []pairing
	for i, n := range stages {
		all = append(all, pairing{a: *batches[0][i], b: *batches[1][i], weight: float64(n) / 2})
	}
	tr := m.trial(all)
	return tr.d, tr.se, tr.df
}

// TestTrend: what rises through the whole stage is one draw, and says so.
func TestTrend(t *testing.T) {
	rng := rand.New(rand.NewPCG(100000, 3))
	x := process(rng, 20, 0)
	for i := range x {
		x[i] = 0.1*x[i] + 0.2*float64(i) // from 0 to 3.8: deviation 4/sqrt(12) = 1.15
	}
	b := batchOf(x)
	assert.InEpsilon(t, 1.15, b.trend, 0.05)
	assert.InDelta(t, 0.1, math.Sqrt(b.squares/18), 0.05, "about the line")
	flat := 0
	for range 1000 {
		if b := batchOf(process(rng, 20, 0)); b.trend == 0 {
			flat++
		}
	}
	assert.GreaterOrEqual(t, flat, 870, "of values without a trend one in ten shows one")
}

// TestHolm: a worked example (four tests at 5 %; from memory, as in common
// teaching texts), and against its definition.
func TestHolm(t *testing.T) {
	p := []float64{0.01, 0.04, 0.03, 0.005}
	level := holm(p, 0.05)
	assert.InDeltaSlice(t, []float64{0.05 / 3, 0.025, 0.025, 0.0125}, level, 1e-15)
	assert.Equal(t, []bool{true, false, false, true}, rejected(p, level))

	rng := rand.New(rand.NewPCG(100000, 4))
	for range 2000 {
		p := make([]float64, 1+rng.IntN(12))
		for i := range p {
			p[i] = math.Pow(rng.Float64(), 4)
			if rng.IntN(4) == 0 {
				p[i] = p[rng.IntN(i+1)]
			}
		}
		got := rejected(p, holm(p, 0.05))
		// By its definition: reject while the least p left is within alpha over
		// how many are left.
		want := make([]bool, len(p))
		for left := len(p); left > 0; left-- {
			least := -1
			for i := range p {
				if !want[i] && (least < 0 || p[i] < p[least]) {
					least = i
				}
			}
			if p[least] > 0.05/float64(left) {
				break
			}
			want[least] = true
		}
		require.Equal(t, want, got, "%v", p)
	}
	assert.Equal(t, []float64{0, 0.05}, holm([]float64{math.NaN(), 0.2}, 0.05))
}

func rejected(p, level []float64) []bool {
	out := make([]bool, len(p))
	for i := range p {
		out[i] = p[i] <= level[i]
	}
	return out
}
