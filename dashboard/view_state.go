package dashboard

import (
	"unicode/utf8"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
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

// oldValues is how old a value may be before the screen says that it is old:
// longer than any stream of the panels needs at its slowest typical rate.
const oldValues = 1_000_000 // microseconds

// oldWord says that the values of a stream are old; empty when they are not.
func oldWord(s *alarms.Snapshot, tag decode.Tag) string {
	st := &s.Streams[tag]
	if age := s.T - st.Last; st.Count > 0 && age > oldValues {
		return ": OLD, " + span(float64(age)/1e6) + " ago"
	}
	return ""
}

// drawState draws the strip that says what the craft is doing, weightiest
// first; what does not fit is left out.
func drawState(p pane, f *Frame) {
	x := 0
	for i, it := range stateParts(f.Snap, p.look) {
		if i > 0 {
			if x+3+utf8.RuneCountInString(it.text) > p.w {
				continue
			}
			p.put(x, 0, p.look.bar, p.look.plain)
			x++
		}
		x = p.text(x, 0, " "+it.text+" ", it.style)
	}
}

func stateParts(s *alarms.Snapshot, l *look) []part {
	strong := l.invert.Bold(true)
	out := make([]part, 0, 9)
	if s.Lines > 0 && s.SilentUS >= oldValues {
		out = append(out, part{"OLD: " + span(float64(s.SilentUS)/1e6), strong})
	}
	switch s.Armed {
	case detect.Yes:
		out = append(out, part{"ARMED " + clock(s.ArmedForUS, 0), strong})
	case detect.No:
		out = append(out, part{"disarmed", l.bold})
	default:
		out = append(out, part{"ARMED? not known", strong})
	}
	stop := part{triWord(s.Stopped, "STOP PRESSED", "stop: not pressed", "stop: not known"), l.plain}
	if s.Stopped == detect.Yes {
		stop.style = strong
	}
	out = append(out, stop)
	if s.ControlOK == detect.No {
		out = append(out, part{"CONTROL LINK GONE", l.chip(detect.High)})
	}
	out = append(out, part{triWord(s.Ground, "on the ground", "off the ground", "ground: not known"), l.plain})
	switch {
	case s.Lines == 0: // nobody knows yet
	case s.Hold != "" && s.Held:
		out = append(out, part{"held: " + clean(s.Hold), l.plain})
	case s.Held:
		out = append(out, part{"held", l.plain})
	default:
		out = append(out, part{"FREE, NOT HELD", l.bold})
	}
	out = append(out, part{"stick " + read(s.StickThrottle, 2), l.plain}, part{"throttle " + read(s.Throttle, 2), l.plain})
	if s.ControlOK == detect.Yes {
		out = append(out, part{"control ok", l.plain})
	}
	return out
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
