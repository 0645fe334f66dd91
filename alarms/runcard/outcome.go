package runcard

import (
	"fmt"
	"strings"
)

func (r *Run) sumUp() {
	r.ended = true
	text, state := r.Outcome(), Passed
	if r.lacking() != "" {
		state = Failed
	}
	r.tell(-1, state, text, "card end: "+text)
}

// Outcome says whether the card has passed as it stands, what keeps it from that,
// and how many steps have: "CARD NOT PASSED: failed higher; left out sticks (14
// of 16 passed)".
func (r *Run) Outcome() string {
	if why := r.lacking(); why != "" {
		return "CARD NOT PASSED: " + why + " (" + r.passed() + ")"
	}
	return "CARD PASSED: " + r.passed()
}

// passed counts the steps that have passed.
func (r *Run) passed() string {
	n := 0
	for i := range r.steps {
		if r.steps[i].state == Passed {
			n++
		}
	}
	return fmt.Sprintf("%d of %d passed", n, len(r.steps))
}

// groups are the states that keep a card from being passed, worst first.
var groups = []struct {
	word string
	of   []State
}{
	{"failed", []State{Failed}}, {"left out", []State{Skipped}},
	{"not ticked", []State{ByEye}}, {"not done", []State{Now, Waiting}},
}

// in are the names of the steps in one of the states.
func (r *Run) in(states []State) []string {
	set := stepSet(0)
	for i := range r.steps {
		for _, s := range states {
			if r.steps[i].state == s {
				set |= 1 << i
			}
		}
	}
	return r.ids(set)
}

// lacking names what keeps the card from being passed, "" nothing. Of what has
// not been come to, the first says enough.
func (r *Run) lacking() string {
	var out []string
	for _, g := range groups {
		ids := r.in(g.of)
		if n := len(ids); n > 2 && g.of[0] == Now {
			ids = []string{fmt.Sprintf("%s and %d more", ids[0], n-1)}
		}
		if len(ids) > 0 {
			out = append(out, g.word+" "+strings.Join(ids, ", "))
		}
	}
	return strings.Join(out, "; ")
}

// summary counts the steps by what came of them.
func (r *Run) summary() string {
	out := r.passed()
	for _, g := range groups {
		if n := len(r.in(g.of)); n > 0 {
			out += fmt.Sprintf(", %d %s", n, g.word)
		}
	}
	return out
}
