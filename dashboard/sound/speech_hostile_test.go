package sound

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// writesDown is a speech program that notes each of its arguments and what it
// reads, a line for each.
const writesDown = `#!/bin/sh
for a in "$@"; do printf 'arg %s\n' "$a"; done > "$HEARD"
cat | sed 's/^/in /' >> "$HEARD"
sleep 0.11
`

// A text of somebody else reaches the program as one argument behind "--", of
// letters, digits, blanks and stops alone: no option, no markup, no phoneme, no
// line of its own; and nothing stands on standard input.
func TestHostileTextIsSpokenAsWords(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("the program's own arguments are those of linux")
	}
	for _, tool := range []string{"cat", "sed", "sleep"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip("there is no " + tool + ": what a program is told was not tried")
		}
	}
	dir := t.TempDir()
	t.Setenv("PATH", dir+string(os.PathListSeparator)+os.Getenv("PATH"))
	t.Setenv("HEARD", filepath.Join(dir, "heard"))
	path := filepath.Join(dir, "espeak-ng")
	require.NoError(t, os.WriteFile(path, []byte(writesDown), 0o700))
	p := findProgram()
	require.Equal(t, path, p.path)
	for _, text := range []string{
		"-f /etc/passwd", "--path=/tmp", "—v de", "− w out.wav", "-", "<speak><mark name='x'/></speak>",
		"<audio src=\"http://x/y.wav\"/>", "&lt;voice&gt;", "[[h@'loU]]", "pitch\n-w out.wav", "a\x00b", "a\x1b[2J",
		"$(touch here) `id` ; | &", "\\\"%s%n", "\u202eabc", strings.Repeat("w", 5000), "\xff\xfe -x",
	} {
		said := spoken(text)
		if said == "" { // the player offers no empty text
			assert.Equal(t, "-", text)
			continue
		}
		require.NoError(t, p.utter(t.Context(), said), "%q", text)
		heard, err := os.ReadFile(os.Getenv("HEARD"))
		require.NoError(t, err)
		lines := strings.Split(strings.TrimSuffix(string(heard), "\n"), "\n")
		require.Equal(t, []string{"arg -v", "arg en", "arg --", "arg " + said}, lines, "%q", text)
		word := strings.TrimPrefix(lines[3], "arg ")
		assert.False(t, strings.ContainsAny(word, "-<>&[]@'\"`$|;\\/=(){}\x00\x1b\u202e\u2014\u2212"), "%q: %q", text, word)
		assert.LessOrEqual(t, len([]rune(word)), spokenLimit)
	}
}

// On a system whose program has no end of options (say) a text still cannot
// begin with a sign, and where it is read from standard input (powershell) no
// argument changes with it.
func TestSpokenBeginsWithALetter(t *testing.T) {
	for _, text := range []string{"-o x.aiff", "\u2013v", "/f", "@file", "  -r 1", ".,%-v"} {
		got := spoken(text)
		require.NotEmpty(t, got)
		assert.NotContains(t, ".,%-/@ ", got[:1], "%q", text)
	}
	for _, p := range programs("windows") {
		assert.NotContains(t, strings.Join(p.args, " "), "$")
		assert.True(t, p.pipe)
	}
}
