package simulator

// A pack is the battery: a voltage that falls as it empties, behind a
// resistance.
type pack struct {
	ohm, cells    float64
	rest          float64 // V a cell at the start
	capacity      float64 // A s
	used          float64 // A s
	volts, amps   float64
	standingWatts float64 // what the craft takes besides its motors
}

func newPack(c *Craft) pack {
	p := pack{
		ohm: c.PackOhm, cells: float64(c.Cells), rest: c.RestV,
		capacity: mul(c.PackMAH, 3.6), standingWatts: 6,
	}
	p.volts = mul(p.rest, p.cells)
	return p
}

// step draws a power for one inner step. The current is that of the voltage
// a step ago: near enough at this step, and it needs no root.
func (p *pack) step(watts float64) {
	const dt = float64(stepUS) / 1e6
	p.amps = (watts + p.standingWatts) / max(p.volts, 1)
	p.used += mul(p.amps, dt)
	// About 0.5 V a cell from full to nearly empty, along a straight line.
	cell := p.rest - mul(0.5, p.used/p.capacity)
	p.volts = max(0, mul(cell, p.cells)-mul(p.amps, p.ohm))
}
