package report

import (
	"fmt"
	"math"

	"tetherbell/alarms/account"
)

const (
	stateRow = 17.0 // height of a row of states
	laneRow  = 21.0 // of a row of alarms
	mostRows = 7    // of one priority; more would be a page of its own
)

// An entry is an alarm or a mark on a lane.
type entry struct {
	at, until float64
	full      string // its label
	short     string // where there is no room for the full one
}

// drawLanes draws the states, the alarms by priority and the marks.
func (c *timeChart) drawLanes(d *drawing, x scale, y float64) float64 {
	for _, s := range []struct {
		name, class string
		spans       []account.Span
	}{{"armed", "state-armed", c.acc.Armed}, {"stop", "state-stop", c.acc.Stopped}, {"silent", "state-silent", c.acc.Silent}} {
		d.text(2, y+12, "t", "start", s.name)
		d.line(plotLeft, y+8, plotRight, y+8, "grid")
		for _, span := range s.spans {
			from, to := x.at(span.From), x.at(span.To)
			if s.name == "silent" {
				d.silent(x, span, y+2, stateRow-5, c.id)
			}
			d.rect(from, y+2, max(to-from, 2), stateRow-5, s.class)
		}
		y += stateRow
	}
	y += 4
	for _, p := range priorities {
		y = drawLane(d, x, y, p.word, priorityText(p.word), c.alarmEntries(p.word))
	}
	return drawLane(d, x, y, "mark", "marks", c.markEntries()) + 4
}

// alarmEntries are the alarms of one priority, with their numbers in the table.
func (c *timeChart) alarmEntries(priority string) []entry {
	var all []entry
	for i, a := range c.acc.Alarms {
		if priorityClass(a.Priority) != priority {
			continue
		}
		e := entry{at: a.At, until: c.acc.LengthS, short: numbered(i), full: cut(numbered(i)+" "+a.Name+" "+a.Where, longestLabel)}
		if a.Until != nil {
			e.until = *a.Until
		}
		all = append(all, e)
	}
	return all
}

// longestLabel is room for the longest name of an alarm with several places.
const longestLabel = 48

// cut shortens a text to so many letters.
func cut(s string, most int) string {
	letters := []rune(clean(s))
	if len(letters) <= most {
		return string(letters)
	}
	return string(letters[:most-1]) + "…"
}

// longestMark is how much of a mark's text stands in the picture, in letters.
const longestMark = 28

func (c *timeChart) markEntries() []entry {
	var all []entry
	for _, m := range c.acc.Marks {
		all = append(all, entry{at: m.At, until: m.At, full: cut(m.Text, longestMark)})
	}
	return all
}

// A placed entry has its row and knows on which side its label stands.
type placed struct {
	entry
	row   int
	label string
	left  bool
}

// drawLane draws the entries of one kind in as many rows as they need.
func drawLane(d *drawing, x scale, y float64, kind, name string, all []entry) float64 {
	d.line(plotLeft, y, plotRight, y, "grid")
	d.text(2, y+14, "t", "start", name)
	if len(all) == 0 {
		return y + laneRow - 3
	}
	set, rows := pack(x, all, func(e entry) string { return e.full })
	if rows > mostRows {
		set, rows = pack(x, all, func(e entry) string { return e.short })
	}
	left := 0
	for _, e := range set {
		if e.row >= mostRows {
			left++
			continue
		}
		top := y + float64(e.row)*laneRow
		at, to := x.at(e.at), x.at(e.until)
		if to-at > 2 {
			d.rect(at, top+laneRow-4, to-at, 3, "life p-"+kind)
		}
		d.labelled(at, top+9, kind, &e)
	}
	rows = min(rows, mostRows)
	if left > 0 { // beside a lane of that height there is room for it
		d.text(2, y+14+laneRow, "t", "start", fmt.Sprintf("and %d more", left))
	}
	return y + float64(rows)*laneRow
}

// labelled draws an entry's shape and its label beside it.
func (d *drawing) labelled(at, y float64, kind string, e *placed) {
	d.shape(at, y, kind)
	if e.left {
		d.text(at-9, y+4, "t", "end", e.label)
		return
	}
	d.text(at+9, y+4, "t", "start", e.label)
}

// pack gives each entry the first row in which it covers no other.
func pack(x scale, all []entry, label func(entry) string) ([]placed, int) {
	var ends []float64
	out := make([]placed, len(all))
	for i, e := range all {
		p := placed{entry: e, label: label(e)}
		w := widthOf(p.label)
		at, to := x.at(e.at), x.at(e.until)
		p.left = at+9+w > plotRight && at-9-w > plotLeft
		from, end := at-8, math.Max(to, at+9+w)
		if p.left {
			from, end = at-9-w, math.Max(to, at+8)
		}
		for p.row < len(ends) && ends[p.row] > from {
			p.row++
		}
		if p.row == len(ends) {
			ends = append(ends, 0)
		}
		ends[p.row] = end + 6
		out[i] = p
	}
	return out, len(ends)
}
