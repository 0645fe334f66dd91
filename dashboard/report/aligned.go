package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tetherbell/alarms/account"
	"tetherbell/alarms/compare"
)

// A lane is one of the two sessions over time from its arming.
type lane struct {
	when  string // before or after
	name  string
	acc   *account.Account
	from  float64 // engine time of its first arming; nought where it never armed
	armed bool
	curve *account.Curve
	what  string // what the curve is of
	held  func(*compare.Stage) []compare.Span
}

// lanes are both sessions.
func (c *Comparison) lanes() [2]lane {
	all := [2]lane{
		{when: "before", name: c.Result.A.Name, acc: c.Before, held: func(s *compare.Stage) []compare.Span { return s.HeldA }},
		{when: "after", name: c.Result.B.Name, acc: c.After, held: func(s *compare.Stage) []compare.Span { return s.HeldB }},
	}
	for i := range all {
		l := &all[i]
		if len(l.acc.Armed) > 0 {
			l.from, l.armed = l.acc.Armed[0].From, true
		}
		l.curve, l.what = l.acc.Throttle, "collective throttle"
		if len(points(l.curve)) == 0 && len(l.acc.Motors) > 0 {
			l.curve, l.what = l.acc.Motors[0].Output, "output of m1"
		}
	}
	return all
}

// alignedSection lays both runs below each other by what happened.
func alignedSection(c *Comparison) section {
	s := section{ID: "aligned", Title: "Both runs, from arming"}
	lanes := c.lanes()
	for _, l := range lanes {
		if !l.armed {
			s.text(l.name + " was never armed: it is drawn from its beginning.")
		}
	}
	stages := stagesCompared(c.Result)
	if ch := alignedChart(lanes, stages); ch != nil {
		s.text("Time runs from the first arming of each session. Shaded: the steady holds that are compared, with the same name in both; only these take part.")
		s.add(block{Narrow: "Pictures are wider than this screen: push them sideways."})
		s.chart(ch)
	} else {
		s.text("Neither session has a throttle or an output to draw.")
	}
	s.table(heldTable(lanes, stages), "No throttle was held in both long enough to be compared.")
	return s
}

const alignedHeight = 110.0

// alignedChart draws both lanes on one scale of time and of throttle; nil where
// there is nothing to draw.
func alignedChart(lanes [2]lane, stages []*compare.Stage) *chart {
	length, drawn := 0.0, false
	var most float64
	for _, l := range lanes {
		length = math.Max(length, l.acc.LengthS-l.from)
		if _, hi, ok := reach(l.curve); ok {
			drawn, most = true, math.Max(most, hi)
		}
	}
	if !drawn || !(length > 0) {
		return nil
	}
	d := &drawing{}
	x := scale{lo: 0, hi: length, from: plotLeft, to: plotRight}
	y := 4.0
	for i := range lanes {
		y = drawAligned(d, x, y, &lanes[i], stages, most)
	}
	drawTimes(d, x, y, length)
	return &chart{ID: "chart-aligned", Title: "Throttle over time from arming, before and after", Desc: alignedDesc(lanes, stages), Picture: d.picture(sheetWidth, y+20)}
}

// drawAligned draws one session and returns where it ends.
func drawAligned(d *drawing, x scale, y float64, l *lane, stages []*compare.Stage, most float64) float64 {
	p := panel{height: alignedHeight, kind: fromZero, curve: l.curve, hi: most}
	d.text(plotLeft, y+13, "t name", "start", cut(strings.ToUpper(l.when[:1])+l.when[1:]+": "+l.name+", "+l.what, 100))
	y = drawStageNames(d, x, y+titleRow, l, stages)
	lo, hi, step := p.scale()
	v := scale{lo: lo, hi: hi, from: y + alignedHeight, to: y}
	for _, s := range stages {
		for _, h := range l.held(s) {
			from := x.at(h.From - l.from)
			d.rect(from, y, math.Max(x.at(h.To-l.from)-from, 1), alignedHeight, "stage")
		}
	}
	d.yGrid(v, step)
	d.curve(x, v, shifted(points(l.curve), l.from))
	if end := l.acc.LengthS - l.from; end < x.hi*0.999 {
		d.line(x.at(end), y, x.at(end), y+alignedHeight, "nochange")
		const words = "end of it"
		if plotRight-x.at(end) > widthOf(words)+12 {
			d.text(x.at(end)+6, y+14, "t tick halo", "start", words)
		} else {
			d.text(x.at(end)-6, y+14, "t tick halo", "end", words)
		}
	}
	d.rect(plotLeft, y, plotRight-plotLeft, alignedHeight, "frame")
	return y + alignedHeight + 8
}

