package runcard

import (
	"fmt"
	"strings"

	"tetherbell/alarms/detect"
)

// An Act is what a person does to a step.
type Act uint8

// The acts.
const (
	Tick  Act = iota // seen, and right
	No               // not right
	Skip             // left out
	Again            // done once more
)

var actNames = [...]string{"tick", "no", "skip", "again"}

// String is the act as marks and orders spell it.
func (a Act) String() string { return actNames[a] }

// ActNamed finds an act by its word.
func ActNamed(word string) (Act, bool) {
	for a, n := range actNames {
		if n == word {
			return Act(a), true
		}
	}
	return 0, false
}

// marked begins every mark of a card.
const marked = "card "

// Mark is the act as it goes into a recording.
func (a Act) Mark(id string) string { return marked + a.String() + " " + id }

// ParseMark reads a mark of a recording. own is false for one that is no card's.
// Of those that are, act tells the acts from what only says what came of them.
func ParseMark(text string) (a Act, id string, act, own bool) {
	rest, own := strings.CutPrefix(text, marked)
	if !own {
		return 0, "", false, false
	}
	word, id, _ := strings.Cut(rest, " ")
	if a, ok := ActNamed(word); ok && !strings.ContainsAny(id, " :") && id != "" {
		return a, id, true, true
	}
	switch strings.TrimSuffix(word, ":") {
	case "begin", "note", "end", Passed.String(), Failed.String(), Skipped.String(), ByEye.String():
		return 0, "", false, true
	}
	return 0, "", false, false
}

// Free makes a person's own mark one that is never taken for a card's, also as a
// recording keeps it: on one line, what ends a line in it being a blank.
func Free(text string) string {
	text = strings.TrimLeft(strings.NewReplacer("\r", " ", "\n", " ").Replace(text), " ")
	if strings.HasPrefix(text, marked) {
		return "on the " + text
	}
	return text
}

// May says why an act cannot be done to a step now; nil when it can.
func (r *Run) May(a Act, id string) error {
	i := r.find(id)
	if i < 0 {
		return fmt.Errorf("no step of this card is called %q", id)
	}
	st, kind := r.steps[i].state, r.card.Steps[i].Kind
	ok, skips := false, false
	switch a {
	case Tick:
		ok = (st == Now && kind == Person || st == ByEye) && r.tickWaits(i) == ""
	case No:
		ok = st == Now || st == ByEye
	case Skip:
		skips = st == Now || st == ByEye || st == Failed
		ok = skips && !r.live
	case Again:
		ok = st != Waiting && st != Now
	}
	switch {
	case ok:
		return nil
	case a == Tick && (st == ByEye || st == Now && kind == Person):
		return fmt.Errorf("%s takes no tick yet: %s", id, r.tickWaits(i))
	case skips: // nobody goes on to thrust with a stop that was not tried
		return fmt.Errorf("%s is not left out yet: %s", id, r.tickWaits(-1))
	case a == Tick && st == Now:
		return fmt.Errorf("%s is passed by what the telemetry shows, not by a tick", id)
	}
	return fmt.Errorf("%s is %s: it cannot be changed by %s", id, st, a)
}

// Do carries out an act, and reports whether it could be done.
func (r *Run) Do(a Act, id string) bool {
	if r.May(a, id) != nil {
		return false
	}
	i := r.find(id)
	switch a {
	case Tick:
		r.close(i, Passed, "ticked"+r.afterEye(i))
	case No:
		r.close(i, Failed, "not right, says the person")
	case Skip:
		r.close(i, Skipped, "left out")
	case Again:
		if r.cur < len(r.steps) && r.steps[r.cur].state == Now {
			r.steps[r.cur] = progress{}
		}
		r.ended = false
		r.steps[i] = progress{}
		r.cur = -1
		r.advance()
	}
	return true
}

// tickWaits says why a step is not ticked now, "" where it may be: who looks at a
// craft that is armed, or whose rotors turn, has not been close to it, and nobody
// has had hands at one that may start. i is -1 where no step is due.
func (r *Run) tickWaits(i int) string {
	switch {
	case !r.live && i >= 0 && r.wantsHands(i):
		return r.reach.waits()
	case !r.live:
		return ""
	case r.armed == detect.Yes:
		return "disarm first: rotors turn"
	}
	return "keep clear: rotors turn, or may still turn"
}

// afterEye says what a tick stands for where evidence was missing.
func (r *Run) afterEye(i int) string {
	if r.steps[i].state == ByEye {
		return " by eye: " + r.steps[i].text
	}
	return ""
}

func (r *Run) find(id string) int {
	for i := range r.card.Steps {
		if r.card.Steps[i].ID == id {
			return i
		}
	}
	return -1
}

// asksPerson is the step that a tick is for, -1 none: the one that a person has to
// look at, once it may be ticked.
func (r *Run) asksPerson() int {
	if i := r.looksPerson(); i >= 0 && r.tickWaits(i) == "" {
		return i
	}
	return -1
}

// looksPerson is the step that a person has to look at, -1 none: the current one, or
// one that was left to the eye.
func (r *Run) looksPerson() int {
	if r.cur < len(r.steps) && r.steps[r.cur].state == Now && r.card.Steps[r.cur].Kind == Person {
		return r.cur
	}
	for i := range r.steps {
		if r.steps[i].state == ByEye {
			return i
		}
	}
	return -1
}
