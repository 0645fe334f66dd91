package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestRobustSlopeAgainstALibrary: slopes computed with SciPy 1.10.1,
// scipy.stats.theilslopes (computed with an independent library).
func TestRobustSlopeAgainstALibrary(t *testing.T) {
	for _, c := range []struct {
		x, y  []float64
		slope float64
	}{
		// Three degrees a second with noise, one line wild: least squares gives 1.5.
		{[]float64{0, .2, .4, .6, .8, 1, 1.2, 1.4, 1.6, 1.8, 2}, []float64{30.5, 30.7, 31.2, 31.2, 90, 32.9, 33.6, 34, 34.8, 35.3, 35.6}, 2.75},
		// Whole degrees at one line a second with jitter.
		{[]float64{0, 1, 2.05, 2.97, 4}, []float64{20, 22, 25, 26, 29}, 2.1506410256410255},
		{[]float64{0, .11, .19, .33, .41, .5, .62}, []float64{40.1, 40.3, 40.2, 40.9, 41, 40.8, 41.6}, 2.333333333333343},
	} {
		var pairs [ratePairs]float64
		slope, se, ok := robustSlope(c.x, c.y, pairs[:])
		assert.True(t, ok)
		assert.InDelta(t, c.slope, slope, 1e-9)
		assert.Positive(t, se)
		// Newest first is the same cloud.
		n := len(c.x)
		x, y := make([]float64, n), make([]float64, n)
		for i := range c.x {
			x[n-1-i], y[n-1-i] = c.x[i], c.y[i]
		}
		back, _, _ := robustSlope(x, y, pairs[:])
		assert.InDelta(t, c.slope, back, 1e-9)
	}
	_, _, ok := robustSlope([]float64{1, 1, 1}, []float64{1, 2, 3}, make([]float64, 3))
	assert.False(t, ok, "all at one time")
}

// TestRobustSlopeErrorIsHonest: the standard error against the spread of many
// draws.
func TestRobustSlopeErrorIsHonest(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var pairs [ratePairs]float64
	sum, square, said := 0.0, 0.0, 0.0
	const draws = 2000
	for range draws {
		var x, y [21]float64
		for i := range x {
			x[i] = float64(i) / 10
			y[i] = 2*x[i] + 0.3*rng.NormFloat64()
		}
		slope, se, _ := robustSlope(x[:], y[:], pairs[:])
		sum, square, said = sum+slope/draws, square+slope*slope/draws, said+se/draws
	}
	assert.InDelta(t, 2, sum, 0.01)
	assert.InEpsilon(t, math.Sqrt(square-sum*sum), said, 0.15)
}

// TestFirstOrderResponse: after one to five time constants 63.212, 86.466,
// 95.021, 98.168 and 99.326 % of the way are done (1 - exp(-n); computed).
func TestFirstOrderResponse(t *testing.T) {
	const start, end, tau = 20.0, 120.0, 8.0
	var x, y []float64
	for i := range 32 {
		s := float64(i) / 2
		x, y = append(x, s), append(y, end+(start-end)*math.Exp(-s/tau))
	}
	c := fitCurve(x, y, 0.03)
	require.True(t, c.known)
	assert.InEpsilon(t, end, c.end, 1e-3)
	assert.InEpsilon(t, tau, c.tau, 1e-3)
	for n, share := range []float64{0.63212, 0.86466, 0.95021, 0.98168, 0.99326} {
		at := float64(n+1) * tau
		if at <= 15.5 {
			continue // the fit's own past
		}
		assert.InDelta(t, at-15.5, c.until(start+share*(end-start)), 0.02)
	}
	assert.Zero(t, c.until(40), "it is past that")
	assert.True(t, math.IsInf(c.until(121), 1), "it never comes there")
}

// TestLumpedCapacitance: worked examples of two textbooks. Y. A. Cengel, Heat
// and Mass Transfer, example 4-1 (page seen): a junction of 1 mm, h 210, rho
// 8500, cp 320 reads 99 % of the step after 10 s. Incropera, example 5.1 (data
// seen in a second place): time constant 1 s, 25 to 199 deg C in gas of 200 in
// 5.2 s.
func TestLumpedCapacitance(t *testing.T) {
	tau := 8500 * 320 * 0.001 / (6 * 210.0)
	c := heatCurve{end: 100, tau: tau, now: 0, known: true}
	assert.InDelta(t, 9.94, c.until(99), 0.005)
	c = heatCurve{end: 200, tau: 1, now: 25, known: true}
	assert.InDelta(t, 5.165, c.until(199), 0.001)
}

// TestCoolingOfARealCell: three thermocouples of a cell that cools down (Oak
// Ridge National Laboratory, repository equiv-circ-model, MIT): 25.857 + 8.928
// exp(-t/965.2 s), by scipy.optimize.curve_fit. Turned over, so that it heats.
func TestCoolingOfARealCell(t *testing.T) {
	var x, y []float64
	for _, v := range openNumbers(t, "battery_cell/cooling_2C.csv") {
		if v[0] < 0 || v[0] > 4497 {
			continue
		}
		x, y = append(x, v[0]), append(y, -(v[1]+v[2]+v[3])/3)
	}
	require.Greater(t, len(x), 1000)
	c := fitCurve(x, y, 0.13)
	require.True(t, c.known)
	assert.InDelta(t, -25.857, c.end, 0.01)
	assert.InEpsilon(t, 965.2, c.tau, 0.005)
	// From the first fifth the end is not to be had: it must be a line still, or
	// be right within a fifth of the way: inside the cell heat moves too, which
	// is why a curve's end never makes an alarm less urgent.
	if c = fitCurve(x[:150], y[:150], 0.13); c.known {
		assert.InDelta(t, -25.857, c.end, 8.928/5)
	}
}

// TestCurveOrLine: what is straight, bends up, or has had its power changed is
// no curve that tends to an end; what is one is told with an end that holds.
func TestCurveOrLine(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	known := func(of func(s float64) float64, step float64) (n int, ends []float64) {
		for range 100 {
			var x, y []float64
			for i := range 40 {
				s := float64(i) / 2
				v := of(s) + 0.05*rng.NormFloat64()
				if step > 0 {
					v = math.Round(v/step) * step
				}
				x, y = append(x, s), append(y, v)
			}
			if c := fitCurve(x, y, step/math.Sqrt(6)); c.known {
				n++
				ends = append(ends, c.end)
			}
		}
		return n, ends
	}
	for name, of := range map[string]func(s float64) float64{
		"straight":         func(s float64) float64 { return 20 + 2*s },
		"bends up":         func(s float64) float64 { return 20 + 0.1*s*s },
		"hardly bends":     func(s float64) float64 { return 20 + 400*(1-math.Exp(-s/200)) },
		"power comes late": func(s float64) float64 { return 20 + 60*(1-math.Exp(-max(s-10, 0)/6)) },
	} {
		for _, step := range []float64{0, 1} {
			n, _ := known(of, step)
			assert.LessOrEqual(t, n, 2, "%s, steps of %v", name, step)
		}
	}
	for _, step := range []float64{0, 1} {
		n, ends := known(func(s float64) float64 { return 20 + 50*(1-math.Exp(-s/10)) }, step)
		assert.GreaterOrEqual(t, n, 80, "steps of %v", step)
		for _, e := range ends {
			assert.InDelta(t, 70, e, 4, "steps of %v", step)
		}
	}
}
