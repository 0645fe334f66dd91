package hearing

import (
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// pictureColors are those of Okabe and Ito, "Color Universal Design" (2008;
// values from memory), which people with any of the common colour blindnesses
// can tell apart. Its yellow is too faint on white, its black is the limit's.
var pictureColors = []color.NRGBA{
	{0x00, 0x72, 0xB2, 0xFF}, // blue
	{0xD5, 0x5E, 0x00, 0xFF}, // vermilion
	{0x00, 0x9E, 0x73, 0xFF}, // bluish green
	{0xCC, 0x79, 0xA7, 0xFF}, // reddish purple
	{0xE6, 0x9F, 0x00, 0xFF}, // orange
	{0x56, 0xB4, 0xE9, 0xFF}, // sky blue
}

// pictureDashes and pictureShapes tell curves apart without colour. Their
// counts have no common divisor, so a pair comes again only after all others,
// and the first six differ in both.
var (
	pictureDashes = [][]vg.Length{nil, {7, 3}, {1.6, 2.6}, {10, 3, 1.6, 3}, {16, 4},
		{8, 2.6, 1.6, 2.6, 1.6, 2.6}, {4, 4}}
	pictureShapes = []shape{discMark, polygon(4, 1.25, math.Pi/4), polygon(3, 1.4, math.Pi/2),
		polygon(4, 1.35, 0), polygon(3, 1.4, -math.Pi/2), starMark}
)

// A look is how one curve differs from all others.
type look struct {
	color  color.NRGBA
	dashes []vg.Length
	shape  shape
}

func lookOf(i int) look {
	return look{
		color:  pictureColors[i%len(pictureColors)],
		dashes: pictureDashes[i%len(pictureDashes)],
		shape:  pictureShapes[i%len(pictureShapes)],
	}
}

// A shape is the outline of a mark about a point; r is the radius of a disc
// that weighs as much on the eye.
type shape func(at vg.Point, r vg.Length) vg.Path

func discMark(at vg.Point, r vg.Length) vg.Path {
	var p vg.Path
	p.Move(vg.Point{X: at.X + r, Y: at.Y})
	p.Arc(at, r, 0, 2*math.Pi)
	p.Close()
	return p
}

func polygon(corners int, size vg.Length, turn float64) shape {
	return func(at vg.Point, r vg.Length) vg.Path {
		return cornered(at, corners, turn, func(int) vg.Length { return r * size })
	}
}

func starMark(at vg.Point, r vg.Length) vg.Path {
	return cornered(at, 10, math.Pi/2, func(i int) vg.Length {
		return r * []vg.Length{1.6, 0.7}[i%2]
	})
}

// cornered joins n corners about a point, the first in the direction of turn.
func cornered(at vg.Point, n int, turn float64, reach func(int) vg.Length) vg.Path {
	var p vg.Path
	for i := range n {
		sin, cos := math.Sincos(turn + 2*math.Pi*float64(i)/float64(n))
		pt := vg.Point{X: at.X + reach(i)*vg.Length(cos), Y: at.Y + reach(i)*vg.Length(sin)}
		if i == 0 {
			p.Move(pt)
		} else {
			p.Line(pt)
		}
	}
	p.Close()
	return p
}

// A tracePoint is on the scales, logarithm taken. Its y, low and high may be
// NaN; row is then the open mark's place in the strip over the frame.
type tracePoint struct {
	x, y, low, high float64
	row             int
}

// A trace is a curve ready to be drawn.
type trace struct {
	name   string
	ours   bool
	banded bool
	look   look
	points []tracePoint
}

func (t *trace) line() draw.LineStyle {
	width := vg.Length(1.3)
	if t.ours {
		width = 3
	}
	return draw.LineStyle{Color: t.look.color, Width: width, Dashes: t.look.dashes}
}

// mark draws one point: filled with a white seam that parts it from what lies
// below, or open.
func (t *trace) mark(c *draw.Canvas, at vg.Point, open bool) {
	fill, edge := color.Color(t.look.color), draw.LineStyle{Color: color.White, Width: 0.7}
	if open {
		fill, edge = color.White, draw.LineStyle{Color: t.look.color, Width: 1.2}
	}
	radius := vg.Length(3.2)
	if t.ours {
		radius = 4
	}
	if open {
		radius = 3
	}
	path := t.look.shape(at, radius)
	c.SetColor(fill)
	c.Fill(path)
	c.SetLineStyle(edge)
	c.Stroke(path)
}

// Plot draws lines between neighbours that both have a value, then the points
// over them.
func (t *trace) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	var run []vg.Point
	flush := func() {
		if len(run) > 1 {
			c.StrokeLines(t.line(), run)
		}
		run = nil
	}
	for _, pt := range t.points {
		if math.IsNaN(pt.y) {
			flush()
			continue
		}
		run = append(run, vg.Point{X: x(pt.x), Y: y(pt.y)})
	}
	flush()
	for _, pt := range t.points {
		at := vg.Point{X: x(pt.x), Y: c.Max.Y + stripRow*vg.Length(pt.row+1)}
		if open := math.IsNaN(pt.y); open {
			t.mark(&c, at, true)
		} else {
			at.Y = y(pt.y)
			t.mark(&c, at, false)
		}
	}
}

