package runcard

import (
	"strconv"
	"strings"

	"tetherbell/alarms/detect"
)

// noteEvery is how often the same early arming is told at most: a switch that
// flutters would fill the journal and the recording.
const noteEvery = 5 * detect.Second

// A stepSet has a bit for each step; a card has at most maxSteps of them.
type stepSet uint64

func (s stepSet) has(i int) bool { return s>>i&1 != 0 }

// unready follows a craft that is armed, or whose throttle comes up, before its
// turn on the card.
type unready struct {
	open  stepSet // not done although armed
	early stepSet // not done although the throttle is up
	rest  bool    // the stick has rested since the current step began
	atArm stepSet // what was open when it was armed
	text  string  // that in words; "" it is as it should be
	do    string  // and what to do

	told   stepSet // lately
	toldAt int64
	times  int     // armed too early, in all
	ever   stepSet // what was open then
	raised stepSet // what was not done as the throttle came up
}

// follow notes arming and throttle, and what was not done by then.
func (r *Run) follow(b *detect.Bench) {
	was, w := r.armed, &r.unready
	if b.Armed != detect.Unknown {
		r.armed = b.Armed
	}
	switch {
	case r.armed != detect.Yes:
		w.atArm, w.rest = 0, false
	case was != detect.Yes:
		w.atArm = r.beforeArming()
		if w.atArm != 0 {
			w.times++
		}
	}
	open, early := w.atArm&r.beforeArming(), stepSet(0)
	if r.armed == detect.Yes && open == 0 {
		early = r.beforeThrottle(b)
	}
	if open == w.open && early == w.early {
		return
	}
	grown := open&^w.open != 0 || early&^w.early != 0
	w.open, w.early = open, early
	w.ever, w.raised = w.ever|open, w.raised|early
	w.text, w.do = "", ""
	switch {
	case open != 0:
		w.text, w.do = "armed, but "+r.notDone(open), "disarm"
	case early != 0:
		w.text, w.do = "throttle up, but "+r.notDone(early), "cut throttle"
	}
	if !grown {
		return
	}
	if r.now-w.toldAt >= noteEvery {
		w.told = 0
	}
	if now := open | early; now&^w.told != 0 {
		w.told, w.toldAt = w.told|now, r.now
		r.tell(-1, Waiting, w.text+"; "+w.do, "card note: "+w.text+"; "+w.do)
	}
}

// beforeArming are the steps that must be done before the craft is armed next.
// What stands behind the next step with the craft armed is not due yet, and
// after the last such step the craft may be armed still.
func (r *Run) beforeArming() stepSet {
	last := -1
	for i := range r.steps {
		if st := r.steps[i].state; r.card.Steps[i].Kind.armed() && (st == Waiting || st == Now || st == Failed) {
			last = i
		}
	}
	open := stepSet(0)
	for i := 0; i <= last; i++ {
		st := r.steps[i].state
		if r.card.Steps[i].Kind.armed() && (st == Waiting || st == Now) {
			break
		}
		if st != Passed && st != Skipped {
			open |= 1 << i
		}
	}
	return open
}

// beforeThrottle are the steps to be made at armed idle that the throttle was
// raised before: it had rested, so it does not just come down.
func (r *Run) beforeThrottle(b *detect.Bench) stepSet {
	if r.cur >= len(r.steps) || r.ev.busy {
		return 0
	}
	stick, w := b.Stick[0], &r.unready
	if !stick.OK || stick.V < b.Limits.StickIdle {
		w.rest = w.rest || stick.OK
		return 0
	}
	if !w.rest || stick.V < b.Limits.StickHigh {
		return w.early // between the two it stays as it was
	}
	first := stepSet(0)
	for i := r.cur; i < len(r.steps); i++ {
		switch r.card.Steps[i].Kind {
		case ArmedIdle, StopTest:
			if st := r.steps[i].state; st == Waiting || st == Now || st == Failed {
				first |= 1 << i
			}
		case LeastOutput, ThrottleTo, Sticks:
			return first
		}
	}
	return 0 // no thrust comes after them
}

// notDone names the steps of a set.
func (r *Run) notDone(set stepSet) string {
	ids := r.ids(set)
	if n := len(ids); n > 1 {
		return strconv.Itoa(n) + " steps are not done: " + strings.Join(ids, ", ")
	}
	return "a step is not done: " + strings.Join(ids, ", ")
}

// ids are the names of the steps of a set.
func (r *Run) ids(set stepSet) []string {
	var out []string
	for i := range r.card.Steps {
		if set.has(i) {
			out = append(out, r.card.Steps[i].ID)
		}
	}
	return out
}

// remark says what was done too early in the whole run, "" nothing.
func (w *unready) remark(r *Run) string {
	var out []string
	if w.ever != 0 {
		t := "armed before it was done: " + strings.Join(r.ids(w.ever), ", ")
		if w.times > 1 {
			t += " (" + strconv.Itoa(w.times) + " times)"
		}
		out = append(out, t)
	}
	if w.raised != 0 {
		out = append(out, "throttle raised before it was done: "+strings.Join(r.ids(w.raised), ", "))
	}
	return strings.Join(out, "; ")
}
