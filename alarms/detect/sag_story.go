package detect

import (
	"fmt"
	"math"
)

const (
	// emptyCell, V at rest: a cell under this has a tenth of its charge left. The
	// real cell whose pulse test is in the open (Oak Ridge National Laboratory,
	// repository equiv-circ-model, MIT) rests at 3.53 V with 6 % and 3.72 V with
	// 17 % (recomputed).
	emptyCell = 3.6
	// weakShare: a pack that loses a larger share of its open-circuit voltage in
	// a hover is weak for its craft. In 24 real healthy flights of a small craft
	// with a small pack the steady sag was 7.4 to 11.9 % (CrazyPAD, recomputed).
	weakShare = 0.12
	// hoverLeast of weight in lift: with less, a hover's current is not told
	// from the lift of now.
	hoverLeast = 0.2
	// hoverYield: what of the electrical power becomes that of an ideal rotor,
	// where lift is not measured (common practice, no source).
	hoverYield = 0.5
)

// open returns the open-circuit voltage of a cell, as what the regression
// makes of it or as it was at rest, and what the pack loses in a hover as a
// share of it; ok false where neither is known.
func (d *packSag) open(b *Bench) (volts, share float64, ok bool) {
	cells := float64(b.Craft.Cells)
	if d.fit.ohm > 0 {
		pack := d.volts*cells + d.fit.ohm*d.fit.amps
		amps := max(d.fit.amps, ampsFor(pack, d.fit.ohm, hoverWatts(b)))
		return pack / cells, d.fit.ohm * amps / pack, true
	}
	switch {
	case b.Armed == No && !anyOutput(b):
		return d.volts, 0, true
	case !d.rest.OK:
		return 0, 0, false
	}
	// By its voltage at rest, before the resistance is known: in proportion to
	// the current, where that is measured and less than a hover's.
	share = 1 - d.volts/d.rest.V
	if b.Amps.OK && b.Amps.V > 0 {
		share *= max(1, hoverWatts(b)/b.Volts.V/b.Amps.V)
	}
	return d.rest.V, share, true
}

// ampsFor is the current at which a pack gives a power: the smaller root of
// (open - ohm i) i = watts; where there is none, that of the most it can give.
func ampsFor(open, ohm, watts float64) float64 {
	return (open - math.Sqrt(max(open*open-4*ohm*watts, 0))) / (2 * ohm)
}

// hoverWatts is the power that the craft would take in a hover, 0 not known:
// the power of now, by lift to the power of three halves, or that of ideal
// rotors, T sqrt(T/(2 rho A)) (J. G. Leishman, Principles of
// Helicopter Aerodynamics, chapter 2; from memory, recomputed).
func hoverWatts(b *Bench) float64 {
	w := b.WeightN()
	if w <= 0 {
		return 0
	}
	if b.Load.OK && b.Load.V > hoverLeast*w && b.Amps.OK {
		return b.Volts.V * b.Amps.V * math.Pow(w/b.Load.V, 1.5)
	}
	r := b.Craft.DiameterMM / 2000
	area := math.Pi * r * r * float64(b.Motors)
	if area <= 0 {
		return 0
	}
	return w * math.Sqrt(w/(2*airDensity*area)) / hoverYield
}

// Describe tells the voltage, why it is low, and how much current is left.
func (d *packSag) Describe(b *Bench, f Finding) Story {
	s := Story{
		Unit: "V", Text: fmt.Sprintf("the pack gives %.2f V a cell, limit %.2f V", f.Value, f.Limit),
		Action: "ease the throttle and end the run; charge the pack",
		More:   []Fact{{"pack_v", b.Volts.V}},
	}
	switch {
	case b.Armed == No && !anyOutput(b):
		s.Action = "do not arm; charge or change the pack"
	case f.Level == High:
		s.Action = "cut throttle; end the run; take the pack off"
		if stick := b.Stick[0]; stick.OK && stick.V < b.Limits.StickIdle {
			s.Action = "press stop; take the pack off" // there is no throttle left to cut
		}
	}
	cells := float64(b.Craft.Cells)
	open, share, ok := d.open(b)
	switch empty, weak := open < emptyCell, share > weakShare; {
	case !ok:
		s.Cause = "pack empty, old, cold or too small"
	case empty && weak:
		s.Cause = "old or cold pack, nearly empty"
	case empty:
		s.Cause = "pack nearly empty"
	case weak:
		s.Cause = "old, cold or too small pack: high resistance"
	default:
		s.Cause = "heavy load on a pack that is partly used"
	}
	if b.Amps.OK {
		s.More = append(s.More, Fact{"current_a", b.Amps.V})
	}
	if d.fit.ohm > 0 {
		// To the limit at which it is high; under 0 it has been passed.
		margin := (d.volts - b.Limits.SagHigh) * cells / d.fit.ohm
		s.More = append(s.More, Fact{"resistance_ohm", d.fit.ohm}, Fact{"resistance_se_ohm", d.fit.se}, Fact{"margin_a", margin})
		if margin > 0 {
			s.Text += fmt.Sprintf("; %.1f A more and it gives %.2f V", margin, b.Limits.SagHigh)
		}
	}
	if ok {
		s.More = append(s.More, Fact{"open_circuit_v", open * cells}, Fact{"hover_sag", share})
	}
	return s
}
