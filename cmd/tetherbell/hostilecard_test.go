//go:build linux

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestHostileCard: a card whose texts are hostile is refused in plain words, or
// stands on the screen as letters: no sequence of its own, no mark-up, and no
// cell that does not show.
func TestHostileCard(t *testing.T) {
	t.Parallel()
	drawn := 0
	for i, text := range hostileTexts {
		q, err := json.Marshal(string([]rune(text)[:min(len([]rune(text)), 50)]))
		require.NoError(t, err)
		dir := t.TempDir()
		card := filepath.Join(dir, "card.toml")
		require.NoError(t, os.WriteFile(card, fmt.Appendf(nil,
			"name = \"x\"\ntitle = %s\n[[step]]\nid = \"a\"\nkind = \"person\"\nsay = %s\nwhy = %s\nif_failed = %s\n", q, q, q, q), 0o600))
		out, errs := runHostile(t, dir, card, []string{"card", card})
		checkPlain(t, text, out)
		checkPlain(t, text, errs)
		if len(errs) > 0 {
			assert.Contains(t, string(errs), "hint: ", "%q", text)
			continue
		}
		if i%2 != 0 && !strings.ContainsAny(text, "\x1b[<") {
			continue
		}
		drawn++
		raw, pictures := screenOf(t, "watch", "--sound", "off", "--card", card, slipRecording(t))
		checkScreen(t, text, raw, pictures)
		assert.Contains(t, strings.Join(pictures, ""), "PWN", "%q must come through", text)
	}
	assert.Greater(t, drawn, 5, "cards must reach the screen, or nothing was tried")
}
