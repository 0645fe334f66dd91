package detect

import (
	"fmt"

	"tetherbell/decode"
)

// controlLost tells when the craft says that its control link is gone while it
// is armed.
type controlLost struct {
	gone confirm
	up   bool
	out  float64 // mean output as it went, for the story
	has  bool
}

// NewControlLost returns the detector of control-lost.
func NewControlLost() Detector { return &controlLost{} }

func (*controlLost) Kind() Kind { return ControlLost }

// Reset forgets the lines from before a restart.
func (d *controlLost) Reset() { *d = controlLost{} }

// armedForControl: armed, or unknown after it was last said to be.
func armedForControl(b *Bench) bool {
	return b.Armed == Yes || b.Armed == Unknown && b.LastArmed == Yes
}

// Observe counts lines that say so. What is unknown neither rings nor clears.
func (d *controlLost) Observe(b *Bench, in *Input) {
	if in.S.Tag != decode.State {
		return
	}
	switch {
	case !armedForControl(b) || b.ControlOK == Yes:
		d.gone.see(false, in.At)
	case b.ControlOK == No:
		if d.gone.count == 0 {
			d.out, d.has = b.MeanOut()
		}
		d.gone.see(true, in.At)
	}
}

// Judge rings by two lines, or by one where lines are slow.
func (d *controlLost) Judge(b *Bench, dst []Finding) []Finding {
	if d.gone.count == 0 {
		d.up = false
		return dst
	}
	f := Finding{Where: Craft, Value: float64(b.Now-d.gone.first) / float64(Second)}
	if b.ControlOK == No && d.gone.met(b.Now, &b.Streams[decode.State]) {
		d.up, f.Level = true, High
	}
	if !d.up {
		return dst
	}
	return append(dst, f)
}

// Describe tells for how long.
func (d *controlLost) Describe(b *Bench, f Finding) Story {
	s := Story{
		Unit:   "s",
		Text:   fmt.Sprintf("the craft has said for %.2f s, armed, that its control link is gone: it may not hear the sticks", f.Value),
		Cause:  "control link gone: receiver, its wire or the transmitter",
		Action: "press stop; keep clear",
	}
	if d.has {
		s.More = append(s.More, Fact{"mean_output_then", d.out})
	}
	if v, ok := b.MeanOut(); ok {
		s.More = append(s.More, Fact{"mean_output", v})
	}
	return s
}

// Missing: both flags are in state lines.
func (d *controlLost) Missing(b *Bench) string {
	switch {
	case b.ControlOK == Unknown:
		return b.never(decode.State, "whether the control link is good is not known")
	case b.Armed == Unknown && b.LastArmed == Unknown:
		return noArmed(b)
	}
	return ""
}
