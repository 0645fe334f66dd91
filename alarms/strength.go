package alarms

import "strings"

// How strong first actions are, as they begin. Who can do one thing first does what
// stops the most: that is never wrong, where the weaker may not help.
const (
	strengthNone   = iota
	strengthWait   // the craft comes to rest and somebody looks
	strengthOther  // less throttle, fewer gains, or anything else
	strengthCut    // no throttle, by the stick
	strengthStop   // no output, whatever the stick says
	strengthBeyond // nothing that the craft obeys
)

// strengths go by beginnings, the first that fits.
var strengths = []struct {
	begin string
	is    int
}{
	{"keep clear; " + OnceStill, strengthWait},
	{"keep clear", strengthBeyond},
	{"cut power", strengthBeyond},
	{"press stop", strengthStop},
	{"before you go on: press stop", strengthStop},
	{"stop", strengthStop},
	{"cut throttle", strengthCut},
	{"throttle to zero", strengthCut},
	{"throttle down", strengthCut},
	{"disarm", strengthWait},
	{"do not arm", strengthWait},
	{"", strengthOther},
}

// Strength ranks a first action among those of one priority: the greater, the
// stronger. Of two alike the one that also keeps people away is.
func Strength(action string) int {
	if action == "" {
		return strengthNone
	}
	rank := 0
	for _, s := range strengths {
		if strings.HasPrefix(action, s.begin) {
			rank = 2 * s.is
			break
		}
	}
	if strings.Contains(action, "; keep ") {
		rank++
	}
	return rank
}

// Strength ranks an alarm by what it asks for now. One that has ended asks for nothing
// but that nobody goes near what turned by itself.
func (a *AlarmView) Strength() int {
	if !a.Active && !a.Kind.TurnsUnasked() {
		return strengthNone
	}
	return Strength(a.Story.Action)
}

// ActionOf is what an alarm asks for, by its place in the list. One of its priority
// that was acknowledged is not told before it, but if what that asks for is stronger
// it still comes first: it was read, and may not have been done.
func (s *Snapshot) ActionOf(i int) string {
	a := &s.Alarms[i]
	action, first := a.Story.Action, ""
	if !a.Active || a.Acknowledged {
		return action
	}
	rank := Strength(action) | 1 // staying away alone makes no order another
	for j := range s.Alarms {
		o := &s.Alarms[j]
		if o.Active && o.Acknowledged && o.Priority == a.Priority && Strength(o.Story.Action) > rank {
			first, _, _ = strings.Cut(o.Story.Action, "; ")
			rank = Strength(o.Story.Action) | 1
		}
	}
	switch {
	case first == "":
		return action
	case action == "":
		return first
	}
	return first + "; " + action
}
