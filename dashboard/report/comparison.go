package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"tetherbell/alarms/account"
	"tetherbell/alarms/compare"
)

// A Comparison is what is told of two sessions: one before a change, one after
// it.
type Comparison struct {
	Result   *compare.Result
	Before   *account.Account
	After    *account.Account
	Cautions []string // one sentence each, without a full stop
	Tool     string   // program and version that writes the page
}

// Write writes the comparison in one of the formats.
func (c *Comparison) Write(w io.Writer, f Format) error {
	return write(w, f, c.page, struct {
		Comparison *compare.Result  `json:"comparison"`
		Before     *account.Account `json:"before"`
		After      *account.Account `json:"after"`
	}{c.Result, c.Before, c.After})
}

// page builds what the comparison says.
func (c *Comparison) page() *page {
	p := &page{Title: "Before and after: " + c.craftName(), Window: c.craftName() + ": " + c.Result.A.Name + " and " + c.Result.B.Name,
		Facts: c.facts(), Verdict: c.verdict(), Cautions: c.Cautions, Tool: c.Tool, From: "two recordings"}
	for _, build := range []func(*Comparison) section{
		measureSection, changedSection, ringsSection, alignedSection, stageSection, aloneSection, machineSection, uncomparedSection,
		aloneVerdicts, methodSection,
	} {
		p.Sections = append(p.Sections, build(c))
	}
	return p
}

// craftName names the craft, or both where they are two.
func (c *Comparison) craftName() string {
	a, b := craftName(c.Before), craftName(c.After)
	if a == b {
		return a
	}
	return a + " and " + b
}

// facts stand under the title.
func (c *Comparison) facts() []fact {
	all := []fact{{Name: "Before", Text: sideText(&c.Result.A, c.Before)}, {Name: "After", Text: sideText(&c.Result.B, c.After)}}
	a, b := craftText(&c.Before.Craft), craftText(&c.After.Craft)
	if a == b {
		return append(all, fact{Name: "Craft", Text: a})
	}
	return append(all, fact{Name: "Craft before", Text: a}, fact{Name: "Craft after", Text: b})
}

// sideText is one of the two recordings in a line. Its length is that of the
// account, which silence at the end is part of.
func sideText(s *compare.Side, a *account.Account) string {
	start := startText(a.Session.Start)
	if start == "" {
		start = "start not recorded"
	}
	return fmt.Sprintf("%s; %s; %s long, of which %s steady and armed", s.Name, start, length(a.LengthS), length(s.SteadyS))
}

// signs stand before the words of a verdict: nobody has to tell colours apart.
var signs = map[compare.Word]string{
	compare.Better: "✓", compare.Worse: "✗", compare.Mixed: "±", compare.CannotTell: "?", compare.TooShort: "?", compare.Same: "=", compare.More: "↑", compare.Less: "↓",
}

func wordText(w compare.Word) string { return strings.TrimSpace(signs[w] + " " + string(w)) }

// wordClass is the look of a verdict.
func wordClass(w compare.Word) string {
	switch w {
	case compare.Better, compare.Worse:
		return string(w)
	case compare.Mixed:
		return "mixed"
	}
	return "none"
}

// verdict says in big letters what came of it.
func (c *Comparison) verdict() verdict {
	r := c.Result
	v := verdict{Class: wordClass(r.Verdict), Word: wordText(r.Verdict), Headline: sentence(r.Sentence)}
	warnings := r.Remarks
	if r.Backwards {
		v.Lines = append(v.Lines, fact{Name: "Warning", Text: sentence("the second began before the first: are they in the right order? " +
			r.B.Name + " began " + startText(c.After.Session.Start) + ", " + r.A.Name + " " + startText(c.Before.Session.Start))})
	}
	if len(r.Craft) > 0 && len(warnings) > 0 { // the first of them is of that
		v.Lines = append(v.Lines, fact{"Warning", sentence(warnings[0]), "craft"})
		warnings = warnings[1:]
	}
	for _, s := range []struct {
		name, file string
		of         *account.Account
	}{{"End", r.A.Name, c.Before}, {"End", r.B.Name, c.After}} {
		if s.of.Verdict.Ended != "" {
			v.Lines = append(v.Lines, fact{Name: s.name, Text: sentence(s.file + ": " + s.of.Verdict.Ended)})
		}
	}
	v.Lines = append(v.Lines, fact{Name: "What to do next", Text: strings.Join(c.next(), " ")})
	for _, w := range warnings {
		v.Lines = append(v.Lines, fact{Name: "Mind", Text: sentence(w)})
	}
	return v
}

