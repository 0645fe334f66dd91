package dashboard

import (
	"slices"
	"strings"
	"unicode/utf8"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard/sound"
	"tetherbell/decode"
)

// standing tells whether an alarm still asks for attention: it is on, or
// nobody has acknowledged it.
func standing(a *alarms.AlarmView) bool { return a.Active || !a.Acknowledged }

// marked reports whether a standing alarm names any of the places, and how
// urgent the worst of them is.
func marked(s *alarms.Snapshot, w detect.Where) (detect.Priority, bool) {
	p := detect.None
	for i := range s.Alarms {
		if a := &s.Alarms[i]; a.Where&w != 0 && standing(a) {
			p = max(p, a.Priority)
		}
	}
	return p, p >= detect.Low
}

// markedBy is marked for alarms that name the whole craft: only their kind
// says which value they mean.
func markedBy(s *alarms.Snapshot, kinds ...detect.Kind) (detect.Priority, bool) {
	p := detect.None
	for i := range s.Alarms {
		if a := &s.Alarms[i]; slices.Contains(kinds, a.Kind) && standing(a) {
			p = max(p, a.Priority)
		}
	}
	return p, p >= detect.Low
}

// label writes a name of fixed width; an alarm on its place is shown by its
// colours and by a '!' in front.
func label(p pane, s *alarms.Snapshot, x, y, w int, name string, place detect.Where) int {
	level, up := marked(s, place)
	return p.label(x, y, w, name, level, up)
}

func (p pane) label(x, y, w int, name string, level detect.Priority, up bool) int {
	st, sign := p.look.bold, " "
	if up {
		st, sign = p.look.chip(level), "!"
	}
	end := p.text(x, y, sign+name, st)
	for end < x+w-1 {
		p.put(end, y, ' ', st)
		end++
	}
	return x + w
}

// silentAlready is the silence from which the line is called silent: stale-link's
// own default.
const silentAlready = 300_000 // microseconds

// drawState draws the strip that says what the craft is doing, weightiest
// first; what does not fit is left out.
func drawState(p pane, f *Frame) {
	x := 0
	for i, it := range stateParts(f, p.look) {
		if i > 0 {
			if x+2+utf8.RuneCountInString(it.text) > p.w {
				continue
			}
			p.put(x, 0, p.look.bar, p.look.plain)
			x++
		}
		lead := " "
		if strings.HasPrefix(it.text, "!") {
			lead = ""
		}
		x = p.text(x, 0, lead+it.text+" ", it.style)
	}
}

func stateParts(f *Frame, l *look) []part {
	s, strong := f.Snap, l.invert.Bold(true)
	out := make([]part, 0, 12)
	if word := playedWord(&f.Status); word != "" { // before all: nothing in this row is of now
		out = append(out, part{word, strong})
	}
	if p := dataPart(f, l); p.text != "" {
		out = append(out, p)
	}
	past := f.Status.Lost || f.Status.Ended || f.Status.EngineStill > 0 || oldState(s) || isOld(f, decode.State)
	switch {
	case s.Armed == detect.Yes && past:
		out = append(out, part{"was ARMED " + clock(s.ArmedForUS, 0), strong})
	case s.Armed == detect.No && past:
		out = append(out, part{"was disarmed", l.bold})
	case s.Armed == detect.Yes:
		out = append(out, part{"ARMED " + clock(s.ArmedForUS, 0), strong})
	case s.Armed == detect.No:
		out = append(out, part{"disarmed", l.bold})
	default:
		out = append(out, part{"ARMED? not known", strong})
	}
	if p := soundPart(f, l); p.text != "" {
		out = append(out, p)
	}
	yes := "STOP PRESSED"
	if past {
		yes = "stop was pressed"
	}
	stop := part{triWord(s.Stopped, yes, "not stopped", "stop not known"), l.plain}
	if past && s.Stopped == detect.No {
		stop.text = "was not stopped"
	}
	if s.Stopped == detect.Yes && !past {
		stop.style = strong
	}
	out = append(out, stop)
	switch {
	case s.ControlOK == detect.No && past:
		out = append(out, part{"control was gone", l.bold})
	case s.ControlOK == detect.No:
		out = append(out, part{"CONTROL LINK GONE", l.chip(detect.High)})
	}
	if idle, level, up := slippedIdle(s); up {
		out = append(out, part{"!idle set to " + num(idle, 2), l.chip(level)})
	}
	stick := part{"stick " + wasRead(s.StickThrottle, past), l.plain}
	if level, up := markedBy(s, detect.GroundThrust); up {
		out = append(out, part{"!" + stick.text, l.chip(level)})
		stick.text = ""
	}
	if s.Armed == detect.Yes && stick.text != "" { // matters more than what holds it
		out = append(out, stick)
		stick.text = ""
	}
	ground := part{triWord(s.Ground, "on ground", "OFF GROUND", "ground not known"), l.plain}
	if past && s.Ground != detect.Unknown {
		ground.text = "was " + ground.text
	}
	out = append(out, ground)
	switch {
	case s.Lines == 0: // nobody knows yet
	case s.Hold != "" && s.Held:
		out = append(out, part{"on " + clean(s.Hold), l.plain})
	case s.Held:
		out = append(out, part{"held", l.plain})
	default:
		out = append(out, part{"FREE, NOT HELD", l.bold})
	}
	if stick.text != "" {
		out = append(out, stick)
	}
	out = append(out, part{"throttle " + wasRead(s.Throttle, past || isOld(f, decode.Axes)), l.plain})
	if s.ControlOK == detect.Yes && !past {
		out = append(out, part{"control ok", l.plain})
	}
	return out
}

