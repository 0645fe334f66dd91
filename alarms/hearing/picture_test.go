package hearing

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
)

type picture func(io.Writer, string, []Curve) error

// A stroke is one path of a picture. Y points up.
type stroke struct {
	points [][2]float64
	style  map[string]string
}

// A drawing is what a picture holds, read with the standard library's XML.
type drawing struct {
	words   []string
	strokes []stroke
	raw     []byte
}

var pathPoint = regexp.MustCompile(`[ML]([-0-9.e+]+),([-0-9.e+]+)`)

func readPicture(t *testing.T, draw picture, title string, curves []Curve) drawing {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, draw(&out, title, curves))
	d := drawing{raw: bytes.Clone(out.Bytes())}
	in := xml.NewDecoder(&out)
	var open []string
	for {
		token, err := in.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		switch token := token.(type) {
		case xml.StartElement:
			if len(open) == 0 {
				require.Equal(t, xml.Name{Space: "http://www.w3.org/2000/svg", Local: "svg"}, token.Name)
			}
			open = append(open, token.Name.Local)
			if token.Name.Local == "path" {
				d.strokes = append(d.strokes, readStroke(t, token.Attr))
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 && open[len(open)-1] == "text" {
				d.words = append(d.words, string(token))
			}
		}
	}
	require.Empty(t, open)
	return d
}

func readStroke(t *testing.T, attributes []xml.Attr) stroke {
	s := stroke{style: map[string]string{}}
	for _, a := range attributes {
		switch a.Name.Local {
		case "style":
			for part := range strings.SplitSeq(a.Value, ";") {
				key, value, ok := strings.Cut(part, ":")
				require.True(t, ok, a.Value)
				s.style[key] = value
			}
		case "d":
			for _, m := range pathPoint.FindAllStringSubmatch(a.Value, -1) {
				x, err := strconv.ParseFloat(m[1], 64)
				require.NoError(t, err)
				y, err := strconv.ParseFloat(m[2], 64)
				require.NoError(t, err)
				s.points = append(s.points, [2]float64{x, y})
			}
		}
	}
	return s
}

// with finds the strokes of one colour and width.
func (d drawing) with(color, width string) (found []stroke) {
	for _, s := range d.strokes {
		if s.style["stroke"] == color && s.style["stroke-width"] == width {
			found = append(found, s)
		}
	}
	return found
}

// Colours and widths by which the tests know the first curves' lines.
const (
	blue, vermilion               = "#0072B2", "#D55E00"
	thickLine, thinLine, openEdge = "3", "1.3", "1.2"
	limitColor                    = "#000000"
	limitWidth                    = "1.6"
)

func sampleCurves() []Curve {
	x := []float64{0.3, 0.5, 1, 2, 5}
	nan := math.NaN()
	return []Curve{
		{Name: "peak <share> & \"others'\"", X: x, Y: []float64{0.02, 0.03, nan, 0.05, 0.08}},
		{Name: "ours", X: x, Y: []float64{0.01, 0.012, 0.014, 0.02, nan}, Ours: true,
			Low: []float64{0.008, 0.01, 0.011, 0.015, 0.02}, High: []float64{0.02, 0.03, 0.04, 0.05, nan}},
		{Name: "blind", X: x, Y: []float64{nan, nan, nan, nan, nan}},
	}
}

func bothPictures() map[string]picture {
	return map[string]picture{"detection": DetectionPicture, "amplitude": AmplitudePicture}
}

// TestPictureReads: the standard library can read the file, all words are
// there as words, and the face in it is TrueType: 00 01 00 00 by the OpenType
// specification, "Table Directory" (from memory).
func TestPictureReads(t *testing.T) {
	axis := map[string][]string{
		"detection": {"probability of detection", "true amplitude of the controller output (share of full output)",
			"0", "0.2", "0.8", "1", "0.002", "0.005", "0.01", "0.02", "0.05", "0.1"},
		"amplitude": {"amplitude at the alarm (share of full output)", "growth of the oscillation (1/s)",
			"0.3", "0.5", "1", "2", "5", "0.002", "0.005", "0.01", "0.02", "0.05", "0.1", "never"},
	}
	for name, draw := range bothPictures() {
		t.Run(name, func(t *testing.T) {
			curves := sampleCurves()
			d := readPicture(t, draw, "a < b", curves)
			assert.Subset(t, d.words, append(axis[name], "a < b", "limit"))
			for _, c := range curves {
				assert.Contains(t, d.words, c.Name)
			}
			assert.Equal(t, "#FFFFFF", d.strokes[0].style["fill"], "white ground comes first")
			assert.NotContains(t, string(d.raw), "base64", "the viewer's own font: 20 kB instead of 600")
		})
	}
}

