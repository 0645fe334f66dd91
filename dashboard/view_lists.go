package dashboard

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// A listed line may stand for an alarm, so that a click acknowledges it.
type listed struct {
	text  string
	style tcell.Style
	alarm int // index in the snapshot, -1 none
}

// listLines words everything that has no room elsewhere: each alarm
// with its values, what is not watched and why, and the streams.
func listLines(f *Frame, l *look, w int) []listed {
	s := f.Snap
	var out []listed
	say := func(t string, st tcell.Style, alarm int) { out = append(out, listed{cutTo(t, w), st, alarm}) }
	long := func(text string) {
		for i, t := range wrap(clean(text), max(8, w-7)) { // less the indent of what follows
			lead := "  "
			if i > 0 {
				lead = "      "
			}
			say(lead+t, l.plain, -1)
		}
	}
	say("ALARMS", l.bold, -1)
	if len(s.Alarms) == 0 {
		say("  none", l.plain, -1)
	}
	for i := range s.Alarms {
		a := &s.Alarms[i]
		say(" "+alarmLine(a)+" since "+clock(a.Since, 1)+" ", l.chip(a.Priority), i)
		for _, t := range wrap(storyText(a, l), max(8, w-4)) {
			say("    "+t, l.plain, i)
		}
	}
	say("NOT WATCHED", l.bold, -1)
	switch blind := blindWord(f); {
	case blind != "":
		long(blind)
	case len(lacksOf(s)) == 0:
		long("nothing: " + watchedText(s))
	}
	if s.Lines > 0 && !listening(s) { // else it is too early to tell
		for _, t := range alarms.ByReason(slices.Concat(lacksOf(s), s.Absent)) {
			long(t)
		}
	}
	if len(s.Disagree) > 0 {
		say("CRAFT FILE AND BRIDGE DISAGREE", l.bold, -1)
	}
	for _, d := range s.Disagree {
		long(d)
	}
	if len(f.Status.Sights) > 0 {
		say("THE LINE SHOWS", l.bold, -1)
	}
	for i := range f.Status.Sights {
		long(sightLine(&f.Status.Sights[i], l))
	}
	if f.Status.Beacon != "" {
		say("BEACON", l.bold, -1)
		long(f.Status.Beacon)
	}
	if f.Status.BadCauses != "" {
		say("BAD LINES", l.bold, -1)
		long(f.Status.BadCauses)
	}
	say("STREAMS", l.bold, -1)
	for _, t := range streamLines(s) {
		if utf8.RuneCountInString(t) > w {
			long(t)
			continue
		}
		say(t, l.plain, -1)
	}
	return out
}

// streamLines tell how each tag comes, those first that are not known: who has
// written one wrongly looks for it here.
func streamLines(s *alarms.Snapshot) (out []string) {
	say := func(name string, st *detect.Stream, more string) {
		pace := left(num(st.Rate(), 1), 8) + "/s  "
		if st.Period <= 0 || !st.Steady { // it has none, or it is not known yet
			pace = left("", 8) + "    "
		}
		t := "  " + pad(name, 8) + pace + countText(st.Count) + ", last " + span(float64(s.T-st.Last)/1e6) + " ago"
		if st.Rate() > 0 && !st.Steady {
			t += ", not steady"
		}
		out = append(out, t+more)
	}
	rest := s.Streams[decode.Unknown]
	for i := range s.Odd {
		o := &s.Odd[i]
		more := ": not known"
		if asks := o.Asks(); asks != "" {
			more += ", " + asks
		}
		say(clean(o.Name), &o.Stream, more)
		rest.Count -= min(o.Stream.Count, rest.Count)
	}
	if rest.Count > 0 {
		say(tagNames[decode.Unknown], &rest, "")
	}
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		if st := &s.Streams[tag]; st.Count > 0 {
			say(tagNames[tag], st, "")
		}
	}
	return out
}

func countText(n uint64) string {
	if n == 1 {
		return "1 line"
	}
	return strconv.FormatUint(n, 10) + " lines"
}

// sightLine words a fault of the line: how often, from when to when, and what to
// do first.
func sightLine(s *Sight, l *look) string {
	t := s.Name + " " + strconv.FormatUint(s.Count, 10) + ", " + clock(s.First, 1)
	if s.Last-s.First >= 100_000 {
		t += " to " + clock(s.Last, 1)
	}
	return join(l, join(l, t, s.Text), "first: "+s.Action)
}

// storyText words all that is known of one alarm.
func storyText(a *alarms.AlarmView, l *look) string {
	unit := clean(a.Story.Unit)
	if unit == "1" {
		unit = ""
	}
	t := clean(a.Story.Text)
	value := "value " + strings.TrimSpace(num(a.Value, 3)+" "+unit) + ", limit " + strings.TrimSpace(num(a.Limit, 3)+" "+unit)
	if a.Story.Before { // a moment has no limit
		value = ""
		if a.Value >= 0.05 {
			value = "silent for " + num(a.Value, 1) + " s before it"
		}
	}
	t = join(l, t, value)
	if a.Story.Cause != "" {
		t = join(l, t, "likely: "+clean(a.Story.Cause))
	}
	if a.Story.Action != "" {
		t = join(l, t, "first: "+clean(a.Story.Action))
	}
	for _, fact := range a.Story.More {
		t = join(l, t, clean(fact.Name)+" "+factWord(fact))
	}
	return t
}

func factWord(f detect.Fact) string {
	switch v := f.Value.(type) {
	case float64:
		return num(v, 3)
	case int:
		return strconv.Itoa(v)
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case string:
		return clean(v)
	}
	return "?"
}

// drawLists shows the lines from the given one on. It returns the first line
// shown, held inside what there is, and notes which row stands for which
// alarm.
func drawLists(p pane, lines []listed, from int, click func(x, y, w int, alarm int)) int {
	from = max(0, min(from, len(lines)-p.h))
	for y := 0; y < p.h && from+y < len(lines); y++ {
		line := &lines[from+y]
		p.text(0, y, line.text, line.style)
		if line.alarm >= 0 {
			click(p.x, p.y+y, p.w, line.alarm)
		}
	}
	return from
}
