package hearing

import (
	"bytes"
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"strconv"
	"unicode"
	"unicode/utf8"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// A Curve is what one detector did, as the pictures show it. X rises. A NaN in
// Y, Low or High stands for "never detected".
type Curve struct {
	Name      string
	X, Y      []float64
	Low, High []float64 // quantiles about Y; both nil where there is no band
	Ours      bool      // drawn thick, and over the others
}

// DetectionPicture writes an SVG of the probability of detection, 0 to 1,
// against the true amplitude of the controller output.
func DetectionPicture(w io.Writer, title string, curves []Curve) error {
	return sheet{
		xLabel: "true amplitude of the controller output (share of full output)",
		yLabel: "probability of detection",
		noted:  "none",
		xLo:    0.002, xHi: pictureLimit, yLo: 0, yHi: 1,
		upright: true,
	}.write(w, title, curves)
}

// AmplitudePicture writes an SVG of the amplitude at the alarm against the
// growth of the oscillation.
func AmplitudePicture(w io.Writer, title string, curves []Curve) error {
	return sheet{
		xLabel: "growth of the oscillation (1/s)",
		yLabel: "amplitude at the alarm (share of full output)",
		noted:  "never",
		xLo:    0.3, xHi: 5, yLo: 0.002, yHi: 0.12,
		logY: true,
	}.write(w, title, curves)
}

// pictureLimit is the amplitude that is dangerous by itself, the default of
// limit_oscillation in the line protocol.
const pictureLimit = 0.10

const (
	sheetWidth  = vg.Length(620)
	sheetHeight = vg.Length(430) // without the legend
	sheetMargin = vg.Length(10)
	stripRow    = vg.Length(11) // for a row of open marks over the top edge
	limitRoom   = vg.Length(30) // for the limit's name right of the frame
	tickLength  = vg.Length(5)
	sampleWidth = vg.Length(46) // of a line in the legend: two periods of the longest dash
)

// sheet says what a picture shows before any curve is on it. The horizontal
// scale is always logarithmic.
type sheet struct {
	xLabel, yLabel     string
	noted              string // what an open mark over the top edge means
	xLo, xHi, yLo, yHi float64
	logY               bool
	upright            bool // the limit is one of X, not of Y
}

// write checks the curves, draws and hands over the finished picture, so that
// nothing half done reaches w.
func (s sheet) write(w io.Writer, title string, curves []Curve) error {
	if err := s.check(title, curves); err != nil {
		return fmt.Errorf("draw picture: %w", err)
	}
	s.widen(curves)
	traces := s.traces(curves)
	width := sheetWidth - 2*sheetMargin
	keys, keysHeight := legends(traces, width)

	canvas := vgsvg.NewWith(vgsvg.UseWH(sheetWidth, sheetHeight+keysHeight), vgsvg.EmbedFonts(false))
	c := draw.New(canvas)
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	c = draw.Crop(c, sheetMargin, -sheetMargin, sheetMargin, -sheetMargin)
	s.plot(title, traces, width).Draw(draw.Crop(c, 0, 0, keysHeight, 0))
	for i, key := range keys {
		left := width * vg.Length(i) / vg.Length(len(keys))
		key.Draw(draw.Crop(c, left, 0, 0, keysHeight-c.Max.Y+c.Min.Y))
	}

	var out bytes.Buffer
	if _, err := canvas.WriteTo(&out); err != nil {
		return fmt.Errorf("draw picture: %w", err)
	}
	// Some viewers refuse fonts inside of pictures: let them take one of the
	// same widths, or any without serifs, not their own default.
	svg := bytes.ReplaceAll(out.Bytes(), []byte("font-family:Liberation Sans;"),
		[]byte("font-family:'Liberation Sans',Arial,Helvetica,sans-serif;"))
	if _, err := w.Write(svg); err != nil {
		return fmt.Errorf("write picture: %w", err)
	}
	return nil
}

// check finds what cannot be drawn, or would be drawn as a lie.
func (s sheet) check(title string, curves []Curve) error {
	if len(curves) == 0 {
		return errors.New("no curves")
	}
	if most := len(pictureDashes) * len(pictureShapes); len(curves) > most {
		return fmt.Errorf("%d curves, only %d can be told apart", len(curves), most)
	}
	if !drawable(title) {
		return fmt.Errorf("title %q cannot be written", title)
	}
	names := map[string]bool{}
	for _, c := range curves {
		if c.Name == "" || names[c.Name] || !drawable(c.Name) {
			return fmt.Errorf("curve %q: the name is empty, used twice or cannot be written", c.Name)
		}
		names[c.Name] = true
		if err := s.checkCurve(&c); err != nil {
			return fmt.Errorf("curve %q: %w", c.Name, err)
		}
	}
	return nil
}

func (s sheet) checkCurve(c *Curve) error {
	n := len(c.X)
	if n == 0 || len(c.Y) != n {
		return fmt.Errorf("%d values of Y for %d of X", len(c.Y), n)
	}
	banded := c.Low != nil || c.High != nil
	if banded && (len(c.Low) != n || len(c.High) != n) {
		return fmt.Errorf("%d and %d quantiles for %d points", len(c.Low), len(c.High), n)
	}
	for i, x := range c.X {
		if !(x > 0) || math.IsInf(x, 0) || i > 0 && x <= c.X[i-1] {
			return fmt.Errorf("point %d has x of %g: it must rise, be over zero and finite", i, x)
		}
	}
	for _, values := range [][]float64{c.Y, c.Low, c.High} {
		for i, y := range values {
			bad := y < 0 || y > 1
			if s.logY {
				bad = y <= 0 || math.IsInf(y, 0)
			}
			if bad {
				return fmt.Errorf("value %g at %d is off the scale", y, i)
			}
		}
	}
	for i := range c.Low {
		if c.Low[i] > c.High[i] || math.IsNaN(c.Low[i]) && !math.IsNaN(c.High[i]) {
			return fmt.Errorf("low quantile %g over the high one, %g, at %d", c.Low[i], c.High[i], i)
		}
	}
	return nil
}

// drawable reports whether XML and a line of text can hold the words.
func drawable(words string) bool {
	if !utf8.ValidString(words) {
		return false
	}
	for _, r := range words {
		if !unicode.IsPrint(r) {
			return false
		}
	}
	return true
}

// widen makes room for curves that leave the usual scales: a point that is
// not shown is worse than a picture that is wider than its neighbour.
func (s *sheet) widen(curves []Curve) {
	stretch := func(lo, hi *float64, values []float64) {
		for _, v := range values {
			if v < *lo {
				*lo = v / 1.1
			}
			if v > *hi {
				*hi = v * 1.1
			}
		}
	}
	for _, c := range curves {
		stretch(&s.xLo, &s.xHi, c.X)
		if s.logY {
			stretch(&s.yLo, &s.yHi, slices.Concat(c.Y, c.Low, c.High))
		}
	}
}

// y is a value's place on the vertical scale, before it is spread over the
// frame.
func (s sheet) y(v float64) float64 {
	if s.logY {
		return math.Log10(v)
	}
	return v
}

// traces gives each curve its look and its place on the scales. Ours come
// first to the looks, so that it has the same in every picture: unbroken.
func (s sheet) traces(curves []Curve) []*trace {
	list := make([]*trace, len(curves))
	next := 0
	for _, ours := range []bool{true, false} {
		for i, c := range curves {
			if c.Ours == ours {
				list[i] = &trace{name: c.Name, ours: ours, look: lookOf(next)}
				next++
			}
		}
	}
	stacked := map[float64]int{} // open marks over each X
	for i, c := range curves {
		t := list[i]
		for k, x := range c.X {
			p := tracePoint{x: math.Log10(x), y: s.y(c.Y[k])}
			if math.IsNaN(p.y) {
				p.row = stacked[x]
				stacked[x]++
			}
			if c.Low != nil {
				t.banded = true
				p.low, p.high = s.y(c.Low[k]), s.y(c.High[k])
			}
			t.points = append(t.points, p)
		}
	}
	return list
}

// plot puts scales, limit and traces together. The scales are linear in the
// logarithm: gonum places the axis labels by the middle of the numbers, which
// would be off on its own logarithmic scale.
func (s sheet) plot(title string, traces []*trace, width vg.Length) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.Title.Text = title
	p.Title.TextStyle.Font = fitting(title, 14, width)
	p.Title.Padding = 8
	for _, axis := range []*plot.Axis{&p.X, &p.Y} {
		axis.Padding = 0
		axis.Width = 0.8
		axis.Label.TextStyle.Font = sans(12)
		axis.Label.Padding = 5
		axis.Tick.Label.Font = sans(11)
		axis.Tick.Length = tickLength
		axis.Tick.Width = 0.8
	}
	p.X.Label.Text, p.Y.Label.Text = s.xLabel, s.yLabel
	p.X.Min, p.X.Max = math.Log10(s.xLo), math.Log10(s.xHi)
	p.Y.Min, p.Y.Max = s.y(s.yLo), s.y(s.yHi)
	p.X.Tick.Marker = decadeTicks(s.xLo, s.xHi)
	p.Y.Tick.Marker = tenthTicks()
	if s.logY {
		p.Y.Tick.Marker = decadeTicks(s.yLo, s.yHi)
	}

	line := draw.LineStyle{Color: color.Gray{Y: 215}, Width: 0.6}
	p.Add(&plotter.Grid{Vertical: line, Horizontal: line}, border{})
	rows := 0
	for _, t := range traces {
		if t.banded {
			p.Add(quantileBand{t})
		}
		for _, pt := range t.points {
			if math.IsNaN(pt.y) {
				rows = max(rows, pt.row+1)
			}
		}
	}
	limit := limitMark{at: s.y(pictureLimit), upright: s.upright}
	if s.upright {
		limit.at = math.Log10(pictureLimit)
	}
	p.Add(limit)
	if rows > 0 {
		p.Add(strip{rows: rows, words: s.noted})
	}
	for _, ours := range []bool{false, true} {
		for _, t := range traces {
			if t.ours == ours {
				p.Add(t)
			}
		}
	}
	return p
}