func TestPictureSameBytes(t *testing.T) {
	for name, draw := range bothPictures() {
		first := readPicture(t, draw, name, sampleCurves()).raw
		for range 5 {
			assert.True(t, bytes.Equal(first, readPicture(t, draw, name, sampleCurves()).raw), name)
		}
		other := sampleCurves()
		other[0].Y[0] = 0.021
		assert.False(t, bytes.Equal(first, readPicture(t, draw, name, other).raw), name)
	}
}

// TestPictureScales: equal ratios are equally far apart, 0.10 lies on the
// limit, and the ends of the usual scales are the frame's (geometry of a
// logarithm alone).
func TestPictureScales(t *testing.T) {
	mid := math.Sqrt(0.002 * 0.1)
	d := readPicture(t, DetectionPicture, "", []Curve{{Name: "c", X: []float64{0.002, mid, 0.1}, Y: []float64{0, 0.25, 1}, Ours: true}})
	line, limit := d.with(blue, thickLine), d.with(limitColor, limitWidth)
	require.Len(t, line, 2, "the line and the legend's sample")
	require.Len(t, limit, 1)
	p, l := line[0].points, limit[0].points
	require.Len(t, p, 3)
	assert.InDelta(t, p[1][0]-p[0][0], p[2][0]-p[1][0], 0.05)
	assert.InDelta(t, 0.25, (p[1][1]-p[0][1])/(p[2][1]-p[0][1]), 1e-3)
	assert.Equal(t, [][2]float64{{p[2][0], p[0][1]}, p[2]}, l, "upright, from 0 to 1")

	g := math.Sqrt(0.3 * 5)
	d = readPicture(t, AmplitudePicture, "", []Curve{{Name: "c", X: []float64{0.3, g, 5}, Y: []float64{0.002, 0.1, 0.12}, Ours: true}})
	line, limit = d.with(blue, thickLine), d.with(limitColor, limitWidth)
	require.Len(t, line, 2, "the line and the legend's sample")
	require.Len(t, limit, 1)
	p, l = line[0].points, limit[0].points
	assert.InDelta(t, p[1][0]-p[0][0], p[2][0]-p[1][0], 0.05)
	assert.InDelta(t, math.Log(50)/math.Log(60), (p[1][1]-p[0][1])/(p[2][1]-p[0][1]), 1e-3)
	assert.Equal(t, [][2]float64{{p[0][0], p[1][1]}, {p[2][0], p[1][1]}}, l, "level, from edge to edge")
}

// TestPictureWidens: nothing falls off the sheet, whatever the values.
func TestPictureWidens(t *testing.T) {
	for name, draw := range bothPictures() {
		d := readPicture(t, draw, "", []Curve{{Name: "c", X: []float64{1e-4, 1, 30}, Y: []float64{1e-4, 0.5, 0.9}, Ours: true}})
		line := d.with(blue, thickLine)
		require.Len(t, line, 2, name)
		frame := d.with("#787878", "0.8")
		require.Len(t, frame, 1, name)
		right, top := frame[0].points[1][0], frame[0].points[1][1]
		left, bottom := frame[0].points[0][0], frame[0].points[2][1]
		for _, p := range line[0].points {
			assert.True(t, left <= p[0] && p[0] <= right && bottom <= p[1] && p[1] <= top, "%s: %v", name, p)
		}
	}
}

