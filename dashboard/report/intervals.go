package report

import (
	"fmt"
	"math"
	"strings"

	"tetherbell/alarms/compare"
)

// Places of the picture of intervals, in user units.
const (
	forestLeft  = 236.0 // names stand left of it
	forestRight = 624.0 // verdicts right of it
	forestRow   = 24.0
	// forestMost is as far as its scale goes, up and down: an interval that goes
	// further knows next to nothing, and would press the others together.
	forestMost = 20.0
	// forestLeast is as near as its ends are, so that a hair's breadth does not
	// look like a change.
	forestLeast = 1.3
)

// forestTicks and fineTicks are the ratios that are marked on a wide and on a
// narrow scale.
var (
	forestTicks = []float64{0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20}
	fineTicks   = []float64{0.4, 0.5, 0.6, 0.8, 1, 1.25, 1.6, 2, 2.5}
)

// markers are the signs of the verdicts, drawn about the change. The open ones
// say that nothing is told.
var markers = map[compare.Word]struct{ shape, class string }{
	compare.Better:     {shapes["low"], "v-better"},
	compare.Worse:      {shapes["high"], "v-worse"},
	compare.CannotTell: {shapes["low"], "v-open"},
	compare.TooShort:   {shapes["low"], "v-open"},
	compare.Same:       {shapes["note"], "v-open"},
	compare.More:       {shapes["medium"], "v-plain"},
	compare.Less:       {shapes["medium"], "v-plain"},
}

// intervalChart draws the ratios with their intervals on one scale; nil where
// there are none.
func intervalChart(all []told) *chart {
	var rows []told
	for _, t := range all {
		if t.row.By == "ratio" && t.row.Ratio != nil {
			rows = append(rows, t)
		}
	}
	if len(rows) == 0 {
		return nil
	}
	d := &drawing{}
	x := forestScale(rows)
	top := titleRow + 4
	foot := top + forestRow*float64(len(rows))
	marked := forestTicks
	if x.hi <= 2.6 {
		marked = fineTicks
	}
	d.text(forestLeft, 13, "t tick", "start", "◂ less after")
	d.text(forestRight, 13, "t tick", "end", "more after ▸")
	for i := range rows {
		r := rows[i].row
		if r.Matters > 1 {
			from := x.at(1 / r.Matters)
			d.rect(from, top+forestRow*float64(i), x.at(r.Matters)-from, forestRow, "little")
		}
	}
	for _, t := range marked {
		if t >= x.lo && t <= x.hi {
			d.line(x.at(t), top, x.at(t), foot, "grid")
			d.text(x.at(t), foot+16, "t tick", "middle", "× "+number(t))
		}
	}
	d.line(x.at(1), top-4, x.at(1), foot, "nochange")
	for i := range rows {
		d.interval(x, top+forestRow*(float64(i)+0.5), &rows[i])
	}
	d.rect(forestLeft, top, forestRight-forestLeft, foot-top, "frame")
	d.text(forestLeft, foot+34, "t tick", "start", "after over before, each step as large a share")
	return &chart{ID: "chart-intervals", Title: "How far each measure changed, and how far that is known", Desc: forestDesc(rows), Picture: d.picture(sheetWidth, foot+42)}
}

// forestScale reaches as far up as down, so that halved and doubled look alike.
func forestScale(rows []told) scale {
	far := math.Log(forestLeast)
	for _, t := range rows {
		for _, v := range []float64{t.row.Low, t.row.High, *t.row.Ratio} {
			if l := math.Abs(math.Log(v)); l > far {
				far = l
			}
		}
	}
	most := math.Min(math.Exp(far*1.06), forestMost)
	return scale{lo: 1 / most, hi: most, from: forestLeft, to: forestRight, log: true}
}

// interval draws a row: name, line with its ends, sign and word.
func (d *drawing) interval(x scale, y float64, t *told) {
	r := t.row
	d.text(2, y+4, "t", "start", cut(t.finding.Name, 34))
	low, high := x.at(r.Low), x.at(r.High)
	d.line(low, y, high, y, "whisker")
	d.end(low, y, -1, r.Low < x.lo)
	d.end(high, y, +1, r.High > x.hi)
	m, ok := markers[r.Verdict]
	if !ok {
		m = markers[compare.CannotTell]
	}
	d.path("marker "+m.class, "M"+unit(x.at(*r.Ratio))+" "+unit(y)+m.shape)
	d.text(forestRight+12, y+4, "t "+m.class, "start", cut(wordText(r.Verdict), 30))
}

// end closes an interval: a stroke, or an arrow where it goes on.
func (d *drawing) end(x, y, way float64, on bool) {
	if on {
		d.path("whisker", fmt.Sprintf("M%s %sL%s %sL%s %s", unit(x-way*6), unit(y-5), unit(x), unit(y), unit(x-way*6), unit(y+5)))
		return
	}
	d.line(x, y-5, x, y+5, "whisker")
}

func forestDesc(rows []told) string {
	var parts []string
	for _, t := range rows {
		change, interval := changeTexts(t.row)
		parts = append(parts, fmt.Sprintf("%s %s (%s), %s", t.finding.Name, change, interval, t.row.Verdict))
	}
	return strings.Join(parts, "; ") + "."
}
