package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tetherbell/alarms/detect"
)

// method is how it was done, for whoever reads the result.
const method = "Blocks of half a second of steady throttle, matched by throttle (within 0.03) and compared within each stage; " +
	"stages weighted by their blocks. Ratios as logarithms. Interval: Welch's, with Satterthwaite's degrees of freedom, on batch means, " +
	"their lag-one correlation estimated and at least 0.3; a trend through a stage counts as one draw; the spread from run to run as in " +
	"the simulator is added. Tested against the smallest difference that matters; Holm's procedure holds the chance of any wrong verdict to " +
	"3 % over all stages and 2 % in single ones, and each interval is at the level at which it decided."

// conclude gives the word, the sentence and the remarks.
func (r *Result) conclude(a, b *Run) {
	better, worse := r.of(Better), r.of(Worse)
	mixed := r.of(Mixed)
	switch {
	case len(mixed) > 0 || len(better) > 0 && len(worse) > 0:
		r.Verdict = Mixed
	case len(better) > 0:
		r.Verdict = Better
	case len(worse) > 0:
		r.Verdict = Worse
	default:
		r.Verdict = CannotTell
	}
	if r.Verdict == CannotTell {
		r.Sentence = r.whyNot(a, b)
	} else {
		r.Sentence = r.says(better, worse, mixed)
	}
	r.remark(a, b)
}

// of lists the measures with a verdict that count.
func (r *Result) of(w Word) (all []Finding) {
	for _, f := range r.Measures {
		if f.Counts && f.Verdict == w {
			all = append(all, f)
		}
	}
	return all
}

// says words what is better and worse, the clearest first.
func (r *Result) says(better, worse, mixed []Finding) string {
	var parts []string
	for _, k := range []struct {
		word Word
		of   []Finding
	}{{Better, better}, {Worse, worse}, {Mixed, mixed}} {
		if len(k.of) == 0 {
			continue
		}
		var rows []*Row
		for _, f := range k.of {
			if row := r.clearest(f.Measure); row != nil {
				rows = append(rows, row)
			}
		}
		slices.SortStableFunc(rows, func(p, q *Row) int { return compareFloat(p.P, q.P) })
		more := ""
		if n := len(rows) - 2; n > 0 {
			rows = rows[:2]
			more = fmt.Sprintf(" and %d more", n)
		}
		var words []string
		for _, row := range rows {
			words = append(words, row.words())
		}
		parts = append(parts, string(k.word)+": "+strings.Join(words, ", ")+more)
	}
	return r.B.Name + " against " + r.A.Name + ", " + strings.Join(parts, "; ")
}

func compareFloat(p, q float64) int {
	switch {
	case p < q:
		return -1
	case p > q:
		return 1
	}
	return 0
}

// clearest is the row of a measure with the least p of those that say
// something.
func (r *Result) clearest(measure string) (best *Row) {
	for i := range r.Rows {
		row := &r.Rows[i]
		if row.Measure != measure || row.Verdict != Better && row.Verdict != Worse {
			continue
		}
		if best == nil || row.P < best.P {
			best = row
		}
	}
	return best
}

// words is a row as a person reads it.
func (row *Row) words() string {
	at := ""
	if row.Stage != allStages {
		at = " at " + row.Stage
	}
	if row.By == "ratio" {
		return fmt.Sprintf("%s%s is %.2f times as much (%.2f to %.2f)", row.Name, at, math.Exp(row.effect), row.Low, row.High)
	}
	unit := ""
	if row.Unit != "1" {
		unit = " " + row.Unit
	}
	return fmt.Sprintf("%s%s by %+.2f%s (%+.2f to %+.2f)", row.Name, at, row.effect, unit, row.Low, row.High)
}

// whyNot says why nothing can be told.
func (r *Result) whyNot(a, b *Run) string {
	for _, s := range []struct {
		run  *Run
		name string
	}{{a, r.A.Name}, {b, r.B.Name}} {
		switch {
		case s.run.length == 0:
			return fmt.Sprintf("nothing came in %s", s.name)
		case len(s.run.blocks) == 0 && !s.run.everArmed:
			return fmt.Sprintf("%s was never armed", s.name)
		case len(s.run.blocks) == 0:
			return fmt.Sprintf("%s never stood still, armed and its sticks at rest, for over a second", s.name)
		}
	}
	compared := slices.ContainsFunc(r.Stages, func(s Stage) bool { return s.Compared })
	if !compared {
		var why []string
		for _, s := range r.Stages {
			if s.WhyNot != "" && len(why) < 3 {
				why = append(why, s.WhyNot)
			}
		}
		return fmt.Sprintf("no throttle was held in both for %g s: %s", leastSeconds, strings.Join(why, "; "))
	}
	if len(r.Measures) == 0 {
		return "no measure was told by both in the stages that they share"
	}
	return "nothing differs by more than chance, the spread from run to run, and what matters"
}

// remark adds what limits the verdict.
func (r *Result) remark(a, b *Run) {
	add := func(format string, args ...any) { r.Remarks = append(r.Remarks, fmt.Sprintf(format, args...)) }
	if len(r.Craft) > 0 {
		var what []string
		for _, d := range r.Craft {
			what = append(what, fmt.Sprintf("%s %s and %s", d.What, d.Before, d.After))
		}
		add("these are not the same craft: %s", strings.Join(what, ", "))
	}
	loudA, loudB := a.loudest(), b.loudest()
	switch {
	case loudB > loudA && loudB >= detect.Medium:
		add("%s rang at %s priority, %s at %s", r.B.Name, loudB, r.A.Name, loudA)
	case loudA > loudB && loudA >= detect.Medium:
		add("%s rang at %s priority, %s at %s", r.A.Name, loudA, r.B.Name, loudB)
	}
	for _, s := range r.Settings {
		if s.Changed != "" {
			add("%s %s: what it did then is part of that session's figures", s.Name, s.Changed)
		}
	}
	for _, s := range []struct {
		full bool
		name string
	}{{a.full, r.A.Name}, {b.full, r.B.Name}} {
		if s.full {
			add("only the first %.0f s of steady holds of %s are compared", float64(maxBlocks)*seconds(blockTime), s.name)
		}
	}
}
