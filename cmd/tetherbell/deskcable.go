package main

import (
	"fmt"

	"tetherbell/alarms/cable"
	"tetherbell/dashboard"
)

// reportCable tells of a fault of the line when it is seen first, and when it
// comes again after a quiet spell.
func (d *desk) reportCable() {
	for _, s := range d.cable.News() {
		text := sightText(&s)
		d.ailing(d.eng.Now(), "line", text, "line: "+text)
	}
}

// sightText words a fault of the line that has just been seen.
func sightText(s *cable.Sight) string {
	again := ""
	if s.Again {
		again = " again"
	}
	return fmt.Sprintf("%s%s: %s; first: %s", s.Kind, again, s.Text, s.Action)
}

// cableLines word for a verdict what ailed the line, a line each.
func (d *desk) cableLines() []string {
	var out []string
	for _, s := range d.cable.Sights() {
		when := fmt.Sprintf("%.1f to %.1f s", float64(s.First)/1e6, float64(s.Last)/1e6)
		if s.Last-s.First < 100_000 {
			when = fmt.Sprintf("at %.1f s", float64(s.First)/1e6)
		}
		out = append(out, fmt.Sprintf("  line: %s (%s): %s; first: %s", s.Kind, when, s.Text, s.Action))
	}
	return out
}

// cableSights are the same for the screen.
func (d *desk) cableSights() []dashboard.Sight {
	var out []dashboard.Sight
	for _, s := range d.cable.Sights() {
		out = append(out, dashboard.Sight{
			Name: s.Kind.String(), Count: s.Count, First: s.First, Last: s.Last, Text: s.Text, Action: s.Action,
		})
	}
	return out
}
