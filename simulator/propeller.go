package simulator

import (
	"maps"
	"slices"
)

// coefficients are what a propeller makes at one speed: CT = T/(rho n^2 D^4),
// CP = P/(rho n^3 D^5), n in revolutions a second.
type coefficients struct {
	flow   float64 // n D^2, m^2/s: the Reynolds number but for chord and air
	ct, cp float64
}

// A propeller is a published static test.
type propeller struct {
	diameterIn float64
	rows       [][3]float64 // rev/min, CT, CP
}

// propellers are static tests from Brandt, Deters, Ananda, Dantsker, Selig,
// UIUC Propeller Database, vols 1-3, University of Illinois at
// Urbana-Champaign (from a compiled copy). A propeller of the same shape and
// another size has the same coefficients at the same n D^2, where the
// Reynolds numbers agree. Of the three-bladed one the row at 7440 rev/min is
// left out: its CP stands a tenth out of line with its neighbours.
var propellers = map[string]propeller{
	"3x5.0x3.75": {5, [][3]float64{
		{1477.778, 0.139069, 0.116804}, {1980, 0.143556, 0.111732}, {2526.667, 0.150364, 0.111023},
		{3060, 0.147364, 0.106184}, {3506.667, 0.148414, 0.104806}, {3946.667, 0.148775, 0.101791},
		{4500, 0.14659, 0.099024}, {4997.778, 0.149366, 0.099282}, {5433.334, 0.151686, 0.10309},
		{5937.778, 0.151365, 0.099086}, {6451.111, 0.150682, 0.097056}, {6913.334, 0.150248, 0.095101},
		{7946.667, 0.149294, 0.094482},
	}},
	"2x8.0x4.0": {8, [][3]float64{
		{3037, 0.0892, 0.0392}, {3543, 0.0918, 0.0395}, {4090, 0.0921, 0.0393}, {4592, 0.0936, 0.0394},
		{5128, 0.0941, 0.0398}, {5668, 0.0943, 0.0394}, {6197, 0.0961, 0.0401}, {6989, 0.0978, 0.0401},
	}},
	"2x8.0x3.8": {8, [][3]float64{
		{3030, 0.0951, 0.0415}, {3555, 0.0972, 0.0418}, {4093, 0.0994, 0.0424}, {4619, 0.1017, 0.0432},
		{5132, 0.1035, 0.0441}, {5676, 0.1061, 0.0452}, {6212, 0.1087, 0.0464}, {7015, 0.1143, 0.0481},
	}},
}

// propellerNames returns the names in order.
func propellerNames() []string { return slices.Sorted(maps.Keys(propellers)) }

// newPropeller returns a craft's coefficients by n D^2: those of its table,
// or constant ones where the scenario names them.
func newPropeller(c *Craft) []coefficients {
	if c.CT > 0 && c.CP > 0 {
		return []coefficients{{0, c.CT, c.CP}}
	}
	p := propellers[c.Propeller]
	d := mul(p.diameterIn, 0.0254)
	rows := make([]coefficients, len(p.rows))
	for k, r := range p.rows {
		rows[k] = coefficients{mul(r[0]/60, mul(d, d)), r[1], r[2]}
		if c.CT > 0 {
			rows[k].ct = c.CT
		}
		if c.CP > 0 {
			rows[k].cp = c.CP
		}
	}
	return rows
}

// lookUp returns CT and CP at a speed, along straight lines between the rows,
// and level beyond them. k is the row to begin the search at, and is kept: a
// rotor's speed changes little in a step.
func lookUp(rows []coefficients, flow float64, k *int) (ct, cp float64) {
	last := len(rows) - 1
	i := min(*k, last)
	for i > 0 && flow < rows[i].flow {
		i--
	}
	for i < last && flow >= rows[i+1].flow {
		i++
	}
	*k = i
	if i == last || flow <= rows[0].flow {
		return rows[i].ct, rows[i].cp
	}
	lo, hi := &rows[i], &rows[i+1]
	share := (flow - lo.flow) / (hi.flow - lo.flow)
	return lo.ct + mul(share, hi.ct-lo.ct), lo.cp + mul(share, hi.cp-lo.cp)
}
