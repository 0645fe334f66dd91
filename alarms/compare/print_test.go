package compare

import (
	"fmt"
	"strings"
)

// print writes a result as text, for whoever works on this package.
func print(r *Result) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n", strings.ToUpper(string(r.Verdict)), r.Sentence)
	for _, s := range r.Remarks {
		fmt.Fprintf(&b, "  note: %s\n", s)
	}
	for _, s := range r.Stages {
		fmt.Fprintf(&b, "  stage %-28s %5.1f s %5.1f s  %s\n", s.Name, s.SecondsA, s.SecondsB, s.WhyNot)
	}
	for _, row := range r.Rows {
		ratio := "-"
		if row.Ratio != nil {
			ratio = fmt.Sprintf("%.3f", *row.Ratio)
		}
		fmt.Fprintf(&b, "  %-12s %-25s %9.4g %9.4g %-6s %7s (%.3f..%.3f) p=%.2g n=%d,%d %s\n", row.Measure, row.Stage,
			row.Before, row.After, row.Unit, ratio, row.Low, row.High, row.P, row.BlocksA, row.BlocksB, row.Verdict)
	}
	for _, s := range r.Settings {
		fmt.Fprintf(&b, "  set %s %s %s %s %s\n", s.Name, show(s.Before), show(s.After), show(s.Ratio), s.Changed)
	}
	for _, a := range r.Alarms {
		fmt.Fprintf(&b, "  alarm %s %d (%s) %d (%s)\n", a.Name, a.Before, a.WorstBefore, a.After, a.WorstAfter)
	}
	for _, l := range r.Missing {
		fmt.Fprintf(&b, "  not compared: %s: %s\n", l.Name, l.Why)
	}
	return b.String()
}

func show(v *float64) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf("%.4g", *v)
}
