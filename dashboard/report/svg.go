package report

import (
	"html"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// The pictures are drawn here and not by a plotting library: each element
// needs a class, so that one drawing serves light, dark and paper, texts must
// stay texts in the reader's own font, and one time axis runs through all. A
// library's SVG has fixed colours, font sizes and places, and would have to be
// taken apart again; and its fonts would make the program larger by megabytes.

// A picture is the inside of an SVG element, and its size in user units.
type picture struct {
	W, H int
	Body string
}

// Places and sizes in user units. The page shows a picture of full width at
// 640 to 1040 CSS pixels: letters of 12 units are 9 to 15 pixels high.
const (
	sheetWidth = 840.0
	plotLeft   = 78.0 // room for the numbers of the scale
	plotRight  = 826.0
	letter     = 6.7  // width of a letter, rather too much than too little
	titleRow   = 19.0 // over a panel
)

// A drawing grows an SVG.
type drawing struct{ b strings.Builder }

// unit writes a coordinate with one decimal.
func unit(v float64) string { return fixed(v, 1) }

func (d *drawing) tag(name, class string, attributes ...string) {
	d.b.WriteString("<" + name + ` class="` + class + `"`)
	for i := 0; i < len(attributes); i += 2 {
		d.b.WriteString(" " + attributes[i] + `="` + attributes[i+1] + `"`)
	}
}

// text writes words; anchor is start, middle or end.
func (d *drawing) text(x, y float64, class, anchor, words string) {
	d.tag("text", class, "x", unit(x), "y", unit(y), "text-anchor", anchor)
	d.b.WriteString(">" + html.EscapeString(clean(words)) + "</text>")
}

func (d *drawing) rect(x, y, w, h float64, class string) {
	d.tag("rect", class, "x", unit(x), "y", unit(y), "width", unit(max(w, 0)), "height", unit(h))
	d.b.WriteString("/>")
}

func (d *drawing) line(x1, y1, x2, y2 float64, class string) {
	d.tag("line", class, "x1", unit(x1), "y1", unit(y1), "x2", unit(x2), "y2", unit(y2))
	d.b.WriteString("/>")
}

func (d *drawing) circle(x, y, r float64, class string) {
	d.tag("circle", class, "cx", unit(x), "cy", unit(y), "r", unit(r))
	d.b.WriteString("/>")
}

func (d *drawing) path(class, data string) {
	d.tag("path", class, "d", data)
	d.b.WriteString("/>")
}

// picture closes the drawing.
func (d *drawing) picture(w, h float64) picture {
	return picture{int(w + 0.5), int(h + 0.5), d.b.String()}
}

// widthOf is the room that words take, about.
func widthOf(words string) float64 { return float64(utf8.RuneCountInString(words)) * letter }

// shapes are drawn about a place for each priority; marks of people have a flag.
var shapes = map[string]string{
	"high":   "m0-6 6 11h-12z",
	"medium": "m0-6 6 6-6 6-6-6z",
	"low":    "m-5 0a5 5 0 1 0 10 0a5 5 0 1 0-10 0z",
	"note":   "m-4.5-4.5h9v9h-9z",
	"mark":   "m-3 6v-12h9l-3 3.5 3 3.5h-7v5z",
}

// shape draws a priority's sign.
func (d *drawing) shape(x, y float64, kind string) {
	d.path("sign p-"+kind, "M"+unit(x)+" "+unit(y)+shapes[kind])
}

// envelope is the outline of points in steps: along the greatest values, and
// back along the least. Steps, since a stretch says nothing of when in it a
// value was met: a slope would. A hole that is none (see pieces) is bridged.
// area is false where least and greatest are the same: then it is a line.
func envelope(pts []point, x, y scale) (data string, area bool) {
	var b strings.Builder
	put := func(op byte, v float64) { b.WriteString(string(op) + unit(v)) }
	end := func(i int) float64 {
		if i+1 < len(pts) {
			return x.at(pts[i+1].from)
		}
		return max(x.at(pts[i].to), x.at(pts[i].from)+1.5) // a stroke at least
	}
	b.WriteString("M" + unit(x.at(pts[0].from)) + " " + unit(y.at(pts[0].hi)))
	last := pts[0].hi
	for i, p := range pts {
		if p.hi != last {
			put('V', y.at(p.hi))
		}
		put('H', end(i))
		last = p.hi
	}
	if !slices.ContainsFunc(pts, func(p point) bool { return p.lo != p.hi }) {
		return b.String(), false
	}
	for i := len(pts) - 1; i >= 0; i-- {
		if pts[i].lo != last {
			put('V', y.at(pts[i].lo))
		}
		put('H', x.at(pts[i].from))
		last = pts[i].lo
	}
	return b.String() + "z", true
}

// polyline joins places by straight lines.
func polyline(xs, ys []float64) string {
	var b strings.Builder
	for i := range xs {
		op := byte('L')
		if i == 0 {
			op = 'M'
		}
		b.WriteByte(op)
		b.WriteString(unit(xs[i]) + " " + unit(ys[i]))
	}
	return b.String()
}

// hatch defines the pattern of a silent stretch; ids belong to one picture.
func (d *drawing) hatch(id string) {
	d.b.WriteString(`<defs><pattern id="` + id + `" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">` +
		`<line class="hatch" x1="0" y1="0" x2="0" y2="6"/></pattern></defs>`)
}

// number of a thing that stands in a table too.
func numbered(i int) string { return strconv.Itoa(i + 1) }
