package detect

// A hand is the pilot's on one axis' stick. In a mode that holds an attitude
// the demand is the craft's own feedback as much as the pilot's wish: an
// attitude loop that swings up swings the demand too, and what the demand
// explains is then the very thing to be heard. So the demand counts as the
// pilot's only while the stick moves, and for as long as its answer lasts.
type hand struct {
	known bool
	rest  float64 // where the stick was when it last moved
	moved int64   // engine time of that
}

const (
	// handStep of full stick is a move; less is a trembling gimbal.
	handStep = 0.01
	// handTail is how long the answer to a move lasts, the windows' own
	// high-pass included (2.5 of its time constants).
	handTail = Second
)

// take brings what a state line says of the stick.
func (h *hand) take(stick Reading, now int64) {
	if !stick.OK {
		h.known = false
		return
	}
	if d := stick.V - h.rest; !h.known || d > handStep || d < -handStep {
		h.rest, h.moved = stick.V, now
	}
	h.known = true
}

// rests reports whether the stick is known to have rested for so many
// seconds, and for as long before as an answer lasts.
func (h *hand) rests(now int64, span float64) bool {
	return h.known && now-h.moved > int64(span*float64(Second))+handTail
}
