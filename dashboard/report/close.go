package report

import (
	"strconv"
	"strings"

	"tetherbell/alarms/account"
)

// settingsSection lists the craft's settings.
func settingsSection(a *account.Account) section {
	s := section{ID: "settings", Title: "Settings in force"}
	t := &table{Caption: "Settings as the craft reported them", Columns: columns("name", "#value at the end", "earlier in this session")}
	for _, one := range a.Settings {
		var was []string
		for _, c := range one.Was {
			was = append(was, plain(c.Value)+" until "+second(c.Until))
		}
		t.row(one.Name, plain(one.Value), orDash(strings.Join(was, ", ")))
	}
	s.table(t, "The craft reported no settings.")
	return s
}

// plain writes a setting with all its digits.
func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// lackSection tells what was not watched: silence about it proves nothing.
func lackSection(a *account.Account) section {
	s := section{ID: "not-watched", Title: "What was not watched"}
	t := &table{Caption: "Alarms that were not watched, or not all the time", Columns: columns("alarm", "why", "expected")}
	for _, l := range a.NotWatched {
		expected := "yes"
		if l.Unasked {
			expected = "no, nobody asked for it"
		}
		t.row(l.Name, l.Why, expected)
	}
	s.table(t, "All kinds of alarm were watched.")
	if len(a.Disagree) > 0 {
		s.text("Craft file and bridge do not agree:")
		s.add(block{List: a.Disagree})
	}
	return s
}

// cardSection tells the steps of a guided run.
func cardSection(a *account.Account) section {
	s := section{ID: "card", Title: "Guided run"}
	if a.Card == nil {
		s.text("It was no guided run.")
		return s
	}
	s.text(sentence(a.Card.Title + ": " + a.Card.Outcome))
	t := &table{Caption: "Steps of the card", Stacked: true, Columns: columns("step", "state", "to be done", "why")}
	for _, step := range a.Card.Steps {
		t.row(step.Name, stepState(step.State), step.Text, orDash(step.Reason))
	}
	s.table(t, "The card has no steps.")
	return s
}

// stepState words a step's state when the run is over: what was to come, or
// going on, is so no longer.
func stepState(state string) string {
	switch state {
	case "now":
		return "not done"
	case "waiting":
		return "not reached"
	case "by-eye":
		return "not measured, left to the eye"
	case "skipped":
		return "left out"
	}
	return state
}

// judgedSection tells how the account came to be, and what is odd about it.
func judgedSection(a *account.Account) section {
	s := section{ID: "judged", Title: "How it was judged"}
	s.text(sentence(a.Session.Judged))
	s.text("Times are seconds of engine time from the first good line. Curves are the least and greatest value of each stretch of time. Figures that were not measured are said to be so.")
	if len(a.Session.Remarks) == 0 {
		s.text("There is nothing odd about the recording.")
		return s
	}
	s.text("Remarks on the recording:")
	s.add(block{List: a.Session.Remarks})
	return s
}
