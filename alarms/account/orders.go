package account

import "math"

// An order is a multiple of the rotors' turns that shakes.
type order struct {
	name  string
	times float64
}

// ordersOf lists the orders of a propeller, blades 0: not known.
func ordersOf(blades int) []order { return orders[min(max(blades, 0), len(orders)-1)] }

// orders are listed by the number of blades, up to the protocol's eight.
var orders = func() (all [9][]order) {
	for blades := range all {
		all[blades] = []order{{"once a turn", 1}, {"twice a turn", 2}}
		switch {
		case blades == 2:
			all[blades][1].name = "blades pass, twice a turn"
		case blades > 2:
			all[blades] = append(all[blades], order{"blades pass", float64(blades)})
		}
	}
	return all
}()

// Where the orders of a spectrum come from.
const (
	ordersOver = "the speeds of the middle 90 % of the time armed and over idle"
	ordersIdle = "the speeds of the middle 90 % of the time armed, at idle, for the motors never worked over it"
)

// orders adds to a spectrum where the rotors' lines fall. Run-up and idle are left
// out where the motors worked over it: with them a line would reach over all
// speeds of the run and over what has nothing to do with the rotors.
func (m *motors) orders(c *Collector, s *Spectrum) {
	low, high, ok := m.work.speedRange(c.bench.Craft.Poles)
	s.OrdersOf = ordersOver
	if !ok {
		low, high, ok = m.idle.speedRange(c.bench.Craft.Poles)
		s.OrdersOf = ordersIdle
	}
	if !ok {
		s.OrdersOf = ""
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

// A turning is how fast the shafts turned, turns a second, and with how many
// blades; zero where that is not known.
type turning struct {
	low, high float64
	blades    int
}

// join takes in how they turned at another time.
func (r *turning) join(o *turning) {
	if o.low > 0 && (r.low == 0 || o.low < r.low) {
		r.low = o.low
	}
	r.high = max(r.high, o.high)
	r.blades = max(r.blades, o.blades)
}

// lineAt is the order whose line, or its fold about top, half of the rate, lay
// within a width of a frequency; "" none.
func (r *turning) lineAt(hz, width, top float64) string {
	if r.low == 0 {
		return ""
	}
	for _, o := range ordersOf(r.blades) {
		low, high := r.low*o.times*(1-speedSlack)-width, r.high*o.times*(1+speedSlack)+width
		for f := 0.0; f-hz <= high; f += 2 * top { // all that folds to hz
			if f+hz >= low && f+hz <= high || f-hz >= low && f-hz <= high {
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