// Thumbnail draws the curve's sample for the legend.
func (t *trace) Thumbnail(c *draw.Canvas) {
	if t.banded {
		c.FillPolygon(t.faint(), []vg.Point{c.Min, {X: c.Max.X, Y: c.Min.Y}, c.Max, {X: c.Min.X, Y: c.Max.Y}})
	}
	mid := c.Center()
	c.StrokeLine2(t.line(), c.Min.X, mid.Y, c.Max.X, mid.Y)
	t.mark(c, mid, false)
}

func (t *trace) faint() color.NRGBA {
	c := t.look.color
	c.A = 0x24
	return c
}

// A quantileBand is the room between a curve's quantiles. It lies below all lines.
type quantileBand struct{ of *trace }

// Plot fills each run of points that have a low quantile. A high one that was
// never reached goes to the top edge.
func (b quantileBand) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	var low, high []vg.Point
	flush := func() {
		if len(low) > 1 {
			ring := append([]vg.Point{}, low...)
			for i := len(high) - 1; i >= 0; i-- {
				ring = append(ring, high[i])
			}
			c.FillPolygon(b.of.faint(), ring)
			edge := draw.LineStyle{Color: b.of.look.color, Width: 0.6, Dashes: b.of.look.dashes}
			c.StrokeLines(edge, low, high)
		}
		low, high = nil, nil
	}
	for _, pt := range b.of.points {
		if math.IsNaN(pt.low) {
			flush()
			continue
		}
		top := c.Max.Y
		if !math.IsNaN(pt.high) {
			top = y(pt.high)
		}
		low = append(low, vg.Point{X: x(pt.x), Y: y(pt.low)})
		high = append(high, vg.Point{X: x(pt.x), Y: top})
	}
	flush()
}

// A border closes the plot at the top and the right.
type border struct{}

func (border) Plot(c draw.Canvas, _ *plot.Plot) {
	c.StrokeLines(draw.LineStyle{Color: color.Gray{Y: 120}, Width: 0.8},
		[]vg.Point{{X: c.Min.X, Y: c.Max.Y}, c.Max, {X: c.Max.X, Y: c.Min.Y}})
}

// A limitMark is a line right across at the limit. Its name stands outside of
// the frame, where no curve can cover it, unless a wider scale takes an upright
// one inwards.
type limitMark struct {
	at      float64
	upright bool
}

func (l limitMark) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	style := draw.LineStyle{Color: color.Black, Width: 1.6}
	name := pictureText(11)
	if l.upright {
		c.StrokeLine2(style, x(l.at), c.Min.Y, x(l.at), c.Max.Y)
		name.Rotation, name.XAlign, name.YAlign = math.Pi/2, draw.XCenter, draw.YTop
		c.FillText(name, vg.Point{X: x(l.at) + 5, Y: c.Center().Y}, "limit")
		return
	}
	c.StrokeLine2(style, c.Min.X, y(l.at), c.Max.X, y(l.at))
	name.YAlign = draw.YCenter
	// Centred by the height of a capital, not of the whole line.
	c.FillText(name, vg.Point{X: c.Max.X + 5, Y: y(l.at) + name.FontExtents().Descent}, "limit")
}

// GlyphBoxes keeps the room for the name.
func (l limitMark) GlyphBoxes(*plot.Plot) []plot.GlyphBox {
	return []plot.GlyphBox{{X: 1, Y: 0.5, Rectangle: vg.Rectangle{Max: vg.Point{X: limitRoom, Y: 1}}}}
}

// A strip is the room over the frame for points without a value, with its
// meaning where the scale has its numbers.
type strip struct {
	rows  int
	words string
}

func (s strip) Plot(c draw.Canvas, _ *plot.Plot) {
	name := pictureText(11)
	name.XAlign, name.YAlign = draw.XRight, draw.YCenter
	at := vg.Point{X: c.Min.X - tickLength - 4, Y: c.Max.Y + stripRow*vg.Length(s.rows+1)/2 + name.FontExtents().Descent}
	c.FillText(name, at, s.words)
}

func (s strip) height() vg.Length { return stripRow * (vg.Length(s.rows) + 0.6) }

// GlyphBoxes keeps the strip's room.
func (s strip) GlyphBoxes(*plot.Plot) []plot.GlyphBox {
	return []plot.GlyphBox{{X: 0.5, Y: 1, Rectangle: vg.Rectangle{Max: vg.Point{X: 1, Y: s.height()}}}}
}

// legends spreads the names over as many columns as the widest allows, and
// tells the height that they take below the plot.
func legends(traces []*trace, width vg.Length) ([]plot.Legend, vg.Length) {
	const gap, space, size = 8, 5, 11
	widest, font := vg.Length(0), sans(size)
	for _, t := range traces {
		if f := fitting(t.name, size, width-sampleWidth-2*gap); f.Size < font.Size {
			font = f
		}
	}
	for _, t := range traces {
		widest = max(widest, pictureText(font.Size).Width(t.name))
	}
	columns := min(max(int(width/(widest+sampleWidth+3*gap)), 1), len(traces))
	rows := (len(traces) + columns - 1) / columns
	columns = (len(traces) + rows - 1) / rows
	list := make([]plot.Legend, columns)
	for i := range list {
		l := plot.NewLegend()
		l.Top, l.Left, l.YOffs, l.Padding = true, true, -gap, space
		l.ThumbnailWidth, l.TextStyle.Font = sampleWidth, font
		for _, t := range traces[i*rows : min((i+1)*rows, len(traces))] {
			l.Add(t.name, t)
		}
		list[i] = l
	}
	line := pictureText(font.Size).FontExtents()
	return list, gap + vg.Length(rows)*(line.Ascent+space) + line.Descent
}
