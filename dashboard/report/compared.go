package report

import (
	"fmt"
	"slices"
	"strings"

	"tetherbell/alarms/account"
	"tetherbell/alarms/compare"
)

// heldInBoth says which throttles the figures are of, and what they are worth one by
// one: what counts among all may be too short for a verdict of its own.
func heldInBoth(r *compare.Result) string {
	n := stagesCompared(r)
	if len(n) == 1 {
		return fmt.Sprintf("One throttle was held in both for %g s or more: %s.", compare.LeastHeld, n[0].Name)
	}
	var names []string
	for _, one := range n {
		names = append(names, one.Name)
	}
	text := fmt.Sprintf("%d throttles were held in both for %g s or more: %s. The figures are over all of them together", len(n), compare.LeastHeld, strings.Join(names, "; "))
	switch short := r.TooShort(); {
	case len(short) == len(n):
		text += fmt.Sprintf("; none was held in both for the %g s that a verdict of its own takes", compare.LeastTelling)
	case len(short) > 0:
		text += fmt.Sprintf("; under %g s, as at %s, is too short for a verdict of its own", compare.LeastTelling, strings.Join(short, ", "))
	}
	return text + "."
}

// measureSection is what is better and worse, a row a measure, and the picture
// of it.
func measureSection(c *Comparison) section {
	s := section{ID: "measures", Title: "What is better and what is worse"}
	r := c.Result
	rows := c.overall()
	if len(rows) == 0 {
		s.text("Nothing could be compared; the verdict says why.")
		return s
	}
	s.text("Only steady holds of the same throttle are compared. The interval is where the change lies at the confidence beside it; a change counts where all of the interval is beyond what matters.")
	s.text(heldInBoth(r))
	t := &table{Caption: "Measures over all compared throttles", Dense: true, Columns: rowColumns("measure")}
	for _, f := range rows {
		t.Rows = append(t.Rows, row{Class: wordClass(f.verdict()), Cells: rowCells(f.finding.Name, f.word(), f.row)})
	}
	s.table(t, "")
	if slices.ContainsFunc(rows, func(f told) bool { return f.finding.Measure == "balance" }) {
		s.text("Outputs apart: " + compare.ApartMeans + ".")
	}
	if slices.ContainsFunc(rows, func(f told) bool { return f.verdict() == compare.TooShort }) {
		s.text(fmt.Sprintf("Too short to tell: it was held for under %g s in one of the two. The figures are shown, and are no verdict however great the change looks.", compare.LeastTelling))
	}
	if slices.ContainsFunc(rows, func(f told) bool { return f.verdict() == compare.Same }) {
		s.text("No difference that matters: all of the interval lies within what does not matter, or the values are so small that even its ends change them by next to nothing.")
	}
	if slices.ContainsFunc(rows, func(f told) bool { return !f.finding.Counts }) {
		s.text("More and less is said of what has no better and no worse; it is no part of the verdict.")
	}
	if picture := intervalChart(rows); picture != nil {
		s.text("In the picture the sign is the change and the line its interval; the shaded stripe about × 1 is what does not matter. ● better, ▲ worse, ◆ more or less; an open circle cannot be told, an open square makes no difference that matters. What is compared by its difference stands in the table alone.")
		s.add(block{Narrow: "Pictures are wider than this screen: push them sideways."})
		s.chart(picture)
	}
	return s
}

// A told measure is a finding with its row over all stages.
type told struct {
	finding *compare.Finding
	row     *compare.Row
}

// verdict is the finding's where that says something, be it of one throttle
// alone; else that of the figures beside it.
func (t *told) verdict() compare.Word {
	switch t.finding.Verdict {
	case compare.CannotTell, compare.Same:
		return t.row.Verdict
	}
	return t.finding.Verdict
}

// word is the verdict in words.
func (t *told) word() string {
	w := wordText(t.verdict())
	if t.verdict() != t.row.Verdict {
		w += " at single throttles"
	}
	return w
}

