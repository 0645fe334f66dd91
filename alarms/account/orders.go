package account

import "math"

// An order is a multiple of the rotors' turns that shakes.
type order struct {
	name  string
	times float64
}

// ordersOf lists the orders of a propeller, blades 0: not known.
func ordersOf(blades int) []order {
	switch {
	case blades == 2:
		return []order{{"once a turn", 1}, {"blades pass, twice a turn", 2}}
	case blades > 2:
		return []order{{"once a turn", 1}, {"twice a turn", 2}, {"blades pass", float64(blades)}}
	}
	return []order{{"once a turn", 1}, {"twice a turn", 2}}
}

// orders adds to a spectrum where the rotors' lines fall.
func (m *motors) orders(c *Collector, s *Spectrum) {
	low, high, ok := m.speedRange(c.bench.Craft.Poles)
	if !ok {
		return
	}
	for _, o := range ordersOf(c.bench.Craft.Blades) {
		s.Orders = append(s.Orders, fold(o.name, low*o.times, high*o.times, s.TopHz)...)
	}
}

const (
	// speedSlack: speeds are told late, and change within a stretch (common
	// practice, no source).
	speedSlack = 0.03
	// binSlack: and a line is as wide as the window makes it, bins to each side.
	binSlack = 1.5
)

// rotorAt is the order whose line lay where a tone was, "" none.
func rotorAt(c *Collector, t *Tone, turned [2]float64, binHz, topHz float64) string {
	poles := c.bench.Craft.Poles
	if poles < 2 || turned[0] == 0 {
		return ""
	}
	per := 2 / float64(poles)
	for _, o := range ordersOf(c.bench.Craft.Blades) {
		for _, l := range fold(o.name, turned[0]*per*o.times*(1-speedSlack), turned[1]*per*o.times*(1+speedSlack), topHz) {
			if t.Hz > l.LowHz-binSlack*binHz && t.Hz < l.HighHz+binSlack*binHz {
				return o.name
			}
		}
	}
	return ""
}

// fold places a range of frequencies in a spectrum that ends at top, half of the
// rate it is sampled with: what lies above comes back from there, and from zero
// again (aliasing; A. V. Oppenheim and R. W. Schafer, Discrete-Time Signal
// Processing, chapter 4; from memory). The part below top is a line of its own.
func fold(name string, low, high, top float64) []RotorLine {
	var out []RotorLine
	if low < top {
		out = append(out, RotorLine{Order: name, LowHz: low, HighHz: min(high, top)})
		if high <= top {
			return out
		}
		low = top
	}
	back := func(f float64) float64 {
		f = math.Mod(f, 2*top)
		return min(f, 2*top-f)
	}
	a, b := back(low), back(high)
	from, to := min(a, b), max(a, b)
	// A range that holds a multiple of top touches that end.
	for k := math.Ceil(low / top); k*top <= high && k <= math.Ceil(low/top)+1; k++ {
		if math.Mod(k, 2) == 0 {
			from = 0
		} else {
			to = top
		}
	}
	return append(out, RotorLine{Order: name, LowHz: from, HighHz: to, Folded: true})
}
