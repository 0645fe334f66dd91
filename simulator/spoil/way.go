package spoil

import "bytes"

const (
	// dribbleRoom is what a bridge keeps that cannot get rid of its bytes: lines
	// that find no room are not sent (common practice, no source).
	dribbleRoom = 1024
	// heldEvery is how often bytes are held up: every two seconds, or four times
	// as long as they are, so that the sound line shows between.
	heldEvery = 2_000_000 // us
)

// A way is what the bytes pass last.
type way struct {
	queue  []byte  // what dribbles
	credit float64 // bytes that may go
	held   []byte
}

func (w *way) waits() bool { return len(w.queue)+len(w.held) > 0 }

// pass appends what gets through of the cable's bytes at a time.
func (s *Spoiler) pass(dst []byte, now int64) []byte {
	w, p := &s.way, s.cable
	from := len(dst)
	dribbles := false
	for i := range s.faults {
		if f := &s.faults[i]; f.Kind == Trickle && f.at(now) {
			dribbles = true
			dst = s.dribble(dst, p, f.Value, now)
		}
	}
	if !dribbles {
		dst = append(append(dst, w.queue...), p...)
		w.queue, w.credit = w.queue[:0], 0
	}
	hold := false
	for i := range s.faults {
		f := &s.faults[i]
		if f.Kind != HeldUp || !f.at(now) {
			continue
		}
		long := int64(f.Value * 1000)
		every := max(heldEvery, 4*long)
		hold = hold || (now-f.From)%every >= every-long
	}
	switch {
	case hold:
		w.held = append(w.held, dst[from:]...)
		dst = dst[:from]
	case len(w.held) > 0:
		s.count[HeldUp]++
		w.held = append(w.held, dst[from:]...)
		dst = append(dst[:from], w.held...)
		w.held = w.held[:0]
	}
	if s.away = s.out(now); s.away {
		dst = dst[:from]
	}
	return dst
}

// out reports whether the cable is out at a time.
func (s *Spoiler) out(now int64) bool {
	for i := range s.faults {
		f := &s.faults[i]
		if f.Kind != Unplugged || now < f.From || now >= f.From+int64(f.Value*1e6) {
			continue
		}
		if !f.happened {
			f.happened = true
			s.count[Unplugged]++
		}
		return true
	}
	return false
}

// dribble takes whole lines as far as there is room, and lets go what the pace
// allows.
func (s *Spoiler) dribble(dst, p []byte, pace float64, now int64) []byte {
	w := &s.way
	for len(p) > 0 {
		n := bytes.IndexByte(p, '\n') + 1
		if n == 0 {
			n = len(p)
		}
		if len(w.queue)+n <= dribbleRoom {
			w.queue = append(w.queue, p[:n]...)
		} else {
			s.count[Trickle]++
		}
		p = p[n:]
	}
	w.credit += pace * float64(now-s.last) / 1e6
	n := min(int(w.credit), len(w.queue))
	w.credit -= float64(n)
	if len(w.queue) == n { // what was not used is gone
		w.credit = min(w.credit, 1)
	}
	dst = append(dst, w.queue[:n]...)
	w.queue = append(w.queue[:0], w.queue[n:]...)
	return dst
}
