package dashboard

import (
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// marked reports whether an alarm that is up names any of the places, and how
// urgent the worst of them is.
func marked(s *alarms.Snapshot, w detect.Where) (detect.Priority, bool) {
	p := detect.None
	for i := range s.Alarms {
		if a := &s.Alarms[i]; a.Where&w != 0 && (a.Active || !a.Acknowledged) {
			p = max(p, a.Priority)
		}
	}
	return p, p >= detect.Low
}

// label writes a name of fixed width; an alarm on it is shown by its colours
// and by a '!' in front.
func label(p pane, s *alarms.Snapshot, x, y, w int, name string, place detect.Where) int {
	st, sign := p.look.bold, " "
	if level, up := marked(s, place); up {
		st, sign = p.look.chip(level), "!"
	}
	end := p.text(x, y, sign+name, st)
	for end < x+w-1 {
		p.put(end, y, ' ', st)
		end++
	}
	return x + w
}

// drawState draws the strip that says what the craft is doing.
func drawState(p pane, f *Frame) {
	s, l := f.Snap, p.look
	type item struct {
		text  string
		style tcell.Style
	}
	strong := l.invert.Bold(true)
	items := make([]item, 0, 8)
	add := func(t string, st tcell.Style) { items = append(items, item{" " + t + " ", st}) }
	switch s.Armed {
	case detect.Yes:
		add("ARMED "+clock(s.ArmedForUS, 0), strong)
	case detect.No:
		add("disarmed", l.bold)
	default:
		add("ARMED? not known", strong)
	}
	switch s.Stopped {
	case detect.Yes:
		add("STOP PRESSED", strong)
	case detect.No:
		add("stop: not pressed", l.plain)
	default:
		add("stop: not known", l.plain)
	}
	if s.ControlOK == detect.No {
		add("CONTROL LINK GONE", l.chip(detect.High))
	}
	add(triWord(s.Ground, "on the ground", "off the ground", "ground: not known"), l.plain)
	switch {
	case s.Hold != "" && s.Held:
		add("held: "+clean(s.Hold), l.plain)
	case s.Held:
		add("held", l.plain)
	default:
		add("FREE, NOT HELD", l.bold)
	}
	add("stick "+read(s.StickThrottle, 2), l.plain)
	add("throttle "+read(s.Throttle, 2), l.plain)
	if s.ControlOK == detect.Yes {
		add("control ok", l.plain)
	}
	x := 0
	for i, it := range items {
		if i > 0 {
			if x+1+utf8.RuneCountInString(it.text) > p.w {
				continue
			}
			p.put(x, 0, l.bar, l.faint)
			x++
		}
		x = p.text(x, 0, it.text, it.style)
	}
}

func triWord(t detect.Tri, yes, no, unknown string) string {
	switch t {
	case detect.Yes:
		return yes
	case detect.No:
		return no
	}
	return unknown
}