// playedWord says that what is on the screen is no watch; empty where it is one, and
// in a drill, which has a row of its own for that. It stands in the one row that all
// views have at all sizes.
func playedWord(st *Status) string {
	switch {
	case !st.Replay || st.Drill != nil:
		return ""
	case st.Paused:
		return "REPLAY PAUSED"
	}
	return "REPLAY"
}

// wasRead words a reading of this row; one of some time ago is called that.
func wasRead(r detect.Reading, past bool) string {
	if past && r.OK {
		return "was " + read(r, 2)
	}
	return read(r, 2)
}

// dataPart says whether what comes can be relied on.
func dataPart(f *Frame, l *look) part {
	s, strong := f.Snap, l.invert.Bold(true)
	poor := poorData(s)
	lack, lacks := s.Lacking()
	if !lacks {
		lack, lacks = lostTag(f)
	}
	switch {
	case f.Status.EngineStill > 0:
		return part{"NOT JUDGED", strong}
	case f.Status.Ended:
		return part{"AT THE END", strong}
	case f.Status.Leaving != "":
		return part{"WATCH ENDS", strong}
	case f.Status.Lost:
		return part{"PORT LOST", strong}
	case silentLong(s):
		return part{"OLD: " + span(float64(s.SilentUS)/1e6), strong}
	case s.Lines == 0 || listening(s):
	case lacks:
		return part{"DATA LACKS " + tagNames[lack] + misnamedWord(s, lack), strong}
	case len(s.Doubted) > 0: // it comes, and cannot be so
		return part{doubtWord(s.Doubted[0]), strong}
	case poor != "":
		return part{"DATA POOR: " + poor, strong}
	case len(pressingLeft(s)) > 0 || len(s.Untold) > 0: // what comes may be good: the big letters say that it is not enough
		return part{"NOT ALL WATCHED", strong}
	default:
		return part{"data good", l.bold}
	}
	return part{}
}

// soundPart says why an alarm would not be heard now; nothing where audio makes
// the sound, or is being opened.
func soundPart(f *Frame, l *look) part {
	st := &f.Status
	switch {
	case f.Snap.PausedUS > 0:
		return part{"SOUND OFF " + pauseLeft(f.Snap), l.invert.Bold(true)}
	case st.Ended:
	case st.Heard.Way == sound.Silent && st.Heard.Chosen:
		return part{"sound off", l.bold}
	case st.Heard.Way == sound.Silent:
		return part{"NO SOUND", l.chip(detect.Medium)}
	case st.Heard.Way == sound.BellOnly && unheard(st):
		return part{"BELL ONLY", l.chip(detect.Medium)}
	case st.Heard.Way == sound.BellOnly:
		return part{"bell only", l.bold}
	}
	return part{}
}

// poorShare is the share of bad and lost lines over which the strip calls data
// poor: the usual limit of bad-link.
const poorShare = 0.05

// poorData says why what comes cannot be relied on; empty where it can.
func poorData(s *alarms.Snapshot) string {
	switch {
	case s.SilentUS >= silentAlready:
		return "silent " + span(float64(s.SilentUS)/1e6)
	case s.BadShare > poorShare:
		return "bad+lost " + percent(s.BadShare)
	}
	for i := range s.Alarms {
		switch a := &s.Alarms[i]; a.Kind {
		case detect.StaleLink, detect.BadLink, detect.FrozenSensor:
			if a.Active && !swapped(a) { // whose lines are used, or lack
				return kindName(a.Kind)
			}
		}
	}
	return ""
}

// misnamedWord asks for a tag that lacks whether another that comes is meant.
func misnamedWord(s *alarms.Snapshot, tag decode.Tag) string {
	if o, ok := s.Misnamed(tag); ok {
		return " (" + clean(o.Name) + ": " + o.Asks() + ")"
	}
	return ""
}

// swapped tells of an alarm that cables were swapped.
func swapped(a *alarms.AlarmView) bool { return strings.HasPrefix(a.Story.Text, detect.Swapped) }

func triWord(t detect.Tri, yes, no, unknown string) string {
	switch t {
	case detect.Yes:
		return yes
	case detect.No:
		return no
	}
	return unknown
}

// slippedIdle is the idle setting that an alarm is about. Of all slips of a
// setting only a dangerous idle is more than low.
func slippedIdle(s *alarms.Snapshot) (value float64, level detect.Priority, up bool) {
	for i := range s.Alarms {
		if a := &s.Alarms[i]; a.Kind == detect.SettingsSlip && standing(a) && a.Priority >= detect.Medium {
			return a.Value, a.Priority, true
		}
	}
	return 0, detect.None, false
}
