package simulator

// A pack is the battery: a voltage by its state of charge, behind a
// resistance that acts at once and one that takes its time.
type pack struct {
	ohm, slowOhm, cells float64
	slowShare           float64 // of the way of the slow part a step
	charge              float64 // at the start, 0..1
	capacity            float64 // A s
	used                float64 // A s
	slow                float64 // V that the slow part takes now
	volts, amps         float64
	standingWatts       float64 // what the craft takes besides its motors
}

// openCircuit is a cell's voltage at rest by its charge: of a real laminate
// cell at 25 degC, at rest between the pulses of a test (Oak Ridge National
// Laboratory, data of the repository equiv-circ-model, MIT licence), the charge
// counted from that data; empty is the test's own end.
var openCircuit = [...][2]float64{
	{0, 3.0}, {0.061, 3.531}, {0.165, 3.723}, {0.270, 3.802}, {0.374, 3.869}, {0.478, 3.909},
	{0.583, 3.949}, {0.687, 3.984}, {0.791, 4.048}, {0.895, 4.086}, {1, 4.182},
}

// underEmpty is how steeply a cell's voltage falls once it is empty, V for the
// whole of its charge: ten times as steep as in the data's last stretch, so
// that some three percent more are the end of it (common practice, no source:
// the knee is sharp).
const underEmpty = 87

// cellRest returns a cell's voltage at rest, along straight lines. Over full it
// stays.
func cellRest(charge float64) float64 {
	if charge < 0 {
		return max(0, openCircuit[0][1]+mul(underEmpty, charge))
	}
	return along(charge, 0, 1)
}

// chargeAt is the charge at which a cell rests at a voltage.
func chargeAt(volts float64) float64 { return along(volts, 1, 0) }

// along looks up one column of openCircuit by the other.
func along(x float64, from, to int) float64 {
	last := len(openCircuit) - 1
	for k := range last {
		if lo, hi := &openCircuit[k], &openCircuit[k+1]; x < hi[from] {
			share := max(0, (x-lo[from])/(hi[from]-lo[from]))
			return lo[to] + mul(share, hi[to]-lo[to])
		}
	}
	return openCircuit[last][to]
}

func newPack(c *Craft) pack {
	p := pack{
		ohm: c.PackOhm, slowOhm: c.PackSlowOhm, cells: float64(c.Cells), charge: chargeAt(c.RestV),
		slowShare: approach(float64(stepUS) / 1e6 / c.PackSlowS),
		capacity:  mul(c.PackMAH, 3.6), standingWatts: 6,
	}
	p.volts = mul(cellRest(p.charge), p.cells)
	return p
}

// step draws a power for one inner step, at the voltage of a step ago. eager is
// by how much the current grows with the voltage, A/V: motors that a higher
// voltage speeds up take more of it at once, which pulls the voltage back. The
// linear implicit step of Rosenbrock (1963; from memory) takes that into
// account; without it a weak pack and light motors would chatter.
func (p *pack) step(watts, eager float64) {
	was := p.volts
	standing := mul(p.standingWatts, min(1, was/mul(2, p.cells))) // under 2 V a cell nothing is left to run on
	p.draw((watts + standing) / max(was, 1))
	p.volts = was + (p.volts-was)/(1+mul(p.ohm, eager))
}

// draw takes a current for one inner step.
func (p *pack) draw(amps float64) {
	const dt = float64(stepUS) / 1e6
	p.amps = amps
	p.used += mul(amps, dt)
	p.slow += mul(p.slowShare, mul(amps, p.slowOhm)-p.slow)
	rest := mul(cellRest(p.charge-p.used/p.capacity), p.cells)
	p.volts = max(0, rest-mul(amps, p.ohm)-p.slow)
}