// next is what a person does with the verdict, a sentence each. What an alarm
// of the second session asks for comes first: it is about the next spin-up.
func (c *Comparison) next() []string {
	var all []string
	add := func(format string, args ...any) { all = append(all, sentence(fmt.Sprintf(format, args...))) }
	if c.Result.SameRecording {
		add("Name two recordings: the one before the change, then the one after it")
		return all
	}
	if v := c.After.Verdict; v.Fix != "" && (v.Worst == "high" || v.Worst == "medium") {
		add("First what the alarms of %s ask for: %s", c.Result.B.Name, strings.TrimSuffix(v.Fix, "."))
	}
	if len(c.Result.Craft) > 0 {
		add("Compare two sessions of one craft: what differs here may come from the craft and not from what you changed")
	}
	if c.Result.Backwards {
		add("If they are the wrong way round, give them in the other order")
	}
	unclear := c.Result.Verdict == compare.Mixed || c.Result.Verdict == compare.CannotTell
	switch v := c.Result.Verdict; {
	case unclear && c.Result.Louder != nil:
		c.louder(add)
	case v == compare.Better:
		add("Keep the change; this session is what the next one is compared with")
	case v == compare.Worse:
		add("%s", c.back())
	case v == compare.Mixed:
		add("Look at what is worse and decide whether what is better is worth it; else undo the change and try a smaller one")
	default:
		add("%s", c.hold())
	}
	if n := len(c.Result.Settings); n > 1 && c.Result.Verdict != compare.CannotTell {
		add("%d settings differ: to know which of them did it, change one at a time", n)
	}
	return all
}

// louder says what to do where one of the two rang worse and is no clear step
// back: its alarm is dealt with before any gain is kept.
func (c *Comparison) louder(add func(format string, args ...any)) {
	r := c.Result
	names := strings.Join(r.Louder.Alarms, ", ")
	if r.Louder.After {
		if c.After.Verdict.Fix == "" {
			add("First see to the alarms of %s: %s", r.Louder.Session, names)
		}
		add("Do not take %s as a step forward before a session in which that does not ring (%s)", r.Louder.Session, names)
		return
	}
	fix := ""
	if f := strings.TrimSuffix(c.Before.Verdict.Fix, "."); f != "" {
		fix = ", unless you first do what its alarms ask for: " + f
	}
	add("Do not go back to what %s ran with (%s rang)%s", r.Louder.Session, names, fix)
	if r.Verdict == compare.Mixed {
		add("Look at what is worse in %s, and mend that from there", r.B.Name)
		return
	}
	add("%s", c.hold())
}

// mostNamed bounds the settings that a sentence names.
const mostNamed = 3

// back says how to undo a change for the worse.
func (c *Comparison) back() string {
	var all []string
	for _, s := range c.Result.Settings {
		if s.Before != nil && s.After != nil && *s.Before != *s.After {
			all = append(all, s.Name+" to "+plain(*s.Before))
		}
	}
	if len(all) > mostNamed { // half a list would be half undone
		return fmt.Sprintf("undo the change: set all %d settings back to their values before, as the table of settings has them, and make sure with another session", len(all))
	}
	if len(all) == 0 {
		return "undo what you changed, and make sure with another session"
	}
	return "undo the change: set " + strings.Join(all, ", ") + " again, and make sure with another session"
}

// longHold is what a person is asked to hold, s: from there on an interval is
// made by the spread from run to run, which no holding makes less.
const longHold = 20

// hold says what would let something be told.
func (c *Comparison) hold() string {
	r := c.Result
	compared := slices.ContainsFunc(r.Stages, func(s compare.Stage) bool { return s.Compared })
	same := len(r.Measures) > 0 && !slices.ContainsFunc(r.Measures, func(f compare.Finding) bool { return f.Counts && f.Verdict != compare.Same })
	switch {
	case same && r.Louder != nil:
		return "What was changed makes no difference that matters in what was measured; the alarms are what differs"
	case same:
		return "What was changed makes no difference that matters: keep either"
	case r.A.SteadyS == 0 || r.B.SteadyS == 0:
		return "Record both sessions with the craft armed and the throttle held: the same two or three throttles, ten seconds each, sticks at rest"
	case !compared:
		return "Hold the same throttles in both sessions, ten seconds each, with the sticks at rest"
	}
	if !slices.ContainsFunc(r.Stages, func(s compare.Stage) bool { return s.Compared && min(s.SecondsA, s.SecondsB) < longHold }) {
		return "The throttles were held long enough: what there is of a change is no more than two sessions of one craft differ by anyway. A larger change would show"
	}
	return "Hold the same throttles again, and longer: twenty seconds each in both sessions, with the sticks at rest. If that cannot tell either, the change is too small to be seen this way"
}
