package runcard

import (
	"fmt"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// The first touch is measured between these places of the stick, as idle-gap
// measures it: under touchRest it rests, beyond touchMost it has itself asked
// for the lift (common practice, no source).
const (
	touchRest = 0.01
	touchMost = 0.08
	touchTime = 3 * detect.Second / 10
	// What answers the touch at once is the output; rotors and load cells take a
	// tenth of a second or two.
	touchOut  = detect.Second / 20
	touchLift = 3 * detect.Second / 20
	// touchLeast and touchLines: for so long, and in so many lines, the stick must
	// have been off its rest. One stray line is no touch, and what rotors and load
	// cells make of one is over before it is measured.
	touchLeast = 3 * detect.Second / 20
	touchLines = heldLines
	// restTime is how long the stick must have rested: idle is a mean over it.
	restTime = detect.Second / 2
)

// touchWatch follows the stick from its rest to the first touch.
type touchWatch struct {
	idleOut, idleLift mean
	zero              float64
	left              int64  // when the stick left its rest; 0 it has not
	lines             int    // of the stick since then
	lineAt            int64  // the newest of them
	out, lift         mean   // over the touch, what the stick itself asks taken off the output
	again             string // why it is made once more; "" it is the first
}

// leastOut is the lowest of the outputs: the least flight output lifts it, and
// what the axes ask of the mixer does not.
func leastOut(b *detect.Bench) (float64, bool) {
	v, ok := 1.0, false
	for i := range b.Motors {
		if o := outNow(b, i); o.OK {
			v, ok = min(v, o.V), true
		}
	}
	return v, ok
}

// leastOutput: the stick leaves its rest, and nothing jumps.
func (r *Run) leastOutput(b *detect.Bench) {
	w, stick := &r.ev.touch, stickNow(b, 0)
	if !r.readyArmed(b) || !stick.OK {
		r.ev.touch = touchWatch{again: w.again}
		r.ev.since = -1
		return
	}
	out, outOK := leastOut(b)
	if w.left != 0 && stick.At > w.lineAt {
		w.lines, w.lineAt = w.lines+1, stick.At
	}
	// A slow stream takes longer for as many lines.
	due := max(touchTime, int64((touchLines-0.5)*b.Streams[decode.State].Period))
	switch {
	case w.left == 0 && stick.V < touchRest:
		r.restIdle(b, out, outOK)
	case w.left == 0 && (r.ev.since < 0 || r.now-r.ev.since < restTime || !r.toldSince(b)):
		r.ev.since, r.ev.touch = -1, touchWatch{again: w.again}
		r.hint = hint{text: "stick to zero for a second first"}
	case w.left == 0 && stick.V >= b.Limits.StickIdle:
		w.left, w.lines, w.lineAt = r.now, 1, stick.At
	case w.left == 0: // on its way
	case stick.V < b.Limits.StickIdle: // let go before it was measured
		r.ev.since, r.ev.touch = -1, touchWatch{again: "that was let go too soon to measure: raise the stick slowly, and keep it up"}
	case stick.V > touchMost || r.now-w.left > due:
		r.closeTouch(b)
	default:
		if outOK && r.now-w.left >= touchOut {
			w.out.take(out - max(stick.V-w.zero, 0))
		}
		if load := loadNow(b); load.OK && r.now-w.left >= touchLift {
			w.lift.take(load.V)
		}
	}
}

// restIdle measures idle while the stick rests.
func (r *Run) restIdle(b *detect.Bench, out float64, outOK bool) {
	w := &r.ev.touch
	if r.now-b.ArmedAt < spinUp {
		r.hint = hint{text: "spinning up"}
		return
	}
	r.hint = hint{text: w.again}
	begins, _ := r.hold(b, true, 0)
	if begins {
		w.idleOut, w.idleLift, w.zero = mean{}, mean{}, b.Stick[0].V
	}
	w.zero = min(w.zero, b.Stick[0].V) // the touch may begin under what counts as rest
	if outOK {
		w.idleOut.take(out)
	}
	if load := loadNow(b); load.OK {
		w.idleLift.take(load.V)
	}
}

// closeTouch judges the step that the first touch made.
func (r *Run) closeTouch(b *detect.Bench) {
	w := r.ev.touch
	r.ev.touch, r.ev.since = touchWatch{again: "that was too fast to measure: raise the stick slowly"}, -1
	weight := b.WeightN()
	out := w.out.n > 0 && w.idleOut.n > 0
	lift := w.lift.n > 0 && w.idleLift.n > 0 && weight > 0
	if !out && !lift || w.lines < touchLines || r.now-w.left < touchLeast {
		return // it went by too fast: once more from zero
	}
	text, wrong := "", false
	if out {
		step := w.out.value() - w.idleOut.value()
		text = fmt.Sprintf("least output from %.3f by %.3f (limit %.2f)", w.idleOut.value(), step, b.Limits.IdleGapOutput)
		wrong = step > b.Limits.IdleGapOutput
	} else {
		text = "outputs are not measured"
	}
	if lift {
		step := (w.lift.value() - w.idleLift.value()) / weight
		text += fmt.Sprintf("; lift by %.2f of weight (limit %.2f)", step, b.Limits.IdleGapLift)
		wrong = wrong || step > b.Limits.IdleGapLift
	} else {
		text += "; lift is not measured"
	}
	if wrong {
		r.fail("the first touch of the stick raised " + text)
		return
	}
	r.pass("the first touch of the stick raised " + text)
}
