package dashboard

import (
	"math"
	"strings"
	"testing"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"Marsh Heron":             "Marsh Heron",
		"a\tb\r\nc":               "a b  c",
		"\x1b[2Jgone":             "[2Jgone",
		"bell\a \x7f\u0085 end":   "bell  end",
		"\u202eright\u200b":       "right",
		"e\u0301":                 "e",
		"Lough Marra é":           "Lough Marra é",
		"日本":                      "??",
		string([]byte{'x', 0xFF}): "x?",
		"[red]":                   "[red]",
	} {
		require.Equal(t, want, clean(in), "%q", in)
	}
}

func TestNumbers(t *testing.T) {
	require.Equal(t, "?", num(math.NaN(), 2))
	require.Equal(t, "?", num(math.Inf(-1), 2))
	require.Equal(t, "0.00", num(-0.001, 2))
	require.Equal(t, "1.0e+08", num(1e8, 2))
	require.Equal(t, "8120", grouped(8120))
	require.Equal(t, "18 120", grouped(18120))
	require.Equal(t, "0:59.9", clock(59_999_999, 1)) // never 0:60.0
	require.Equal(t, "1:02.34", clock(62_340_000, 2))
	require.Equal(t, "1:00:05", clock(3_605_000_000, 0))
	require.Equal(t, "0:00", clock(math.MinInt64, 0))
	require.Equal(t, "9.4 s", span(9.41))
	require.Equal(t, "2:05", span(125))
	require.Equal(t, "604.0 kB", size(604_000))
}

func TestWrap(t *testing.T) {
	require.Equal(t, []string{"weak motor", "or", "propeller"}, wrap("weak motor or propeller", 10))
	require.Nil(t, wrap("x", 0))
}

// TestLettersAreWhole: five rows of one width for each letter, and all
// letters that an action or a place may need.
func TestLettersAreWhole(t *testing.T) {
	for r, shape := range letters {
		rows := strings.Split(shape, "/")
		require.Len(t, rows, letterRows, "%c", r)
		for _, row := range rows {
			require.Len(t, row, len(rows[0]), "%c", r)
		}
	}
	for r := rune('A'); r <= 'Z'; r++ {
		require.Contains(t, letters, r)
	}
	for _, r := range "0123456789 +-.,:?!/'" {
		require.Contains(t, letters, r)
	}
}

// TestContrast computes the contrast of each coloured pair by the formula of
// WCAG 2 (SC 1.4.3): (L1+0.05)/(L2+0.05). The formula is checked against
// published pairs first (computed values of our references): #767676 on white
// 4.542, white on #CD0000 5.840, #CDCD00 on black 12.328. Threshold 7 is SC
// 1.4.6, enhanced (from memory).
func TestContrast(t *testing.T) {
	hex := func(v int32) tcell.Color { return tcell.NewHexColor(v) }
	require.InDelta(t, 4.542, contrast(hex(0x767676), hex(0xFFFFFF)), 0.001)
	require.InDelta(t, 5.840, contrast(hex(0xFFFFFF), hex(0xCD0000)), 0.001)
	require.InDelta(t, 12.328, contrast(hex(0xCDCD00), hex(0)), 0.001)
	for p := detect.Low; p <= detect.High; p++ {
		require.GreaterOrEqual(t, contrast(rich[p].fg, rich[p].bg), 7.0, p.String())
		// The 256 colours' nearest entries, as the terminal library picks.
		require.GreaterOrEqual(t, contrast(nearest(rich[p].fg), nearest(rich[p].bg)), 7.0, p.String())
	}
	// A terminal's own 16 colours differ; these are the usual ones, 4.5 for
	// text being SC 1.4.3 (from memory).
	usual := map[tcell.Color]tcell.Color{
		tcell.ColorBlack: hex(0), tcell.ColorMaroon: hex(0xCD0000), tcell.ColorOlive: hex(0xCDCD00),
		tcell.ColorTeal: hex(0x00CDCD), tcell.ColorSilver: hex(0xE5E5E5), tcell.ColorWhite: hex(0xFFFFFF),
	}
	for p := detect.Low; p <= detect.High; p++ {
		require.GreaterOrEqual(t, contrast(usual[sixteen[p].fg], usual[sixteen[p].bg]), 4.5, p.String())
		require.GreaterOrEqual(t, contrast(usual[eight[p].fg], usual[eight[p].bg]), 4.5, p.String())
	}
}

func nearest(c tcell.Color) tcell.Color {
	var all []tcell.Color
	for i := range 256 {
		all = append(all, tcell.PaletteColor(i))
	}
	return tcell.FindColor(c, all)
}

