package runcard

import (
	"fmt"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// outVolts a cell is a pack that is unplugged: what the controller's own
// supply or a discharged capacitor leaves on the wire is less, no pack that
// drives a motor shows as little (common practice, no source).
const outVolts = 1.0

// A reach is what was told last of whether hands may go to the craft. A word
// that is old is not forgotten: the lines also end as a pack is unplugged.
type reach struct {
	stop  detect.Tri // as was told last
	old   bool       // other lines come, but not those of the switch
	volts float64
	in    detect.Tri // the pack, by a voltage that was told last
	fresh bool       // that voltage is of now, or was the last word before silence
	quiet bool       // no line comes at all
}

// follow takes what is told now.
func (h *reach) follow(b *detect.Bench) {
	if b.Stopped != detect.Unknown {
		h.stop = b.Stopped
	}
	if b.Volts.OK {
		h.volts, h.in = b.Volts.V, detect.Yes
		if h.volts < outVolts*float64(max(1, b.Craft.Cells)) {
			h.in = detect.No
		}
	}
	if h.quiet = b.Silent >= freshLeast/2; h.quiet {
		return // what was told last stands, before any of it is old
	}
	h.old = b.Stopped == detect.Unknown || !fresh(b, decode.State, b.Streams[decode.State].Last)
	h.fresh = ofNow(b, decode.Pack, b.Volts).OK
}

// waits says why hands wait, "" where nothing speaks against them: the stop is
// pressed, or the pack is measured to be out, or the switch was never told.
// A switch of which nothing is heard any more counts as not pressed.
func (h *reach) waits() string {
	switch {
	case h.stop == detect.Unknown, h.stop == detect.Yes && !h.old, h.in == detect.No && h.fresh:
		return ""
	case h.stop == detect.Yes:
		return "unplug the pack first: the stop switch is not told any more"
	case h.quiet:
		return "press stop first: it was told as not pressed, and no line comes now"
	case h.in == detect.Yes && h.fresh:
		return fmt.Sprintf("press stop first: the pack is in, %.1f V", h.volts)
	}
	return "press stop first: it is told as not pressed"
}

// wantsHands reports whether a tick of a step says that somebody had hands at the
// craft: the card says so, or motors are felt that no sensor told of.
func (r *Run) wantsHands(i int) bool {
	s := &r.card.Steps[i]
	return s.Hands || s.Kind == Temperatures && r.steps[i].state == ByEye
}
