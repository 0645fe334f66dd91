package detect

import (
	"fmt"

	"tetherbell/decode"
)

const (
	// How long the voltage must be under a limit is the craft file's: by its
	// defaults, 1 and 0.5 s, the dip of a spin-up is over; in four real healthy
	// flights the voltage was under the level that followed for 0.1 to 0.5 s of it
	// (open set CrazyPAD, Data 2024, 9, 79, recomputed).

	// sagBand, V a cell: the level holds so far over its limit. Throttle that
	// wanders moves those packs by 0.02 to 0.04 V.
	sagBand = 0.05
	// A pack that gives less than so many volts a cell drives no craft: nothing
	// is plugged in (the bridge has its supply from elsewhere), or nothing is
	// measured. While disarmed, all under the end of discharge is taken so: 3.0 V
	// (common practice, cell data sheets), less a margin.
	noPackArmed    = 1.0
	noPackDisarmed = 2.5
	// A cell has 4.2 V when full, 4.35 V at most (common practice, cell data
	// sheets): over that the cell count is wrong.
	cellFull = 4.4
	sagSlow  = 1.0 // lines a second
)

// packSag tells of a pack that gives too little voltage.
type packSag struct {
	medium, high lasting
	volts        float64 // of a cell
	known        bool
	level        Priority
	fit          packFit
	rest         Reading // volts of a cell with all motors at rest
	idle         int64   // motors at rest since, -1 not
}

// NewPackSag returns the detector of pack-sag.
func NewPackSag() Detector { return &packSag{idle: -1} }

func (*packSag) Kind() Kind { return PackSag }

// Reset drops the windows.
func (d *packSag) Reset() { *d = packSag{idle: -1} }

// Observe takes one voltage with its current.
func (d *packSag) Observe(b *Bench, in *Input) {
	if in.S.Tag != decode.Pack {
		return
	}
	cells := float64(b.Craft.Cells)
	if d.known = b.Volts.OK && cells > 0; !d.known {
		d.medium, d.high, d.level, d.idle = lasting{}, lasting{}, None, -1
		return
	}
	d.volts = b.Volts.V / cells
	if noPack(b) != "" {
		*d = packSag{idle: -1, volts: d.volts}
		return
	}
	s := &b.Streams[decode.Pack]
	d.medium.see(over(b.Limits.SagMedium, d.volts), in.At, s)
	d.high.see(over(b.Limits.SagHigh, d.volts), in.At, s)
	if b.Amps.OK {
		d.fit.take(b.Volts.V, b.Amps.V, in.At)
	}
	// At rest for a second: the voltage has come back up by then.
	if b.Armed != No || anyOutput(b) {
		d.idle = -1
		return
	}
	if d.idle < 0 {
		d.idle = in.At
	}
	if in.At-d.idle >= Second {
		d.rest = Reading{V: d.volts, OK: true, At: in.At}
	}
}

// noPack tells why the voltage is not that of a pack of so many cells, ""
// where it can be.
func noPack(b *Bench) string {
	v := b.Volts.V / float64(b.Craft.Cells)
	switch {
	case v < noPackArmed, v < noPackDisarmed && b.Armed == No && !anyOutput(b):
		return fmt.Sprintf("the voltage is no pack's: %.1f V a cell of %d", v, b.Craft.Cells)
	case v > cellFull:
		return fmt.Sprintf("%.1f V a cell: is the pack one of %d cells?", v, b.Craft.Cells)
	}
	return ""
}

// Judge steps the level down and up through its deadbands. With all motors at
// rest nobody must act within seconds: medium at most.
func (d *packSag) Judge(b *Bench, dst []Finding) []Finding {
	if !d.known {
		d.level = None
		return dst
	}
	s := &b.Streams[decode.Pack]
	medium, high := b.Limits.SagMedium, b.Limits.SagHigh
	quiet := b.Armed == No && !anyOutput(b)
	switch {
	case s.gone(b.Now): // what is not known has not become better
		if d.level != None {
			dst = append(dst, Finding{Where: Pack, Value: d.volts, Limit: medium})
		}
		return dst
	case d.high.met(b.Limits.SagHighSeconds, s) && !quiet || d.level == High && !quiet && over(high+sagBand, d.volts):
		d.level = High
		return append(dst, Finding{Where: Pack, Level: High, Value: d.volts, Limit: high})
	case d.medium.met(b.Limits.SagMediumSeconds, s) || d.high.met(b.Limits.SagHighSeconds, s):
		d.level = Medium
		return append(dst, Finding{Where: Pack, Level: Medium, Value: d.volts, Limit: medium})
	case d.level != None && over(medium+sagBand, d.volts):
		d.level = Medium
		return append(dst, Finding{Where: Pack, Value: d.volts, Limit: medium})
	}
	d.level = None
	return dst
}

// Missing says what the comparison lacks.
func (d *packSag) Missing(b *Bench) string {
	switch s := &b.Streams[decode.Pack]; {
	case b.Craft.Cells <= 0:
		return noCells
	case s.Count == 0:
		return b.never(decode.Pack, "no pack stream: voltage and current")
	case s.gone(b.Now):
		return stoppedOne[decode.Pack]
	case !b.Volts.OK:
		return b.without(decode.Pack, "", "pack lines come, but the voltage in them is empty")
	case s.Rate() > 0 && s.Rate() < sagSlow:
		return fmt.Sprintf("the pack stream is too slow: %.1f a second", s.Rate())
	}
	return noPack(b)
}
