package main

import (
	"fmt"

	"tetherbell/alarms"
	"tetherbell/alarms/cable"
	"tetherbell/dashboard"
)

// cable is the watch over the line of the bridge whose lines come now.
func (d *desk) cable() *cable.Watch {
	at := max(d.many.from, 1) - 1
	for len(d.cables) <= at {
		d.cables = append(d.cables, cable.New(d.eng.BaudOf(len(d.cables))))
	}
	return d.cables[at]
}

// comes heeds whose a line is. Where tags pass on, two cables were swapped: what was
// seen of that at their ports is no fault of the lines.
func (d *desk) comes(w way) {
	if d.many.heed(w) {
		d.cable().Swapped(d.eng.Now())
	}
}

// firstBaud is the baud of the first line, of several or alone.
func firstBaud(eng *alarms.Engine) int {
	if baud := eng.Baud(); baud > 0 {
		return baud
	}
	return eng.BaudOf(0)
}

// anySight is what was seen of a line that ails, the first there is.
func (d *desk) anySight() (cable.Sight, bool) {
	for _, w := range d.cables {
		if all := w.Sights(); len(all) > 0 {
			return all[0], true
		}
	}
	return cable.Sight{}, false
}

// ofCable says of which of several lines something is told; nothing where there
// is one.
func (d *desk) ofCable(i int) string {
	if d.many.from == 0 {
		return ""
	}
	return d.many.name(i+1) + ": "
}

// text reports whether the bad lines of a bridge, from 0, are text.
func (d *desk) text(i int) bool { return i < len(d.cables) && d.cables[i].Text() }

// reportCable tells of a fault of the line when it is seen first, and when it
// comes again after a quiet spell.
func (d *desk) reportCable() {
	for i, w := range d.cables {
		for _, s := range w.News() {
			text := d.ofCable(i) + sightText(&s, d.eng.KeepOff(s.Action))
			d.ailing(d.eng.Now(), "line", text, "line: "+text)
		}
	}
}

// sightText words a fault of the line that has just been seen, and what to do first.
func sightText(s *cable.Sight, action string) string {
	again := ""
	if s.Again {
		again = " again"
	}
	return fmt.Sprintf("%s%s: %s; first: %s", s.Kind, again, s.Text, action)
}

// cableLines word for a verdict what ailed the line, a line each.
func (d *desk) cableLines() []string {
	var out []string
	for i, w := range d.cables {
		for _, s := range w.Sights() {
			when := fmt.Sprintf("%.1f to %.1f s", float64(s.First)/1e6, float64(s.Last)/1e6)
			if s.Last-s.First < 100_000 {
				when = fmt.Sprintf("at %.1f s", float64(s.First)/1e6)
			}
			out = append(out, fmt.Sprintf("  line: %s%s (%s): %s; first: %s", d.ofCable(i), s.Kind, when, s.Text, d.eng.KeepOff(s.Action)))
		}
	}
	return out
}

// cableSights are the same for the screen.
func (d *desk) cableSights() []dashboard.Sight {
	var out []dashboard.Sight
	for i, w := range d.cables {
		for _, s := range w.Sights() {
			out = append(out, dashboard.Sight{
				Name: d.ofCable(i) + s.Kind.String(), Count: s.Count, First: s.First, Last: s.Last, Text: s.Text, Action: d.eng.KeepOff(s.Action),
			})
		}
	}
	return out
}