// sans is the one face of the pictures: each further one would add its whole
// file to every picture.
func sans(size vg.Length) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
}

// fitting is the face at the given size, or as much smaller as the words need
// to go into the width, with something left for viewers that take a wider one.
func fitting(words string, size, width vg.Length) font.Font {
	for size > 5 && words != "" && pictureText(size).Width(words) > width*0.85 {
		size -= 0.5
	}
	return sans(size)
}

// pictureText is a style for words that are not an axis' own.
func pictureText(size vg.Length) text.Style {
	return text.Style{Color: color.Black, Font: sans(size), Handler: plot.DefaultTextHandler}
}

// decadeTicks marks 1 to 9 of each decade and names 1, 2 and 5 (1 alone where
// the decades are many), and a 3 that ends the scale: it stands free enough.
func decadeTicks(lo, hi float64) plot.ConstantTicks {
	const near = 1e-9 // of rounding
	crowded := hi/lo > 5000
	var ticks plot.ConstantTicks
	for decade := int(math.Floor(math.Log10(lo))) - 1; decade <= int(math.Ceil(math.Log10(hi))); decade++ {
		for m := 1; m <= 9; m++ {
			// Parsed, not multiplied: the nearest number prints without a tail.
			v, _ := strconv.ParseFloat(fmt.Sprintf("%de%d", m, decade), 64)
			if v < lo*(1-near) || v > hi*(1+near) {
				continue
			}
			end := v < lo*(1+near) || v > hi*(1-near)
			tick := plot.Tick{Value: math.Log10(v)}
			if m == 1 || !crowded && (m == 2 || m == 5 || m == 3 && end) {
				tick.Label = strconv.FormatFloat(v, 'f', -1, 64)
			}
			ticks = append(ticks, tick)
		}
	}
	return ticks
}

// tenthTicks marks each tenth from 0 to 1 and names every second one.
func tenthTicks() plot.ConstantTicks {
	var ticks plot.ConstantTicks
	for i := range 11 {
		tick := plot.Tick{Value: float64(i) / 10}
		if i%2 == 0 {
			tick.Label = strconv.FormatFloat(tick.Value, 'f', -1, 64)
		}
		ticks = append(ticks, tick)
	}
	return ticks
}
