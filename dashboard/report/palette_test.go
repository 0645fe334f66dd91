package report

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// luminance is the relative luminance of WCAG 2 (definition from memory; two
// published ratios are checked below, from memory too).
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	var rgb [3]int
	_, err := fmt.Sscanf(hex, "#%02x%02x%02x", &rgb[0], &rgb[1], &rgb[2])
	require.NoError(t, err, hex)
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		c := float64(rgb[i]) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func TestContrastFormula(t *testing.T) {
	assert.InDelta(t, 21, contrast(t, "#000000", "#ffffff"), 1e-9)
	assert.InDelta(t, 4.54, contrast(t, "#767676", "#ffffff"), 0.01) // the darkest grey that just passes, as is often quoted
}

// Text needs 4.5, what is drawn 3, against what it may lie on.
func TestPaletteContrast(t *testing.T) {
	for name, of := range map[string]func(shade) string{"light": func(s shade) string { return s.light }, "dark": func(s shade) string { return s.dark }} {
		colour := map[string]string{}
		for _, s := range palette {
			colour[s.name] = of(s)
		}
		check := func(least float64, over string, names ...string) {
			for _, n := range names {
				assert.GreaterOrEqual(t, contrast(t, colour[n], colour[over]), least, "%s: %s on %s", name, n, over)
			}
		}
		check(4.5, "ground", "ink", "soft", "link", "high", "medium", "low", "note")
		check(4.5, "panel", "ink", "soft", "link", "high", "medium", "low")
		for _, over := range []string{"ground", "armed", "band", "fold"} {
			check(3, over, "curve1", "limit", "soft")
		}
		check(3, "ground", "mark", "bandedge", "foldedge", "hatch")
		for _, other := range []string{"ground", "armed"} {
			assert.NotEqual(t, colour[other], colour["panel"])
		}
	}
}

// Every colour of the style sheet is one of the palette, so that dark and paper
// have it too.
func TestStyleUsesThePaletteAlone(t *testing.T) {
	known := map[string]bool{}
	for _, s := range palette {
		known[s.name] = false
	}
	for _, m := range regexp.MustCompile(`var\(--([a-z0-9]+)\)`).FindAllStringSubmatch(styleText, -1) {
		_, ok := known[m[1]]
		assert.True(t, ok, m[1])
		known[m[1]] = true
	}
	for name, used := range known {
		assert.True(t, used, "%s is not used", name)
	}
	assert.NotRegexp(t, `#[0-9a-fA-F]{3,6}\b|rgb\(`, styleText)
	assert.NotContains(t, styleSheet(), "url(")
	sheet := styleSheet()
	assert.Less(t, strings.Index(sheet, "color-scheme:dark"), strings.Index(sheet, "@media print"))
}
