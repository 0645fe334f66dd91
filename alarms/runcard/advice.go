package runcard

import (
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// What stands ahead of all advice that may lead a hand to the craft, while it is
// armed or a rotor turns.
const (
	keepClear  = "keep clear until all rotors stand"
	makeStill  = "cut throttle, disarm, " + keepClear
	onceStill  = "Once all rotors stand: "
	disarmThen = "Disarm, and once all rotors stand: "
)

// followRotors notes whether a hand must stay away. Where nothing is heard it
// stays as it was; where a rotor is not seen to stand it may turn for as long as a
// coast may take.
func (r *Run) followRotors(b *detect.Bench) {
	if float64(b.Silent) >= b.Limits.StaleSeconds*float64(detect.Second) {
		r.live = r.live || r.armed == detect.Yes
		return
	}
	coast := b.Coast()
	moves, stand := moving(b, coast), standing(b)
	if r.armed == detect.Yes || moves {
		r.movedAt = r.now
	}
	last := max(r.movedAt, b.DisarmedAt)
	r.live = r.armed == detect.Yes || moves || !stand && last >= 0 && r.now-last < coast
}

// moving reports whether a motor is driven or turns. What was heard last of one
// that moved once the coast was over holds until it is heard to stand: it did not
// come from the run, and nobody has seen its end.
func moving(b *detect.Bench, coast int64) bool {
	driven, turns := turning(b)
	floor, over := standRPM*polePairs(b), b.DisarmedAt+coast
	for i := range b.Motors {
		out, speed := b.Out[i], b.ERPM[i]
		if out.OK && out.V > zeroOut && out.At > over || speed.OK && speed.V > floor && speed.At > over {
			return true
		}
	}
	return driven|turns != 0
}

// standing reports whether each rotor is seen to stand, since the craft was
// disarmed. Of one whose motors nobody has told of nothing is known.
func standing(b *detect.Bench) bool {
	floor := standRPM * polePairs(b)
	for i := range b.Motors {
		if v := speedNow(b, i); !v.OK || v.V > floor || v.At < b.DisarmedAt {
			return false
		}
	}
	return b.Motors > 0
}

// IfNot is what to do where the step does not pass, as it stands on a card: a
// step of an armed craft is made still first.
func (s *Step) IfNot() string {
	if s.Kind.armed() {
		return makeStill + ". Then: " + s.IfFailed
	}
	return s.IfFailed
}

// ifNot is the same as things stand now.
func (r *Run) ifNot(i int) string {
	s := &r.card.Steps[i]
	switch {
	case s.Kind.armed():
		return s.IfNot()
	case r.armed == detect.Yes:
		return makeStill + ". Then: " + s.IfFailed
	case r.live:
		return keepClear + ". Then: " + s.IfFailed
	}
	return s.IfFailed
}

// say is what to do in a step: what a person looks at waits until nothing turns.
func (r *Run) say(i int) string {
	s := &r.card.Steps[i]
	switch {
	case s.Kind != Person || !r.live:
		return s.Say
	case i == r.cur && r.armed == detect.Yes:
		return disarmThen + s.Say
	}
	return onceStill + s.Say
}

// toDo is what to do about a step that failed, "" about any other. While a hand
// must stay away it begins with what the alarm that failed it asks for first, for
// that is what the banner says, and goes on with how the craft gets still.
func (r *Run) toDo(i int) string {
	p, advice := &r.steps[i], r.card.Steps[i].IfFailed
	if p.state != Failed {
		return ""
	}
	first, rest, _ := strings.Cut(p.first, "; ")
	rest = strings.TrimPrefix(rest, alarms.OnceStill) // is said below
	if first == "disarm" {
		first = "" // so is that
	}
	if strings.HasPrefix(rest, "cut power") { // a way to get it still, not what comes then
		first, rest = rest, ""
	}
	if p.alarm != "" && !p.fits {
		if advice = rest; strings.HasPrefix(rest, "keep clear") || rest == "disarm" || rest == "" {
			advice = "find out why " + p.alarm + " rang"
		}
	}
	switch {
	case r.live:
	case p.alarm == detect.SpinDisarmed.String() && !p.fits: // that it stands now says nothing
		return p.first + ": it may turn by itself again"
	default:
		return advice
	}
	var parts []string
	switch {
	case first == "keep clear": // comes below
	case first != "":
		parts = append(parts, first)
	case r.armed == detect.Yes:
		parts = append(parts, "cut throttle")
	}
	if r.armed == detect.Yes {
		parts = append(parts, "disarm")
	}
	return strings.Join(append(parts, keepClear), ", ") + ". Then: " + advice
}
