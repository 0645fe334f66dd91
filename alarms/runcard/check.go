package runcard

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"tetherbell/decode/craft"
)

// Bounds of a card: wide enough for any bench, narrow enough that a slipped
// unit is caught, and that every text fits a line that is read in passing.
const (
	maxSteps = 40
	maxWord  = 24
	maxTitle = 60
	maxLine  = 160
)

// A rangeOf is what a number of a step may be, and which kinds have a use for it.
type rangeOf struct {
	key       string
	low, high float64
	of        []Kind
	from      func(*stepFile) *float64
	into      func(*Step) *float64
}

var ranges = []rangeOf{
	{"throttle", 0.03, 1, []Kind{ThrottleTo}, func(f *stepFile) *float64 { return f.Throttle }, func(s *Step) *float64 { return &s.Throttle }},
	{"seconds", 0.5, 120, []Kind{AtRest, ArmedIdle, ThrottleTo, Temperatures},
		func(f *stepFile) *float64 { return f.Seconds }, func(s *Step) *float64 { return &s.Seconds }},
	{"within_ms", 50, 20000, []Kind{StopTest}, func(f *stepFile) *float64 { return f.WithinMS }, func(s *Step) *float64 { return &s.WithinMS }},
	{"move", 0.03, 0.5, []Kind{Sticks}, func(f *stepFile) *float64 { return f.Move }, func(s *Step) *float64 { return &s.Move }},
	{"most_c", 20, 150, []Kind{Temperatures}, func(f *stepFile) *float64 { return f.MostC }, func(s *Step) *float64 { return &s.MostC }},
	{"spread_c", 1, 100, []Kind{Temperatures}, func(f *stepFile) *float64 { return f.SpreadC }, func(s *Step) *float64 { return &s.SpreadC }},
}

// card checks a file and makes the card of it.
func (f *cardFile) card() (*Card, *Error) {
	if err := word("name", f.Name); err != nil {
		return nil, err
	}
	if err := text("title", f.Title, maxTitle, true); err != nil {
		return nil, err
	}
	switch n := len(f.Step); {
	case n == 0:
		return nil, &Error{Key: "step", Problem: "there is none", Hint: "write [[step]] on a line of its own for each, and its keys below it"}
	case n > maxSteps:
		return nil, &Error{Key: fmt.Sprintf("step.%d", maxSteps+1), Problem: fmt.Sprintf("more than %d steps", maxSteps), Hint: "make two cards of it"}
	}
	c := &Card{Name: f.Name, Title: f.Title}
	seen := map[string]int{}
	for i := range f.Step {
		key := fmt.Sprintf("step.%d.", i+1)
		s, err := f.Step[i].step(key)
		if err == nil {
			err = c.follows(&s, key)
		}
		if first, twice := seen[s.ID]; err == nil && twice {
			err = &Error{Key: key + "id", Problem: fmt.Sprintf("%q is step %d already", s.ID, first), Hint: "give each step its own id"}
		}
		if err != nil {
			return nil, err
		}
		seen[s.ID] = i + 1
		c.Steps = append(c.Steps, s)
	}
	return c, nil
}

// follows refuses a tick that would have to be made while the craft is armed.
func (c *Card) follows(s *Step, key string) *Error {
	if s.Kind != Person || len(c.Steps) == 0 {
		return nil
	}
	if last := &c.Steps[len(c.Steps)-1]; last.Kind.armed() {
		return &Error{Key: key + "kind", Problem: fmt.Sprintf("the craft is armed after %s (%s), and no key may be needed then", last.ID, last.Kind),
			Hint: "put a step of kind at-rest before it"}
	}
	return nil
}

func (f *stepFile) step(key string) (Step, *Error) {
	s := Step{ID: f.ID, Say: f.Say, Why: f.Why, IfFailed: f.IfFailed}
	if err := word(key+"id", f.ID); err != nil {
		return s, err
	}
	known := false
	for k, name := range kindNames {
		if name == f.Kind {
			s.Kind, known = Kind(k), true
		}
	}
	if !known {
		hint := "the kinds are: " + strings.Join(kindNames[:], ", ")
		if near := craft.Nearest(f.Kind, kindNames[:]); near != "" && f.Kind != "" {
			hint = "did you mean " + near
		}
		return s, &Error{Key: key + "kind", Problem: fmt.Sprintf("no kind of step is called %q", f.Kind), Hint: hint}
	}
	for _, t := range []struct {
		key, text string
		must      bool
	}{{"say", f.Say, true}, {"if_failed", f.IfFailed, true}, {"why", f.Why, false}} {
		if err := text(key+t.key, t.text, maxLine, t.must); err != nil {
			return s, err
		}
	}
	for _, t := range []struct {
		key  string
		from *bool
		of   Kind
		into *bool
	}{{"hands", f.Hands, Person, &s.Hands}, {"released", f.Released, AtRest, &s.Released}} {
		if t.from != nil && s.Kind != t.of {
			return s, &Error{Key: key + t.key, Problem: fmt.Sprintf("a step of kind %s has no use for it", s.Kind), Hint: "remove it"}
		}
		*t.into = t.from != nil && *t.from
	}
	for i := range ranges {
		if err := ranges[i].take(f, &s, key); err != nil {
			return s, err
		}
	}
	if s.Kind == ThrottleTo && s.Throttle == 0 {
		return s, &Error{Key: key + "throttle", Problem: "it is not said how far", Hint: "write throttle = 0.2, a share of the stick's way"}
	}
	return s, nil
}

// take takes one number of a step.
func (r *rangeOf) take(f *stepFile, s *Step, key string) *Error {
	v := r.from(f)
	if v == nil {
		return nil
	}
	of := false
	for _, k := range r.of {
		of = of || k == s.Kind
	}
	switch {
	case !of:
		return &Error{Key: key + r.key, Problem: fmt.Sprintf("a step of kind %s has no use for it", s.Kind), Hint: "remove it"}
	case math.IsNaN(*v) || *v < r.low || *v > r.high:
		return &Error{Key: key + r.key, Problem: fmt.Sprintf("%g is not within %g..%g", *v, r.low, r.high), Hint: "leave it out for the usual"}
	}
	*r.into(s) = *v
	return nil
}

// word checks a name: it stands in marks, where a space ends it.
func word(key, s string) *Error {
	if s == "" {
		return &Error{Key: key, Problem: "missing", Hint: "write one word, as in " + `"area-clear"`}
	}
	if len(s) > maxWord {
		return &Error{Key: key, Problem: fmt.Sprintf("longer than %d letters", maxWord), Hint: "write one short word"}
	}
	for _, r := range s {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' {
			return &Error{Key: key, Problem: fmt.Sprintf("%q has something else than small letters, digits and -", s), Hint: "write one short word"}
		}
	}
	return nil
}

// text checks a sentence: one line, of letters that any terminal shows.
func text(key, s string, most int, must bool) *Error {
	n := utf8.RuneCountInString(s)
	switch {
	case n == 0 && must:
		return &Error{Key: key, Problem: "missing", Hint: "write one short sentence"}
	case n > most:
		return &Error{Key: key, Problem: fmt.Sprintf("%d letters, at most %d", n, most), Hint: "say it shorter: it is read in passing"}
	case !utf8.ValidString(s):
		return &Error{Key: key, Problem: "not UTF-8"}
	}
	for _, r := range s {
		if !unicode.IsPrint(r) {
			return &Error{Key: key, Problem: "has a letter that does not print", Hint: "write it on one line"}
		}
	}
	return nil
}
