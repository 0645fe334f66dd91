package report

import "strings"

// A shade is one colour's name in the style sheet with its values on a light
// and on a dark ground. Contrast by the formula of WCAG 2: a test computes it.
type shade struct{ name, light, dark string }

// palette is every colour of the page. Hues follow common use: red danger,
// yellow caution, cyan for the least.
var palette = []shade{
	{"ground", "#ffffff", "#15181c"},
	{"panel", "#f4f5f2", "#1f242a"},
	{"ink", "#1a1c1e", "#eceff1"},
	{"soft", "#4f565c", "#b3bcc4"}, // of lesser words
	{"rule", "#d5d9d6", "#3a424a"}, // lines that carry nothing
	{"link", "#0b4f9e", "#8ec2ff"},
	{"high", "#a80000", "#ff8a80"},
	{"medium", "#7a5600", "#ffd54a"},
	{"low", "#00636b", "#6fdde0"},
	{"note", "#4f565c", "#b3bcc4"},
	{"mark", "#5b3a9b", "#c9b0ff"},
	{"curve1", "#1b5faa", "#7cb9ff"},
	{"limit", "#a80000", "#ff8a80"},
	{"armed", "#edf3e6", "#222d22"}, // behind curves
	{"band", "#f6e3bd", "#4a3c17"},  // a rotor order, behind a curve
	{"bandedge", "#9a6a00", "#c99b3f"},
	{"fold", "#e9dff5", "#3a2f4f"},
	{"foldedge", "#6b4aa8", "#a78bd6"},
	{"shadow", "#b9bfc2", "#000000"}, // where a picture goes on beside the screen
	{"hatch", "#8c949a", "#7d878f"},
}

// colours are the palette's values as the style sheet declares them.
func colours(of func(shade) string) string {
	var b strings.Builder
	for _, s := range palette {
		b.WriteString("--" + s.name + ":" + of(s) + ";")
	}
	return b.String()
}

// styleSheet is the page's whole style. Paper has the light colours, whatever
// the screen has.
func styleSheet() string {
	light := colours(func(s shade) string { return s.light })
	dark := colours(func(s shade) string { return s.dark })
	return ":root{color-scheme:light dark;" + light + "}\n" +
		"@media screen and (prefers-color-scheme:dark){:root{" + dark + "}}\n" + styleText
}