// overall lists the measures, what counts and is decided first.
func (c *Comparison) overall() (all []told) {
	r := c.Result
	for i := range r.Measures {
		f := &r.Measures[i]
		for k := range r.Rows {
			if r.Rows[k].Overall && r.Rows[k].Measure == f.Measure {
				all = append(all, told{f, &r.Rows[k]})
				break
			}
		}
	}
	rank := func(t *told) int {
		switch {
		case !t.finding.Counts:
			return 3
		case t.verdict() == compare.CannotTell, t.verdict() == compare.TooShort:
			return 2
		case t.verdict() == compare.Same:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(all, func(p, q told) int { return rank(&p) - rank(&q) })
	return all
}

func stagesCompared(r *compare.Result) (all []*compare.Stage) {
	for i := range r.Stages {
		if r.Stages[i].Compared {
			all = append(all, &r.Stages[i])
		}
	}
	return all
}

// rowColumns name the cells of a row of figures.
func rowColumns(first string) []column {
	return columns(first, "verdict", "#before", "#after", "#change", "interval", "#confidence")
}

func rowCells(name, verdict string, r *compare.Row) []string {
	change, interval := changeTexts(r)
	return []string{name, verdict, with(number(r.Before), r.Unit), with(number(r.After), r.Unit), change, interval, sureText(r.Confidence)}
}

// sureText is a confidence in percent: none is whole.
func sureText(confidence float64) string {
	if confidence > 0.9994 {
		return "over 99.9 %"
	}
	return percent(confidence)
}

// unknowing: an interval that reaches so far up and down says nothing.
const unknowing = 100

// changeTexts are the change and its interval.
func changeTexts(r *compare.Row) (change, interval string) {
	if r.By == "ratio" {
		change = absent
		if r.Ratio != nil {
			change = "× " + compare.RatioText(*r.Ratio)
		}
		if r.High > unknowing && r.Low < 1.0/unknowing {
			return change, "anything"
		}
		return change, "× " + compare.RatioText(r.Low) + " to " + compare.RatioText(r.High)
	}
	show := compare.DifferenceText
	return with(show(r.After-r.Before), r.Unit), with(show(r.Low)+" to "+show(r.High), r.Unit)
}

// changedSection tells the settings that differ, beside what they did.
func changedSection(c *Comparison) section {
	s := section{ID: "settings", Title: "Settings that changed"}
	r := c.Result
	if len(r.Settings) == 0 {
		switch a, b := len(c.Before.Settings), len(c.After.Settings); {
		case a == 0 && b == 0:
			s.text("The craft reported no settings in either session: what was changed is for you to know.")
		default:
			s.text("No setting that the craft reported differs: what was changed, if anything was, is a part, the pack or the weather.")
		}
		return s
	}
	t := &table{Caption: "Settings that differ", Columns: columns("name", "#before", "#after", "#after over before", "remark")}
	for _, one := range r.Settings {
		ratio := "–"
		if one.Ratio != nil {
			ratio = number(*one.Ratio)
		}
		t.row(one.Name, settingText(one.Before), settingText(one.After), ratio, orDash(one.Changed))
	}
	s.table(t, "")
	s.text(c.effects())
	if len(r.Settings) > 1 && r.Verdict != compare.CannotTell {
		s.text("Which of these settings did it two sessions cannot tell.")
	}
	return s
}

func settingText(v *float64) string {
	if v == nil {
		return "not told"
	}
	return plain(*v)
}

// effects names the measures that changed with the settings.
func (c *Comparison) effects() string {
	var parts []string
	for _, w := range []compare.Word{compare.Better, compare.Worse, compare.Mixed, compare.More, compare.Less} {
		var names []string
		for _, f := range c.Result.Measures {
			if f.Verdict == w {
				names = append(names, f.Name)
			}
		}
		if len(names) > 0 {
			parts = append(parts, wordText(w)+": "+strings.Join(names, ", "))
		}
	}
	switch {
	case len(c.Result.Measures) == 0:
		return "What came of them is not known: no measure could be compared."
	case len(parts) == 0:
		return "With them no measure changed by more than chance and what matters."
	}
	return "With them changed – " + strings.Join(parts, "; ") + "."
}

// ringsSection counts the alarms of both.
func ringsSection(c *Comparison) section {
	s := section{ID: "alarms", Title: "Alarms before and after"}
	t := &table{Caption: "Times that each alarm rang, and its worst priority", Columns: columns("alarm", "#before", "#after", "worst before", "worst after")}
	for _, a := range c.Result.Alarms {
		t.row(a.Name, fmt.Sprint(a.Before), fmt.Sprint(a.After), ringText(a.WorstBefore), ringText(a.WorstAfter))
	}
	s.table(t, "No alarm rang in either session. That holds for what was watched.")
	if len(t.Rows) > 0 {
		s.text("How often an alarm rings depends on how long a session is and on what was done in it; it is no measure. But a session that rang worse than the other, at medium or high priority, is never called better as a whole.")
	}
	return s
}

func ringText(priority string) string {
	if priority == "none" || priority == "" {
		return "–"
	}
	return priorityText(priority)
}

// stageSection is every figure of every stage.
func stageSection(c *Comparison) section {
	s := section{ID: "stages", Title: "Throttle by throttle"}
	all := stagesCompared(c.Result)
	if len(all) == 0 {
		s.text("No throttle was held in both long enough to be compared.")
		return s
	}
	for _, one := range all {
		s.heading(sentenceStart(one.Name))
		how := fmt.Sprintf("Held at %s for %s before, and at %s for %s after.", levelText(one.LevelA), length(one.SecondsA), levelText(one.LevelB), length(one.SecondsB))
		if min(one.SecondsA, one.SecondsB) < compare.LeastTelling {
			how += fmt.Sprintf(" Under %g s is too short for a verdict of its own; it counts in the figures over all throttles.", compare.LeastTelling)
		}
		s.text(how)
		t := &table{Caption: "Measures at " + one.Name, Dense: true, Columns: rowColumns("measure")}
		for i := range c.Result.Rows {
			if r := &c.Result.Rows[i]; r.Stage == one.Name {
				t.Rows = append(t.Rows, row{Class: wordClass(r.Verdict), Cells: rowCells(r.Name, wordText(r.Verdict), r)})
			}
		}
		s.table(t, "No measure was told by both at this throttle.")
	}
	return s
}

func levelText(v *float64) string {
	if v == nil {
		return absent
	}
	return fmt.Sprintf("%.3f", *v)
}

// sentenceStart begins with a capital.
func sentenceStart(s string) string { return strings.TrimSuffix(sentence(s), ".") }

// aloneSection lists the stages that are not compared.
func aloneSection(c *Comparison) section {
	s := section{ID: "alone", Title: "Throttles that were not compared"}
	t := &table{Caption: "Throttles without a partner, or held too short", Columns: columns("throttle", "#before (s)", "#after (s)", "why")}
	for _, one := range c.Result.Stages {
		if !one.Compared {
			t.row(one.Name, fixed(one.SecondsA, 1), fixed(one.SecondsB, 1), one.WhyNot)
		}
	}
	s.table(t, "Every throttle that was held has its partner in the other session.")
	return s
}

// machineSection tells where the two are not the same craft.
func machineSection(c *Comparison) section {
	s := section{ID: "craft", Title: "Differences of the craft"}
	t := &table{Caption: "What both tell and is not the same", Columns: columns("what", "before", "after")}
	for _, d := range c.Result.Craft {
		t.row(d.What, d.Before, d.After)
	}
	s.table(t, "Of what both sessions tell of the craft nothing differs.")
	return s
}

// uncomparedSection tells what could not be compared.
func uncomparedSection(c *Comparison) section {
	s := section{ID: "not-compared", Title: "What could not be compared"}
	var reasons []string
	names := map[string][]string{}
	for _, l := range c.Result.Missing {
		if names[l.Why] == nil {
			reasons = append(reasons, l.Why)
		}
		names[l.Why] = append(names[l.Why], l.Name)
	}
	t := &table{Caption: "Measures that were not compared", Columns: columns("measures", "why")}
	for _, why := range reasons {
		t.row(strings.Join(names[why], ", "), why)
	}
	s.table(t, "All measures were compared.")
	return s
}

// aloneVerdicts tells what each session came to by itself.
func aloneVerdicts(c *Comparison) section {
	s := section{ID: "each", Title: "Each session by itself"}
	for _, k := range []struct {
		when string
		side *compare.Side
		of   *account.Account
	}{{"Before", &c.Result.A, c.Before}, {"After", &c.Result.B, c.After}} {
		s.heading(k.when + ": " + k.side.Name)
		v := verdictOf(k.of)
		s.text(sentenceStart(v.Word) + ". " + v.Headline)
		for _, l := range v.Lines {
			if l.Link == "" {
				s.text(l.Name + ": " + l.Text)
			}
		}
		s.text("All of it: tetherbell report " + k.of.Session.File)
	}
	return s
}

// methodSection tells how it was done.
func methodSection(c *Comparison) section {
	s := section{ID: "judged", Title: "How it was judged"}
	s.text(sentence(c.Result.Method))
	for _, k := range []struct {
		side *compare.Side
		of   *account.Account
	}{{&c.Result.A, c.Before}, {&c.Result.B, c.After}} {
		s.text(k.side.Name + ": " + strings.TrimSuffix(k.of.Session.Judged, ".") + ".")
		if len(k.of.Session.Remarks) > 0 {
			s.add(block{List: k.of.Session.Remarks})
		}
	}
	return s
}