// TestPictureNever: a point without a value breaks the line, stands as an open
// mark over the top edge at its own place, and no two marks lie on each other.
func TestPictureNever(t *testing.T) {
	d := readPicture(t, AmplitudePicture, "", sampleCurves())
	full := sampleCurves()
	full[0].Y[2], full[1].Y[4] = 0.04, 0.03
	whole := readPicture(t, AmplitudePicture, "", full)

	lines := d.with(vermilion, thinLine)
	require.Len(t, lines, 3, "two parts and the legend's sample")
	assert.Len(t, lines[0].points, 2)
	assert.Len(t, lines[1].points, 2)
	at := whole.with(vermilion, thinLine)[0].points[2][0]
	marks := d.with(vermilion, openEdge)
	require.Len(t, marks, 1)
	top := d.with("#787878", "0.8")[0].points[0][1]
	sum := 0.0
	for _, p := range marks[0].points {
		sum += p[0]
		assert.Greater(t, p[1], top)
	}
	assert.InDelta(t, at, sum/float64(len(marks[0].points)), 0.05)
	assert.Empty(t, whole.with(vermilion, openEdge))

	blind := d.with("#009E73", openEdge)
	require.Len(t, blind, 5)
	assert.Len(t, d.with("#009E73", thinLine), 1, "only the legend's sample")
	low := func(s stroke) float64 {
		least := math.Inf(1)
		for _, p := range s.points {
			least = min(least, p[1])
		}
		return least
	}
	assert.Greater(t, low(blind[2]), low(blind[1])+5, "stacked over the mark of another curve")
	assert.InDelta(t, low(blind[0]), low(blind[1]), 0.01)
}

// TestPictureBand: the band's edges are drawn, and a quantile that was never
// reached lies on the top edge.
func TestPictureBand(t *testing.T) {
	d := readPicture(t, AmplitudePicture, "", sampleCurves())
	edges := d.with(blue, "0.6")
	require.Len(t, edges, 2)
	low, high := edges[0].points, edges[1].points
	require.Len(t, low, 5)
	require.Len(t, high, 5)
	for i := range low {
		assert.Equal(t, low[i][0], high[i][0])
		assert.Less(t, low[i][1], high[i][1])
	}
	top := d.with("#787878", "0.8")[0].points[0][1]
	assert.Equal(t, top, high[4][1])
	assert.Less(t, high[3][1], top)
	bare := sampleCurves()
	bare[1].Low, bare[1].High = nil, nil
	assert.Empty(t, readPicture(t, AmplitudePicture, "", bare).with(blue, "0.6"))
}

// TestPictureLooks: every two curves differ without colour, the first six in
// dashes and in shape, and only ours is thick, wherever it stands.
func TestPictureLooks(t *testing.T) {
	most := len(pictureDashes) * len(pictureShapes)
	seen := map[string]int{}
	dashes, shapes := map[string]bool{}, map[string]bool{}
	for i := range most {
		l := lookOf(i)
		dash, outline := fmt.Sprint(l.dashes), fmt.Sprint(l.shape(vg.Point{}, 1))
		if i < 6 {
			dashes[dash], shapes[outline] = true, true
		}
		before, twice := seen[dash+outline]
		assert.False(t, twice, "%d looks like %d", i, before)
		seen[dash+outline] = i
	}
	assert.Len(t, dashes, 6)
	assert.Len(t, shapes, 6)

	d := readPicture(t, DetectionPicture, "", sampleCurves())
	ours := d.with(blue, thickLine)
	require.Len(t, ours, 2, "the line and the legend's sample")
	assert.NotContains(t, ours[0].style, "stroke-dasharray")
	assert.Empty(t, d.with(vermilion, thickLine))
	assert.Equal(t, "7,3", d.with(vermilion, thinLine)[0].style["stroke-dasharray"])
}

