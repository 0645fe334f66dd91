package report

import (
	"slices"

	"tetherbell/alarms/account"
)

// A timeChart is a picture over the whole session. All of a page have the same
// time axis, so that what stands below each other happened at the same time.
type timeChart struct {
	id     string
	acc    *account.Account
	lanes  bool        // states, alarms and marks above the panels
	events []happening // over the first panel
	panels []panel
}

// A panel is one scale with a curve.
type panel struct {
	title  string
	name   string // of the curve in the table of figures
	height float64
	kind   rangeKind
	curve  *account.Curve
	refs   []reference
	lo, hi float64 // in the range besides the values, so that panels can be alike; both nought: nothing is
}

// A reference is a value to compare with, drawn as a broken line.
type reference struct {
	name   string
	values []float64
}

// A rangeKind is how a panel's scale is chosen.
type rangeKind int

const (
	fromZero rangeKind = iota // nought is in it
	free                      // as the values are
	balanced                  // as far up as down
)

// A happening is a numbered alarm over a panel.
type happening struct {
	at       float64
	priority string
	label    string
}

// picture draws the chart.
func (c *timeChart) picture() picture {
	d := &drawing{}
	x := scale{lo: 0, hi: c.acc.LengthS, from: plotLeft, to: plotRight}
	if len(c.acc.Silent) > 0 {
		d.hatch(c.id + "-hatch")
	}
	y := 4.0
	if c.lanes {
		y = c.drawLanes(d, x, y)
	}
	if len(c.events) > 0 {
		y = drawEvents(d, x, y, c.events)
	}
	for i := range c.panels {
		y = c.drawPanel(d, x, y, &c.panels[i])
	}
	y = c.drawTimeAxis(d, x, y)
	return d.picture(sheetWidth, y)
}

// drawPanel draws title, legend, scale and curves, and returns where it ends.
func (c *timeChart) drawPanel(d *drawing, x scale, y float64, p *panel) float64 {
	d.text(plotLeft, y+13, "t name", "start", cut(p.title, 48))
	p.legend(d, y+13)
	top, bottom := y+titleRow, y+titleRow+p.height
	lo, hi, step := p.scale()
	v := scale{lo: lo, hi: hi, from: bottom, to: top}
	c.background(d, x, top, p.height)
	for _, t := range ticks(lo, hi, step) {
		d.line(plotLeft, v.at(t), plotRight, v.at(t), "grid")
		d.text(plotLeft-6, v.at(t)+4, "t tick", "end", tickText(t, step))
	}
	perColumn := (x.hi - x.lo) / (x.to - x.from)
	for _, piece := range pieces(merged(points(p.curve), perColumn)) {
		if data, area := envelope(piece, x, v); area {
			d.path("curve c1", data)
		} else {
			d.path("curve line c1", data)
		}
	}
	for _, r := range p.refs {
		for _, value := range r.values {
			d.line(plotLeft, v.at(value), plotRight, v.at(value), "ref")
		}
	}
	d.rect(plotLeft, top, plotRight-plotLeft, p.height, "frame")
	return bottom + 6
}

// legend names the broken lines at the right end of the title row.
func (p *panel) legend(d *drawing, y float64) {
	const sample, gap = 27, 14
	x := plotRight
	for _, r := range p.refs {
		x -= sample + widthOf(r.name) + gap
	}
	for _, r := range p.refs {
		x += gap
		d.line(x, y-4, x+sample-5, y-4, "ref")
		d.text(x+sample, y, "t", "start", r.name)
		x += sample + widthOf(r.name)
	}
}

// scale is the panel's range and the distance of its ticks.
func (p *panel) scale() (lo, hi, step float64) {
	lo, hi, _ = reach(p.curve)
	if p.lo != 0 || p.hi != 0 {
		lo, hi = min(lo, p.lo), max(hi, p.hi)
	}
	for _, r := range p.refs {
		for _, v := range r.values {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	switch p.kind {
	case fromZero:
		lo, hi = min(lo, 0), max(hi, 0)
	case balanced:
		hi = max(hi, -lo, 1e-6)
		lo = -hi
	}
	parts := max(int(p.height/18), 3)
	return padded(lo, hi, parts, p.kind == fromZero)
}

// background shades where the craft was armed and where nothing was heard.
func (c *timeChart) background(d *drawing, x scale, top, height float64) {
	for _, s := range c.acc.Armed {
		d.rect(x.at(s.From), top, x.at(s.To)-x.at(s.From), height, "armed")
	}
	for _, s := range c.acc.Silent {
		d.silent(x, s, top, height, c.id)
	}
}

// silent hatches a stretch, however short.
func (d *drawing) silent(x scale, s account.Span, top, height float64, id string) {
	d.tag("rect", "silent", "x", unit(x.at(s.From)), "y", unit(top), "width", unit(max(x.at(s.To)-x.at(s.From), 2)),
		"height", unit(height), "fill", "url(#"+id+"-hatch)")
	d.b.WriteString("/>")
}

func (c *timeChart) drawTimeAxis(d *drawing, x scale, y float64) float64 {
	lengthS := c.acc.LengthS
	for _, t := range ticks(0, lengthS, timeStep(lengthS, 10)) {
		d.line(x.at(t), y-6, x.at(t), y-1, "frame")
		label := timeText(t, lengthS)
		at := min(max(x.at(t), plotLeft), sheetWidth-2-widthOf(label)/2)
		d.text(at, y+12, "t tick", "middle", label)
	}
	d.text(2, y+12, "t tick", "start", axisUnit(lengthS))
	return y + 20
}

// axisUnit is what the labels of the time axis are in.
func axisUnit(lengthS float64) string {
	if lengthS < 120 {
		return "s"
	}
	return clockUnit(lengthS)
}

// mostEvents bounds the rows of alarms over a panel; the table has them all.
const mostEvents = 3

// drawEvents puts shapes and numbers over a panel, in rows where they would
// cover each other, and returns where it ends.
func drawEvents(d *drawing, x scale, y float64, all []happening) float64 {
	entries := make([]entry, len(all))
	for i, e := range all {
		entries[i] = entry{at: e.at, until: e.at, full: e.label}
	}
	set, rows := pack(x, entries, func(e entry) string { return e.full })
	for i, e := range set {
		if e.row < mostEvents {
			d.labelled(x.at(e.at), y+float64(e.row)*18+9, all[i].priority, &set[i])
		}
	}
	return y + float64(min(rows, mostEvents))*18
}

// chart closes the time chart with its words and figures; nil where none of
// its curves has a value, or where no time passed.
func (c *timeChart) chart(title, desc string) *chart {
	if !(c.acc.LengthS > 0) {
		return nil
	}
	c.panels = slices.DeleteFunc(c.panels, func(p panel) bool { return len(points(p.curve)) == 0 })
	if len(c.panels) == 0 && !c.lanes {
		return nil
	}
	out := &chart{ID: c.id, Title: title, Desc: desc, Picture: c.picture()}
	if len(c.panels) > 0 {
		out.Figures = figures("Figures: "+title+", least to greatest in each stretch", c.acc.LengthS, c.panels)
	}
	return out
}
