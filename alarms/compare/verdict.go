package compare

import (
	"cmp"
	"fmt"
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
	// A session that rang worse is not better as a whole, whatever was measured of
	// its steady holds: alarms heed ramps and sticks, too.
	if l := r.Louder; l != nil && (l.After && r.Verdict == Better || !l.After && r.Verdict == Worse) {
		r.Verdict = Mixed
	}
	switch {
	case r.SameRecording:
		r.Verdict = CannotTell
		r.Sentence = r.A.Name + " and " + r.B.Name + " are the same recording: there is nothing to compare"
	case r.Verdict == CannotTell:
		r.Sentence = r.whyNot(a, b)
	default:
		r.Sentence = r.says(better, worse, mixed)
	}
	if r.alarmFirst() {
		r.Sentence = r.rang() + "; " + r.Sentence
	}
	r.remark(a, b)
}

// alarmFirst reports whether the sentence begins with which session rang worse:
// always, but where the verdict says the same.
func (r *Result) alarmFirst() bool {
	return r.Louder != nil && (r.Verdict == Mixed || r.Verdict == CannotTell)
}

// rang words which session rang worse, and what.
func (r *Result) rang() string {
	l, quiet := r.Louder, r.B.Name
	if l.After {
		quiet = r.A.Name
	}
	names := l.Alarms
	more := ""
	if n := len(names) - 2; n > 0 {
		names, more = names[:2], fmt.Sprintf(" and %d more", n)
	}
	text := fmt.Sprintf("%s%s rang at %s priority in %s, ", strings.Join(names, ", "), more, l.Priority, l.Session)
	if l.Other == detect.None.String() {
		return text + "nothing rang in " + quiet
	}
	return text + "nothing over " + l.Other + " in " + quiet
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

// says words what is better and worse, what changed most first.
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
			if row := r.telling(f.Measure); row != nil {
				rows = append(rows, row)
			}
		}
		slices.SortStableFunc(rows, func(p, q *Row) int { return cmp.Compare(q.beyond(), p.beyond()) })
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

// telling is the row of a measure that a sentence names: that over all stages
// where it says something, as the table has it, else the one that changed most.
func (r *Result) telling(measure string) (best *Row) {
	for i := range r.Rows {
		row := &r.Rows[i]
		if row.Measure != measure || row.Verdict != Better && row.Verdict != Worse {
			continue
		}
		if row.Overall {
			return row
		}
		if best == nil || row.beyond() > best.beyond() {
			best = row
		}
	}
	return best
}

// allShort reports whether no row over all stages rests on enough to be told.
func (r *Result) allShort() bool {
	return !slices.ContainsFunc(r.Rows, func(row Row) bool { return row.Overall && row.Verdict != TooShort })
}

// TooShort names the stages that are compared, and carry no verdict by themselves.
func (r *Result) TooShort() (names []string) {
	for i := range r.Stages {
		if s := &r.Stages[i]; s.Compared && min(s.SecondsA, s.SecondsB) < LeastTelling {
			names = append(names, s.Name)
		}
	}
	return names
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
		return fmt.Sprintf("no throttle was held in both for %g s: %s", LeastHeld, strings.Join(why, "; "))
	}
	if len(r.Measures) == 0 {
		return "no measure was told by both in the stages that they share"
	}
	if r.allShort() {
		return fmt.Sprintf("what was held in both was held for under %g s, too short to tell", LeastTelling)
	}
	return "nothing differs by more than chance, the spread from run to run, and what matters"
}

// remark adds what limits the verdict.
func (r *Result) remark(a, b *Run) {
	if r.SameRecording {
		return
	}
	add := func(format string, args ...any) { r.Remarks = append(r.Remarks, fmt.Sprintf(format, args...)) }
	if len(r.Craft) > 0 {
		var what []string
		for _, d := range r.Craft {
			what = append(what, fmt.Sprintf("%s %s and %s", d.What, d.Before, d.After))
		}
		add("these are not the same craft: %s", strings.Join(what, ", "))
	}
	if r.Louder != nil && !r.alarmFirst() {
		add("%s", r.rang())
	}
	if short := r.TooShort(); len(short) > 0 && !r.allShort() { // else the verdict says it
		add("the verdict is over all throttles together: under %g s is too short for a verdict of one alone, as at %s", LeastTelling, strings.Join(short, ", "))
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