func TestPictureRefuses(t *testing.T) {
	good := func(change func(*Curve)) []Curve {
		c := Curve{Name: "c", X: []float64{0.5, 1, 2}, Y: []float64{0.01, 0.02, 0.03}}
		change(&c)
		return []Curve{c}
	}
	many := make([]Curve, len(pictureDashes)*len(pictureShapes)+1)
	for i := range many {
		many[i] = good(func(c *Curve) { c.Name = strconv.Itoa(i) })[0]
	}
	one := good(func(*Curve) {})[0]
	for _, c := range []struct {
		name, title, says string
		curves            []Curve
		fine              string // the picture that takes it
	}{
		{name: "nil", says: "no curves"},
		{name: "none", says: "no curves", curves: []Curve{}},
		{name: "too many", says: "told apart", curves: many},
		{name: "empty", says: "0 of X", curves: []Curve{{Name: "c"}}},
		{name: "no name", says: "name", curves: good(func(c *Curve) { c.Name = "" })},
		{name: "same name", says: "name", curves: []Curve{one, one}},
		{name: "control character", says: "name", curves: good(func(c *Curve) { c.Name = "a\x01" })},
		{name: "not UTF-8", says: "title", title: "\xff", curves: []Curve{one}},
		{name: "short Y", says: "values of Y", curves: good(func(c *Curve) { c.Y = c.Y[:2] })},
		{name: "X at zero", says: "rise", curves: good(func(c *Curve) { c.X[0] = 0 })},
		{name: "X unknown", says: "rise", curves: good(func(c *Curve) { c.X[1] = math.NaN() })},
		{name: "X endless", says: "rise", curves: good(func(c *Curve) { c.X[2] = math.Inf(1) })},
		{name: "X twice", says: "rise", curves: good(func(c *Curve) { c.X[1] = 0.5 })},
		{name: "Y endless", says: "off the scale", curves: good(func(c *Curve) { c.Y[1] = math.Inf(1) })},
		{name: "Y below zero", says: "off the scale", curves: good(func(c *Curve) { c.Y[1] = -0.1 })},
		{name: "Y zero", says: "off the scale", curves: good(func(c *Curve) { c.Y[1] = 0 }), fine: "detection"},
		{name: "Y over one", says: "off the scale", curves: good(func(c *Curve) { c.Y[1] = 1.01 }), fine: "amplitude"},
		{name: "one quantile", says: "quantiles", curves: good(func(c *Curve) { c.Low = c.Y })},
		{name: "crossed", says: "over the high", curves: good(func(c *Curve) {
			c.Low, c.High = []float64{0.01, 0.03, 0.03}, []float64{0.01, 0.02, 0.03}
		})},
		{name: "high without low", says: "over the high", curves: good(func(c *Curve) {
			c.Low, c.High = []float64{0.01, math.NaN(), 0.03}, []float64{0.01, 0.02, 0.03}
		})},
	} {
		for name, draw := range bothPictures() {
			t.Run(c.name+"/"+name, func(t *testing.T) {
				var out bytes.Buffer
				err := draw(&out, c.title, c.curves)
				if name == c.fine {
					require.NoError(t, err)
					return
				}
				require.ErrorContains(t, err, c.says)
				assert.Zero(t, out.Len())
			})
		}
	}
}

type fullDisk struct{ err error }

func (f fullDisk) Write([]byte) (int, error) { return 0, f.err }

func TestPictureWriteError(t *testing.T) {
	full := errors.New("full")
	for _, draw := range bothPictures() {
		assert.ErrorIs(t, draw(fullDisk{full}, "", sampleCurves()), full)
	}
}

func TestDecadeTicks(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		named  string
		all    int
	}{
		{0.002, 0.1, "0.002 0.005 0.01 0.02 0.05 0.1", 18},
		{0.002, 0.12, "0.002 0.005 0.01 0.02 0.05 0.1", 18},
		{0.3, 5, "0.3 0.5 1 2 5", 12},
		{0.31, 5, "0.5 1 2 5", 11},
		{1, 10000, "1 10 100 1000 10000", 37},
		{0.0003, 0.003, "0.0003 0.0005 0.001 0.002 0.003", 10},
	} {
		var named []string
		ticks := decadeTicks(c.lo, c.hi)
		for _, tick := range ticks {
			if tick.IsMinor() {
				continue
			}
			named = append(named, tick.Label)
			v, err := strconv.ParseFloat(tick.Label, 64)
			require.NoError(t, err)
			assert.InDelta(t, v, math.Pow(10, tick.Value), 1e-12*v)
		}
		assert.Equal(t, c.named, strings.Join(named, " "))
		assert.Len(t, ticks, c.all)
	}
}
