package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/account"
)

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{{0, "0"}, {-0.0000000001, "0"}, {0.00004513, "0.0000451"}, {0.1, "0.1"}, {1.2345, "1.23"}, {12.345, "12.3"}, {99.96, "100"}, {1234.5, "1234"}, {-0.0312, "-0.0312"}} {
		assert.Equal(t, c.want, number(c.v))
	}
	value, doubt := doubtful(0.71132, 0.0161)
	assert.Equal(t, "0.711", value)
	assert.Equal(t, "0.016", doubt)
	value, doubt = doubtful(123.4, 17)
	assert.Equal(t, "123", value)
	assert.Equal(t, "17", doubt)
	assert.Equal(t, "59:59", clock(3599.9))
	assert.Equal(t, "1:00:00", clock(3600))
	assert.Equal(t, "200.500 s (3:20)", second(200.5))
	assert.Equal(t, "8.8 s", length(8.796))
	assert.Equal(t, "59 min 59 s", length(3599.9))
	assert.Equal(t, "1 h 1 min 2 s", length(3662))
}

func TestScales(t *testing.T) {
	s := scale{lo: 0, hi: 10, from: 100, to: 0}
	assert.Equal(t, 50.0, s.at(5))
	assert.Equal(t, 0.0, s.at(11), "on the edge, not outside")
	s = scale{lo: 0.001, hi: 10, from: 400, to: 0, log: true}
	assert.InDelta(t, 200, s.at(0.1), 1e-9)
	assert.Equal(t, 400.0, s.at(0))
	for _, c := range []struct {
		span  float64
		parts int
		want  float64
	}{{1, 5, 0.2}, {1, 3, 0.5}, {0.3, 3, 0.1}, {9000, 4, 5000}, {0.002, 5, 0.0005}} {
		assert.InEpsilon(t, c.want, niceStep(c.span, c.parts), 1e-9)
	}
	assert.Equal(t, []float64{-0.1, 0, 0.1}, ticks(-0.12, 0.12, 0.1))
	assert.Equal(t, 600.0, timeStep(3600, 10))
	assert.Equal(t, 2.0, timeStep(20, 10))
}

func values(all ...float32) *account.Curve {
	c := &account.Curve{Step: 1}
	for _, v := range all {
		if v < 0 {
			c.Min, c.Max = append(c.Min, nil), append(c.Max, nil)
			continue
		}
		c.Min, c.Max = append(c.Min, &v), append(c.Max, &v)
	}
	return c
}

func TestPieces(t *testing.T) {
	const none = -1
	for _, c := range []struct {
		name  string
		curve *account.Curve
		want  []int // points in each piece
	}{
		{"no curve", nil, nil},
		{"nothing measured", values(none, none), nil},
		{"one", values(none, 3, none), []int{1}},
		{"whole", values(1, 2, 3), []int{3}},
		{"a hole", values(1, 2, 3, none, none, none, 4, 5), []int{3, 2}},
		{"a slow stream is one line", values(1, none, none, 2, none, none, 3, none, none, 4), []int{4}},
		{"a slow stream with a hole", values(1, none, 2, none, 3, none, none, none, none, none, none, none, 4, none, 5), []int{3, 2}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []int
			for _, p := range pieces(points(c.curve)) {
				got = append(got, len(p))
			}
			assert.Equal(t, c.want, got)
		})
	}
}

// A spike of one stretch is in the picture, however long the session.
func TestMergedKeepsSpikes(t *testing.T) {
	c := values(make([]float32, 1800)...)
	spike := float32(7)
	c.Max[1234] = &spike
	all := merged(points(c), 1800/750.0)
	assert.LessOrEqual(t, len(all), 751)
	found := false
	for _, p := range all {
		found = found || p.hi == 7 && p.from <= 1234 && p.to >= 1235
	}
	assert.True(t, found)
}

func TestEnvelope(t *testing.T) {
	x, y := scale{lo: 0, hi: 10, from: 0, to: 100}, scale{lo: 0, hi: 1, from: 100, to: 0}
	data, area := envelope([]point{{0, 1, 0.5, 0.5}, {1, 2, 1, 1}}, x, y)
	assert.Equal(t, "M0 50H10V0H20", data)
	assert.False(t, area)
	data, area = envelope([]point{{0, 1, 0, 0.5}, {1, 2, 0.5, 1}}, x, y)
	assert.Equal(t, "M0 50H10V0H20V50H10V100H0z", data)
	assert.True(t, area)
}

// Nothing on a lane covers anything else, and nothing leaves the picture.
func TestPackedEntriesDoNotMeet(t *testing.T) {
	x := scale{lo: 0, hi: 100, from: plotLeft, to: plotRight}
	var all []entry
	for i := range 40 {
		at := float64(i*i%97) + 3
		all = append(all, entry{at: at, until: at + float64(i%7), full: strings.Repeat("x", 5+i%20)})
	}
	set, rows := pack(x, all, func(e entry) string { return e.full })
	assert.Greater(t, rows, 1)
	type room struct{ from, to float64 }
	taken := map[int][]room{}
	for _, e := range set {
		at := x.at(e.at)
		r := room{at - 6, max(x.at(e.until), at+9+widthOf(e.label))}
		if e.left {
			r = room{at - 9 - widthOf(e.label), max(x.at(e.until), at+6)}
		}
		assert.LessOrEqual(t, r.to, sheetWidth)
		assert.GreaterOrEqual(t, r.from, 0.0)
		for _, other := range taken[e.row] {
			assert.True(t, r.to <= other.from || r.from >= other.to, "%v meets %v in row %d", r, other, e.row)
		}
		taken[e.row] = append(taken[e.row], r)
	}
}

