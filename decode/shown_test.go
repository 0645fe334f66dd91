package decode

import (
	"encoding/json"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
)

func TestShown(t *testing.T) {
	for _, r := range "aZ09 ~!*é°±µΩЖ漢字€" {
		assert.True(t, Shown(r), "%q", r)
	}
	// C0, DEL, C1, marks, fillers, separators, what turns the direction or joins,
	// selectors, tags, private and unassigned ones, halves of pairs.
	for _, r := range []rune{0, 7, 8, 9, 10, 13, 0x1B, 0x7F, 0x80, 0x85, 0x9B, 0x9D, 0xA0, 0xAD, 0x300, 0x338, 0x34F, 0x20DD, 0x61C, 0x115F, 0x1160,
		0x17B4, 0x180E, 0x200B, 0x200D, 0x200E, 0x2028, 0x2029, 0x202A, 0x202E, 0x2060, 0x2066, 0x2069, 0x2800, 0x3000, 0x3164,
		0xD800, 0xE000, 0xFE0F, 0xFEFF, 0xFFA0, 0xFFFD, 0xFFFE, 0xE0001, 0xE0041, 0xE0100, 0xF0000, 0x10FFFF} {
		assert.False(t, Shown(r), "%U", r)
	}
}

func TestAccents(t *testing.T) {
	for in, want := range map[string]string{
		"Ma\u0301rra":              "Ma\u0301rra",
		"a\u0301\u0302\u0303x":     "a\u0301\u0302?x",
		"\u0301a":                  "?a",
		"1\u0338 \u0338":           "1? ?",
		"a\u20dd":                  "a?",
		"a\ufe0f\u0301":            "a??",
		"\u0915\u094d\u0937":       "\u0915\u094d\u0937",
		"e" + rep("\u0301", 50):    "e" + rep("\u0301", 2) + rep("?", 48),
		"漢\u0301 \u200d\u0301 a\n": "漢\u0301 ?? a?",
		"HIGH\u0336\u0336\u0336\n": "HIGH\u0336\u0336??",
	} {
		var a Accents
		assert.Equal(t, want, strings.Map(func(r rune) rune {
			if a.Shown(r) {
				return r
			}
			return '?'
		}, in))
	}
}

func rep(s string, n int) string { return strings.Repeat(s, n) }

func TestEscapeJSON(t *testing.T) {
	plain := []byte("{\"a\":\"35 °C\"}\n")
	assert.Same(t, &plain[0], &EscapeJSON(plain)[0], "no copy")
	// A pair after RFC 8259, section 7, whose own example is U+1D11E; here it is
	// a character that does not show.
	assert.Equal(t, `{"\u009b":"\u202e\u200dx\udb40\udc41\ufffd"}`, string(EscapeJSON([]byte("{\"\u009b\":\"\u202e\u200dx\U000e0041\xff\"}"))))
}

// FuzzEscapeJSON: the same value, nothing but what shows.
func FuzzEscapeJSON(f *testing.F) {
	f.Add("a\x1b\u009b\u202e\U000e0041\xff\u0301")
	f.Fuzz(func(t *testing.T, text string) {
		plain, err := json.Marshal(text)
		if err != nil {
			t.Fatal(err)
		}
		out := EscapeJSON(plain)
		for _, r := range string(out) {
			if !Shown(r) || unicode.IsControl(r) {
				t.Fatalf("%q in %q", r, out)
			}
		}
		var one, two string
		if json.Unmarshal(plain, &one) != nil || json.Unmarshal(out, &two) != nil || one != two {
			t.Fatalf("%q: %q, want %q", text, two, one)
		}
	})
}
