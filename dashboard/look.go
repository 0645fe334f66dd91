package dashboard

import (
	"strings"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms/detect"
)

// A look is how things are drawn on one terminal. Ordinary text keeps the
// terminal's own two colours, so that dark and light terminals both work;
// what is coloured always brings both its colours. Colour never stands alone:
// each priority also has its word and its edge pattern.
type look struct {
	colours int
	ascii   bool

	plain, bold, invert tcell.Style
	chips               [detect.High + 1]tcell.Style // by priority

	full, track, limit, beyond rune
	upper, lower, rule, bar    rune
	tick                       rune   // points up at a place
	part                       []rune // one eighth to seven eighths of a cell
	edges                      [detect.High + 1][2]rune
	times, degree, dot         string

	cells map[rune]string // one string for each rune drawn, so that cells cost nothing
}

// cell is the rune as a string.
func (l *look) cell(r rune) string {
	s, ok := l.cells[r]
	if !ok {
		s = string(r)
		l.cells[r] = s
	}
	return s
}

// pair is a foreground on a background.
type pair struct{ fg, bg tcell.Color }

// The pairs of each priority. Contrast by the WCAG formula (SC 1.4.3: 4.5 for
// text, SC 1.4.6: 7 enhanced; thresholds from memory): a test computes it.
// Hues follow common use: red danger, yellow caution, cyan for the least.
var (
	rich = [detect.High + 1]pair{
		detect.Low:    {tcell.NewRGBColor(0, 0, 0), tcell.NewRGBColor(0x5F, 0xD7, 0xD7)},
		detect.Medium: {tcell.NewRGBColor(0, 0, 0), tcell.NewRGBColor(0xFF, 0xD7, 0x00)},
		detect.High:   {tcell.NewRGBColor(0xFF, 0xFF, 0xFF), tcell.NewRGBColor(0xAF, 0x00, 0x00)},
	}
	sixteen = [detect.High + 1]pair{
		detect.Low:    {tcell.ColorBlack, tcell.ColorTeal},
		detect.Medium: {tcell.ColorBlack, tcell.ColorOlive},
		detect.High:   {tcell.ColorWhite, tcell.ColorMaroon},
	}
	// With eight colours the brightest white is palette entry 7.
	eight = [detect.High + 1]pair{
		detect.Low:    {tcell.ColorBlack, tcell.ColorTeal},
		detect.Medium: {tcell.ColorBlack, tcell.ColorOlive},
		detect.High:   {tcell.ColorSilver, tcell.ColorMaroon},
	}
)

// lookOf chooses the look for a screen: the number of its colours (0 where
// NO_COLOR is set) and its character set decide.
func lookOf(s tcell.Screen) *look {
	charset := strings.ToUpper(s.CharacterSet())
	return newLook(s.Colors(), !strings.HasPrefix(charset, "UTF"))
}

func newLook(colours int, ascii bool) *look {
	d := tcell.StyleDefault
	l := &look{
		colours: colours, ascii: ascii, cells: map[rune]string{},
		plain: d, bold: d.Bold(true), invert: d.Reverse(true),
		full: '█', track: '·', limit: '┃', beyond: '▓', upper: '▀', lower: '▄', rule: '─', bar: '│', tick: '↑',
		part:   []rune("▏▎▍▌▋▊▉"),
		times:  "×",
		degree: "°C",
		dot:    " · ",
		edges: [detect.High + 1][2]rune{
			{' ', ' '}, {' ', ' '}, {'░', '░'}, {'▒', '▒'}, {'▞', '▚'},
		},
	}
	if ascii {
		l.full, l.track, l.limit, l.beyond, l.rule, l.bar, l.tick = '#', '.', '|', '%', '-', '|', '^'
		l.part = nil
		l.times, l.degree, l.dot = "x", "C", " - "
		l.edges = [detect.High + 1][2]rune{{' ', ' '}, {' ', ' '}, {'-', '-'}, {'=', '='}, {'/', '\\'}}
	}
	l.chips = [detect.High + 1]tcell.Style{d, d, d.Bold(true).Underline(true), d.Reverse(true), d.Reverse(true).Bold(true)}
	var pairs *[detect.High + 1]pair
	switch {
	case colours >= 256:
		pairs = &rich
	case colours >= 16:
		pairs = &sixteen
	case colours >= 8:
		pairs = &eight
	default:
		return l
	}
	for p := detect.Low; p <= detect.High; p++ {
		l.chips[p] = d.Foreground(pairs[p].fg).Background(pairs[p].bg).Bold(true)
	}
	return l
}

// chip is the style of a priority; one that is not known looks like the
// highest.
func (l *look) chip(p detect.Priority) tcell.Style {
	if p > detect.High {
		p = detect.High
	}
	return l.chips[p]
}

// edge is the pattern of a priority; beat 0 or 1 lets the highest move.
func (l *look) edge(p detect.Priority, beat int) rune {
	if p > detect.High {
		p = detect.High
	}
	return l.edges[p][beat&1]
}
