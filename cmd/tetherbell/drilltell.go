package main

import (
	"cmp"
	"fmt"
	"slices"

	"tetherbell/dashboard"
	"tetherbell/simulator/drill"
)

// beginPage stands before the first recording.
func (d *driller) beginPage() *dashboard.DrillPage {
	p := &dashboard.DrillPage{
		Head: "DRILL", Order: fmt.Sprintf("%d IN A ROW", len(d.names)), Text: "watch each recording as you would watch the bench", Next: "begins",
		Lines: []string{
			"Space is the stop switch. Press it when you would stop, once: it is scored.",
			"",
			"In some recordings nothing is wrong. There the right answer is to let it run.",
			"A stop before there is any sign of a fault is a stop without cause.",
			"Where the stop was pressed or the craft disarmed before, none is called for.",
			"",
			"Nobody can pause or go back here. q leaves; what was done is kept.",
		},
	}
	if !d.heard {
		p.Lines = append(p.Lines, "", "Alarms are off: nothing rings, and no banner tells. See for yourself.")
	}
	return p
}

// tellBegin says which recording of the drill begins, where no screen does.
func (d *driller) tellBegin() {
	if d.r.aud.form != asPlain {
		return
	}
	heard := "off"
	if d.heard {
		heard = "on"
	}
	line := fmt.Sprintf("drill %d of %d begins, alarms %s", d.at+1, len(d.names), heard)
	if d.r.speed != 1 {
		line += fmt.Sprintf(", x%g", d.r.speed)
	}
	d.r.aud.out.say(line)
}

// tellResult tells what an attempt was worth: on a page, or as lines.
func (d *driller) tellResult(row *drill.Row, a *answer) {
	d.page = resultPage(row, a, d.names[d.at])
	d.page.Next = "next recording"
	if d.at == len(d.names)-1 {
		d.page.Next = "ends the drill"
	}
	aud := &d.r.aud
	switch aud.form {
	case asJSON:
		if line, err := row.Append(nil); err == nil {
			aud.out.print(line[:len(line)-1])
		}
	case asPlain:
		aud.out.say(fmt.Sprintf("drill %d of %d, %s: %s, %s", row.Attempt, row.Of, row.File, d.page.Head, d.page.Order))
		for _, line := range append([]string{d.page.Text, d.page.More}, d.page.Lines...) {
			if line != "" {
				aud.out.say("  " + line)
			}
		}
	}
}

// resultPage explains an attempt at the recording of a path.
func resultPage(row *drill.Row, a *answer, name string) *dashboard.DrillPage {
	t, v := row.Truth(), row.Judged()
	p := &dashboard.DrillPage{Wrong: !v.Right(), Text: "you did not stop"}
	if row.Stop >= 0 {
		p.Text = fmt.Sprintf("you stopped at %.2f s", row.Stop)
		if d, ok := drill.Since(t.Alarm, row.Stop); ok && v != drill.NoCause {
			p.Text += ", " + fromIt(d, "the alarm")
		}
	}
	late := t.Deadline()
	switch v {
	case drill.LetRun:
		p.Head, p.Order, p.More = "RIGHT", "LET IT RUN", "nothing was wrong"
	case drill.InTime:
		p.Head, p.Order = "IN TIME", "RIGHT STOP"
		if d, ok := drill.Since(t.Alarm, row.Stop); ok && d >= 0 {
			p.Order = fmt.Sprintf("%.1f S REACTION", d)
		} else if ok {
			p.Order = "BEFORE THE ALARM"
		}
	case drill.Late:
		p.Head, p.Order = "LATE", fmt.Sprintf("%.1f S TOO LATE", row.Stop-late)
	case drill.NoCause:
		p.Head, p.Order, p.More = "NO CAUSE", "IT WAS SOUND", "nothing was wrong: this was a false stop"
		if t.Fault {
			p.Order, p.More = "TOO EARLY", "nothing could be seen yet: this was a false stop"
		}
	case drill.Missed:
		p.Head, p.Order = "MISSED", "NO STOP"
	case drill.Clear:
		p.Head, p.Order = "RIGHT", "KEEP CLEAR"
	}
	if t.Spent && p.More == "" {
		p.More = a.spent
	}
	if p.More == "" && late >= 0 {
		p.More = fmt.Sprintf("the last moment in time was %.2f s", late)
	}
	p.Lines = append(moments(t, row.Stop), explained(a)...)
	p.Lines = append(p.Lines, "", "recording: "+row.File, "see it again: "+seeAgain(name, t))
	return p
}

// seeAgain is the command that shows a recording once more, from where there begins
// to be something to be seen.
func seeAgain(name string, t drill.Truth) string {
	cmd := "tetherbell replay "
	if from := seconds(sightLead); t.Fault && t.Began > from {
		cmd += fmt.Sprintf("--at %.1f ", t.Began-from)
	}
	return cmd + name
}

// fromIt says how far apart a stop and a moment were.
func fromIt(d float64, moment string) string {
	if d < 0 {
		return fmt.Sprintf("%.2f s before %s", -d, moment)
	}
	return fmt.Sprintf("%.2f s after %s", d, moment)
}

// moments lists what happened when, and how far from it the stop was.
func moments(t drill.Truth, stop float64) []string {
	type moment struct {
		at   float64
		what string
	}
	list := []moment{{t.Began, "the evidence began"}, {t.Alarm, "the alarm"}, {t.Limit, "the limit"}, {stop, "your stop"}}
	list = slices.DeleteFunc(list, func(m moment) bool { return m.at < 0 })
	slices.SortStableFunc(list, func(a, b moment) int { return cmp.Compare(a.at, b.at) })
	var out []string
	for _, m := range list {
		line := fmt.Sprintf("  %7.2f s  %s", m.at, m.what)
		if d, ok := drill.Since(m.at, stop); ok && m.what != "your stop" {
			line += ": you stopped " + fromIt(d, "it")
		}
		out = append(out, line)
	}
	return out
}

// explained says what there was to be seen, and what to do.
func explained(a *answer) []string {
	var out []string
	if a.alarm != nil && a.Fault {
		s := &a.alarm.Story
		out = append(out, "", fmt.Sprintf("to be seen: %s", s.Text))
		if s.Cause != "" {
			out = append(out, "likely cause: "+s.Cause)
		}
		if s.Action != "" {
			out = append(out, "first action: "+s.Action)
		}
	}
	if a.lesson != "" {
		out = append(out, "lesson: "+a.lesson)
	}
	return out
}
