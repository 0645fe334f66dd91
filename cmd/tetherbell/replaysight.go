package main

import (
	"fmt"
	"strconv"
)

const (
	// sightLead is how long before an alarm or a mark a jump to it lands, so that
	// one sees and hears it come.
	sightLead = 2_000_000
	// leastLoop is the shortest stretch that is gone round.
	leastLoop = 500_000
)

// sight goes to the next alarm or mark, or to the one before. The one that was
// gone to last is still ahead for a while: the next is after it then, and the one
// before is before it. One that is nearer than the lead is named and waited for:
// to go on never goes back. A speed over its own pace would rush through the lead.
func (r *replayer) sight(back bool) error {
	if r.look == nil {
		return nil
	}
	s, ok, known := r.look.next(max(r.pos, r.aimed), back)
	switch {
	case ok:
		return r.aim(s, back)
	case r.look.failed() != nil:
		r.hint = fmt.Sprintf("cannot look ahead: %v", r.look.failed())
	case !known:
		r.hint = "looking ahead: try again in a moment"
	case back:
		r.hint = "no alarm or mark before this"
	default:
		r.hint = "no alarm or mark after this"
	}
	return nil
}

// aim goes to where a sight comes from.
func (r *replayer) aim(s sight, back bool) error {
	r.speed = min(r.speed, 1)
	to := max(s.place-sightLead, 0)
	if !back && to <= r.pos {
		r.hint, r.aimed = fmt.Sprintf("%s in %.1f s", s.text, seconds(s.place-r.pos)), s.place
		return nil
	}
	r.hint = fmt.Sprintf("%s s before: %s", strconv.FormatFloat(seconds(s.place-to), 'g', 2, 64), s.text)
	err := r.jump(to) // which forgets what was aimed at
	r.aimed = s.place
	return err
}

// A loop is a stretch of a recording that is gone round.
type loop struct {
	set      int // 0: nothing, 1: the start, 2: both
	from, to int64
}

// press takes the key: the start, the end, and off again. It returns what to say.
func (l *loop) press(pos int64) string {
	switch l.set {
	case 0:
		l.set, l.from = 1, pos
		return "the loop starts here; l again where it ends"
	case 1:
		from, to := min(l.from, pos), max(l.from, pos)
		if to-from < leastLoop {
			return "a loop lasts half a second at least; l again where it ends"
		}
		l.set, l.from, l.to = 2, from, to
		return "it goes round; l again ends that"
	}
	*l = loop{}
	return "the loop is off"
}

// view is the loop as the screen is told it.
func (l *loop) view() []float64 {
	return [][]float64{nil, {seconds(l.from)}, {seconds(l.from), seconds(l.to)}}[l.set]
}

// turn moves on to where the replay is, or back to the start of the loop.
func (r *replayer) turn() error {
	if r.loop.set == 2 && !r.paused && r.pos >= r.loop.to {
		return r.jump(r.loop.from)
	}
	return r.advance(r.pos)
}