// shifted are the points from a moment on, counted from there.
func shifted(all []point, from float64) (out []point) {
	for _, p := range all {
		if p.to > from {
			p.from, p.to = math.Max(p.from-from, 0), p.to-from
			out = append(out, p)
		}
	}
	return out
}

// shortName is a stage's name in a picture.
func shortName(s *compare.Stage) string {
	if s.Idle {
		return "idle"
	}
	_, level, _ := strings.Cut(s.Name, " ")
	return level
}

// A label is a stage's name over one of its holds.
type label struct {
	at, width float64
	text      string
}

// mostNames bounds the rows of names over a lane; the table has them all.
const mostNames = 3

// drawStageNames puts the names of the holds over a lane: each where the stage
// was held longest, and wherever else there is room, in as many rows as keep
// them apart.
func drawStageNames(d *drawing, x scale, y float64, l *lane, stages []*compare.Stage) float64 {
	const high = 16.0
	var all []label
	for _, s := range stages {
		held := l.held(s)
		most := longest(held)
		for i, h := range held {
			b := label{text: shortName(s), width: widthOf(shortName(s))}
			if i == most || x.at(h.To-l.from)-x.at(h.From-l.from) > b.width {
				place := x.at((h.From+h.To)/2 - l.from)
				b.at = math.Min(math.Max(place, plotLeft+b.width/2), plotRight-b.width/2)
				all = append(all, b)
			}
		}
	}
	slices.SortStableFunc(all, func(p, q label) int { return cmp.Compare(p.at, q.at) })
	var ends []float64
	for _, b := range all {
		k := 0
		for k < len(ends) && ends[k] > b.at-b.width/2-6 {
			k++
		}
		if k == mostNames {
			continue
		}
		if k == len(ends) {
			ends = append(ends, 0)
		}
		ends[k] = b.at + b.width/2
		d.text(b.at, y+high*float64(k)+12, "t", "middle", b.text)
	}
	return y + high*float64(len(ends)) + 2
}

// longest is the place of the longest stretch, the first of several as long.
func longest(all []compare.Span) (best int) {
	for i, s := range all {
		if s.To-s.From > all[best].To-all[best].From {
			best = i
		}
	}
	return best
}

func alignedDesc(lanes [2]lane, stages []*compare.Stage) string {
	var names []string
	for _, s := range stages {
		names = append(names, s.Name)
	}
	text := "no hold is in both"
	if len(names) > 0 {
		text = "holds in both: " + strings.Join(names, "; ")
	}
	return fmt.Sprintf("%s lasts %s from arming, %s %s; %s.", lanes[0].name, length(lanes[0].acc.LengthS-lanes[0].from),
		lanes[1].name, length(lanes[1].acc.LengthS-lanes[1].from), text)
}

// mostHolds bounds the holds that are listed of one stage.
const mostHolds = 4

// heldTable tells when each stage was held.
func heldTable(lanes [2]lane, stages []*compare.Stage) *table {
	t := &table{Caption: "Holds that are compared, in seconds from arming", Columns: columns("throttle", "before", "after")}
	for _, s := range stages {
		cells := []string{s.Name}
		for i := range lanes {
			var parts []string
			held := lanes[i].held(s)
			for k, h := range held {
				if k == mostHolds {
					parts = append(parts, fmt.Sprintf("%d more", len(held)-k))
					break
				}
				parts = append(parts, fixed(h.From-lanes[i].from, 1)+" to "+fixed(h.To-lanes[i].from, 1))
			}
			cells = append(cells, strings.Join(parts, ", "))
		}
		t.row(cells...)
	}
	return t
}