func contrast(a, b tcell.Color) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func luminance(c tcell.Color) float64 {
	r, g, b := c.RGB()
	lin := func(v int32) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(r) + 0.7152*lin(g) + 0.0722*lin(b)
}

// TestWorst: which alarm the banner shows.
func TestWorst(t *testing.T) {
	a := func(p detect.Priority, active, acked bool) alarms.AlarmView {
		return alarms.AlarmView{Priority: p, Active: active, Acknowledged: acked}
	}
	for name, c := range map[string]struct {
		list []alarms.AlarmView
		want int
	}{
		"none":                          {nil, -1},
		"priority first":                {[]alarms.AlarmView{a(detect.Medium, true, false), a(detect.High, true, true)}, 1},
		"then not acknowledged":         {[]alarms.AlarmView{a(detect.High, true, true), a(detect.High, true, false)}, 1},
		"active before all":             {[]alarms.AlarmView{a(detect.High, false, false), a(detect.Low, true, true)}, 1},
		"over ones by priority":         {[]alarms.AlarmView{a(detect.Medium, false, false), a(detect.High, false, true)}, 1},
		"the first of equals":           {[]alarms.AlarmView{a(detect.Low, true, false), a(detect.Low, true, false)}, 0},
		"this moment before what lasts": {[]alarms.AlarmView{slipOf(detect.High), a(detect.High, true, false)}, 1},
		"priority before that":          {[]alarms.AlarmView{slipOf(detect.High), a(detect.Medium, true, false)}, 0},
		"a note is no banner":           {[]alarms.AlarmView{a(detect.Note, true, false)}, -1},
		"nor does it hide what is over": {[]alarms.AlarmView{a(detect.Note, true, false), a(detect.High, false, false)}, 1},
	} {
		require.Equal(t, c.want, worst(c.list), name)
	}
}

// slipOf is a slip of a setting, which has been so all along.
func slipOf(p detect.Priority) alarms.AlarmView {
	return alarms.AlarmView{Kind: detect.SettingsSlip, Priority: p, Active: true}
}

func TestActionIsCutToItsFirstPart(t *testing.T) {
	require.Equal(t, "LAND", fitting("LAND, THEN LOOK AT M3", 60))
	require.Equal(t, "CUT THROTTLE", fitting("CUT THROTTLE", 60))
	require.Equal(t, "MOTORS", placeWord(detect.MotorHeat, detect.M1|detect.M2|detect.M3))
	require.Equal(t, "M1+M3", placeWord(detect.MotorHeat, detect.M1|detect.M3))
	require.Equal(t, "AXES", placeWord(detect.RisingOscillation, detect.Roll|detect.Yaw))
	require.Equal(t, "THRUST", placeWord(detect.GroundThrust, detect.Craft))
	require.Equal(t, "CRAFT", placeWord(detect.KindCount, detect.Craft), "of a later version")
}

func TestHelpFitsItsColumn(t *testing.T) {
	for _, k := range keyTable() {
		require.LessOrEqual(t, len(k.help), 28, k.help)
		require.LessOrEqual(t, len(k.names), 9, k.names)
	}
}

// TestTickIsSaid: the screen says whether it would tick, where it could.
func TestTickIsSaid(t *testing.T) {
	for tick, want := range map[string]string{
		"": "audio: sound server", "on": "audio: sound server, tick on", "off": "audio: sound server, tick off",
	} {
		f := benchFrame()
		f.Status.Sound, f.Status.Tick = "audio: sound server", tick
		_, sound := keepParts(f, &look{})
		require.Equal(t, want, sound[len(sound)-1].text)
	}
}

// TestHeadsAreBigAt80: whatever an alarm is about, its head is in big letters on
// the smallest screen that has two lines of them.
func TestHeadsAreBigAt80(t *testing.T) {
	places := []detect.Where{detect.Link, detect.Pack, detect.Craft}
	for m := range detect.Where(8) {
		places = append(places, detect.Motor(int(m)), detect.Motor(int(m))|detect.Motor(7), detect.M1|detect.M2|detect.Motor(int(m)))
	}
	for a := detect.Where(1); a < 8; a++ {
		var w detect.Where
		for i := range 3 {
			if a&(1<<i) != 0 {
				w |= detect.Axis(i)
			}
		}
		places = append(places, w)
	}
	for k := range detect.KindCount {
		for _, w := range places {
			for _, p := range []detect.Priority{detect.Low, detect.Medium, detect.High} {
				head := priorityWord(p) + " " + placeWord(k, w)
				rows, ok := dots(head)
				require.True(t, ok, head)
				require.LessOrEqual(t, len(rows[0]), 80-2*edgeWide-2, head)
			}
		}
	}
}
