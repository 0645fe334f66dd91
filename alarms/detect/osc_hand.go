package detect

// A hand is the pilot's on one axis' stick. In a mode that holds an attitude
// the demand is the craft's own feedback as much as the pilot's wish: an
// attitude loop that swings up swings the demand too, and what the demand
// explains is then the very thing to be heard. So the demand counts as the
// pilot's while the stick moves, and for as long as its answer lasts; what swings
// to and fro while the stick rests is the craft's own.
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

// A swing tells whether a demand goes to and fro.
type swing struct {
	frames [swingTurns]float64 // age of the newest turns, frames
	side   float64             // on which it was last, -1 or 1
	rate   float64
}

const (
	// swingTurns changes of side within swingSeconds are a swing: one cycle and
	// a half at oscLow and more above it.
	swingTurns   = 4
	swingSeconds = 1.5
	// swingLeast is how far it must go to each side, deg/s: a line shows 0.1.
	swingLeast = 0.3
)

// take brings one frame of the demand, its drift taken out.
func (s *swing) take(r, rate float64) {
	s.rate = rate
	for i := range s.frames {
		s.frames[i]++
	}
	side := s.side
	switch {
	case r > swingLeast:
		side = 1
	case r < -swingLeast:
		side = -1
	}
	if side == s.side {
		return
	}
	if s.side != 0 {
		copy(s.frames[1:], s.frames[:swingTurns-1])
		s.frames[0] = 0
	} else {
		for i := range s.frames {
			s.frames[i] = swingSeconds*rate + 1 // none yet
		}
	}
	s.side = side
}

// swings reports whether the last turns follow each other closely enough.
func (s *swing) swings() bool {
	return s.side != 0 && s.frames[swingTurns-1] <= swingSeconds*s.rate
}
