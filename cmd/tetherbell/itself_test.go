package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/account"
	"tetherbell/decode/craft"
)

// checked is what check says of a recording.
func checked(t *testing.T, file string, args ...string) string {
	t.Helper()
	var out bytes.Buffer
	cmd := newCheck(&console{out: &out, err: &out})
	cmd.SetArgs(append(args, file))
	require.NoError(t, cmd.ExecuteContext(context.Background()))
	return strings.ReplaceAll(out.String(), file, "FILE")
}

// withNotes puts notes into a recording, after the lines of the host's clock at
// some seconds.
func withNotes(t *testing.T, file string, notes map[string]string) string {
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	s := string(text)
	for at, note := range notes {
		require.Equal(t, 1, strings.Count(s, "#at "+at+"\n"), at)
		s = strings.Replace(s, "#at "+at+"\n", "#at "+at+"\n#note "+note+"\n", 1)
	}
	out := t.TempDir() + "/noted.bell"
	require.NoError(t, os.WriteFile(out, []byte(s), 0o600))
	return out
}

// What the monitor told of itself is named by the verdict and the account, told
// on the day or worked out again, and changes no word of the engine's.
func TestNotesOfItself(t *testing.T) {
	plain := recordedDay(t, craft.Craft{}, "gains-high", 3)
	still := "the sound stands still (0.6 s): NO ALARM IS HEARD"
	noted := withNotes(t, plain, map[string]string{"12.300": still, "13.100": "the sound goes on: it stood still for 1.4 s"})

	assert.Equal(t, checked(t, plain, "--json"), checked(t, noted, "--json"), "the engine is not told")
	before, after := checked(t, plain), checked(t, noted)
	assert.NotContains(t, before, "the monitor itself")
	assert.Contains(t, after, "  the monitor itself, at 12.3 s: "+still+"\n")
	var rest []string
	for line := range strings.Lines(after) {
		if !strings.Contains(line, "the monitor itself") {
			rest = append(rest, line)
		}
	}
	assert.Equal(t, before, strings.Join(rest, ""))

	for _, again := range []bool{false, true} {
		was, a := accounted(t, plain, nil, again), accounted(t, noted, nil, again)
		assert.Equal(t, was.Session.Judged, a.Session.Judged)
		assert.Equal(t, was.Alarms, a.Alarms)
		var own []account.Mark
		for _, m := range a.Marks {
			if m.By == "monitor" {
				own = append(own, m)
			}
		}
		require.Len(t, own, 2)
		assert.Equal(t, still, own[0].Text)
		assert.InDelta(t, 12.3, own[0].At, 0.05)
		assert.Len(t, was.Marks, len(a.Marks)-2)
	}
}

// A verdict stays short, whatever was told.
func TestManyNotesAreCounted(t *testing.T) {
	d := newDesk(craft.Craft{}, 0, nil, func([]alarms.Event) {})
	assert.Empty(t, d.itself.lines())
	for i := range 9 {
		d.tellOfItself(fmt.Sprint("note ", i))
	}
	for range 2 { // asking changes nothing
		lines := d.itself.lines()
		require.Len(t, lines, 6)
		assert.Contains(t, lines[4], "note 4")
		assert.Equal(t, "  and 4 times more", lines[5])
	}
}
