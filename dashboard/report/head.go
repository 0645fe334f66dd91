package report

import (
	"fmt"
	"strings"

	"tetherbell/alarms/account"
)

// craftName is what the craft is called; "craft without a name" else.
func craftName(a *account.Account) string {
	if a.Craft.Name == "" {
		return "craft without a name"
	}
	return a.Craft.Name
}

// title tells one session from another in a list of windows.
func title(a *account.Account) string {
	t := craftName(a)
	if start := startText(a.Session.Start); start != "" {
		t += ", " + start
	}
	return t
}

// facts stand under the title.
func facts(a *account.Account) []fact {
	start := startText(a.Session.Start)
	if start == "" {
		start = "not recorded"
	}
	all := []fact{{Name: "Start", Text: start}, {Name: "Length", Text: length(a.LengthS)}, {Name: "Craft", Text: craftText(&a.Craft)},
		{Name: "Held by", Text: holdText(&a.Craft)}, {Name: "Recording", Text: a.Session.File}}
	source := a.Session.Source
	if a.Session.Baud > 0 {
		source = strings.TrimPrefix(fmt.Sprintf("%s, %d baud", source, a.Session.Baud), ", ")
	}
	for _, f := range []fact{{Name: "Source", Text: source}, {Name: "Recorded by", Text: a.Session.Tool}} {
		if f.Text != "" {
			all = append(all, f)
		}
	}
	return all
}

// craftText is the machine in a line.
func craftText(c *account.Craft) string {
	parts := []string{}
	add := func(ok bool, format string, args ...any) {
		if ok {
			parts = append(parts, fmt.Sprintf(format, args...))
		}
	}
	add(c.Layout != "", "%s", c.Layout)
	add(c.Motors > 0, "%s", count(c.Motors, "motor", "motors"))
	add(c.MassG > 0, "%s g", number(c.MassG))
	add(c.PropellerMM > 0 && c.Blades > 0, "propellers of %s mm with %d blades", number(c.PropellerMM), c.Blades)
	add(c.PropellerMM > 0 && c.Blades == 0, "propellers of %s mm", number(c.PropellerMM))
	add(c.Poles > 0, "%d magnet poles", c.Poles)
	add(c.Cells > 0, "%s", count(c.Cells, "cell", "cells"))
	add(c.ArmMM > 0, "arms of %s mm", number(c.ArmMM))
	if len(parts) == 0 {
		return "not told"
	}
	return strings.Join(parts, ", ")
}

func holdText(c *account.Craft) string {
	switch {
	case c.Hold == "":
		return "not told"
	case c.HoldRatedN > 0:
		return fmt.Sprintf("%s, rated for %s N", c.Hold, number(c.HoldRatedN))
	}
	return c.Hold
}

// verdictOf words the verdict. What was not watched stands in it: a quiet
// session says nothing of that.
func verdictOf(a *account.Account) verdict {
	v := verdict{Class: priorityClass(a.Verdict.Worst), Headline: sentence(a.Verdict.Headline)}
	v.Word = "no alarm"
	if v.Class != "none" {
		v.Word = priorityText(v.Class)
	}
	add := func(name, text string) {
		if text != "" {
			v.Lines = append(v.Lines, fact{Name: name, Text: sentence(text)})
		}
	}
	add("End", a.Verdict.Ended)
	for _, mixed := range a.Session.OtherCraft {
		add("Two craft", mixed)
	}
	add("First thing to fix", a.Verdict.Fix)
	if a.Verdict.Fix == "" {
		add("First thing to fix", "nothing is known to be wrong")
	}
	add("Why", a.Verdict.Why)
	for _, all := range a.OfAll() {
		v.Lines = append(v.Lines, fact{"Not watched", sentence(all), "not-watched"})
	}
	if missed := missedOf(a); len(missed) > len(a.OfAll()) {
		v.Lines = append(v.Lines, fact{"Not fully watched", count(max(1, a.Lacking()), "kind of alarm was", "kinds of alarm were") + " not watched, or not all the time.", "not-watched"})
	}
	return v
}

// missedOf leaves out what nobody expects to be watched.
func missedOf(a *account.Account) []account.Lack {
	var all []account.Lack
	for _, l := range a.NotWatched {
		if !l.Unasked {
			all = append(all, l)
		}
	}
	return all
}