// A spectrum's line of one bin is in picture and table, however many bins.
func TestSpectrumKeepsLines(t *testing.T) {
	s := &account.Spectrum{Unit: "1/sqrt(Hz)", BinHz: 0.1, TopHz: 500}
	for range 5001 {
		s.Root = append(s.Root, 0.001)
	}
	s.Root[3333] = 0.5
	c := spectrumChart("x", "x", s, nil)
	x := scale{lo: 0, hi: 500, from: plotLeft, to: plotRight}
	y := scale{lo: 0.001, hi: 1, from: titleRow + 4 + spectrumHeight, to: titleRow + 4, log: true}
	assert.Contains(t, c.Picture.Body, " "+unit(y.at(0.5)))
	assert.LessOrEqual(t, strings.Count(spectrumLine(s, x, y), "L"), 750)
	told := false
	for _, r := range c.Figures.Rows {
		told = told || r.Cells[1] == "333" && r.Cells[2] == "0.5"
	}
	assert.True(t, told)
	assert.Nil(t, spectrumChart("x", "x", &account.Spectrum{BinHz: 1, Root: make([]float32, 100)}, nil), "nothing but noughts is no picture")
	assert.Nil(t, spectrumChart("x", "x", nil, nil))
}

// The dot of the sketch lies where the figures say: forward is up, right is
// right.
func TestBalanceSketch(t *testing.T) {
	for _, c := range []struct {
		forward, right float64
		up, left       bool
	}{{6, -2, true, true}, {-6, 2, false, false}} {
		body := balanceChart(&account.Craft{Layout: "quad-x"}, &account.Balance{Known: true, ForwardMM: c.forward, RightMM: c.right, ErrMM: 1}).Picture.Body
		i := strings.Index(body, `class="weight"`)
		var x, y float64
		_, err := sscan(body[i:], &x, &y)
		assert.NoError(t, err)
		assert.Equal(t, c.up, y < sketchSize/2)
		assert.Equal(t, c.left, x < sketchSize/2)
	}
	assert.NotContains(t, balanceChart(&account.Craft{Layout: "custom"}, &account.Balance{Known: true, ErrMM: 1}).Picture.Body, "motor")
}

func TestMarkdownText(t *testing.T) {
	for in, want := range map[string]string{
		"a|b":              `a\|b`,
		"control_roll":     "control_roll",
		"_b_":              `\_b\_`,
		"1. not a list":    `1\. not a list`,
		"0.5 of it":        "0.5 of it",
		"# no heading":     `\# no heading`,
		"- no item":        `\- no item`,
		"-0.3":             "-0.3",
		"<b>&amp;":         `\<b\>\&amp;`,
		"two\nlines":       "two lines",
		"`code` [a](b) **": "\\`code\\` \\[a\\](b) \\*\\*",
	} {
		assert.Equal(t, want, plainText(in))
	}
}

func TestSentence(t *testing.T) {
	for in, want := range map[string]string{
		"":                           "",
		"lower the gains":            "Lower the gains.",
		"rising-oscillation at roll": "rising-oscillation at roll.",
		"tetherbell advises":         "tetherbell advises.",
		"before.bell rang":           "before.bell rang.",
		"end.":                       "End.",
		"Done!":                      "Done!",
	} {
		assert.Equal(t, want, sentence(in))
	}
}

// A tone among a rotor's speeds of the run is not the rotor's where it turned
// elsewhere then.
func TestToneBesideTheRotors(t *testing.T) {
	s := &account.Spectrum{Orders: []account.RotorLine{{Order: "once a turn", LowHz: 9, HighHz: 85}, {Order: "twice a turn", LowHz: 18, HighHz: 170}}}
	own, other := axisTone{"pitch", &account.Tone{Hz: 70, Rotor: "once a turn"}}, axisTone{"roll", &account.Tone{Hz: 14.2, At: 6.8}}
	got := orderTable("x", s, own, other)
	assert.Equal(t, "in its place; but the strongest of roll, 14.2 Hz, is none of it: at 6.800 s the rotors turned elsewhere", got.Rows[0].Cells[3])
	assert.Equal(t, "in its place", got.Rows[1].Cells[3])
}

// Bands meet, reach to the end, and none has the same name at both of its ends.
func TestBandsOfASpectrum(t *testing.T) {
	for _, top := range []float64{50, 50.02, 200, 200.3, 249.6, 263, 497.4} {
		s := &account.Spectrum{Unit: "1/sqrt(Hz)", BinHz: 0.05, TopHz: top, Root: make([]float32, int(top/0.05)+2)}
		for k := range s.Root {
			s.Root[k] = 1
		}
		last := "0"
		for _, r := range spectrumFigures("x", s, top).Rows {
			from, to, ok := strings.Cut(r.Cells[0], " to ")
			require.True(t, ok)
			assert.Equal(t, last, from, "%g", top)
			assert.NotEqual(t, from, to, "%g", top)
			last = to
		}
		assert.Equal(t, number(top), last)
	}
}
