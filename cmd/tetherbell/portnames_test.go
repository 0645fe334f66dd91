//go:build linux || darwin

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/runcard"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// Ports whose names are longer than a recording keeps, or no text, are named alike
// by the day and by all who judge it again.
func TestPortNamesReplayAsTheDay(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), strings.Repeat("x", 120))
	require.NoError(t, os.Mkdir(dir, 0o700))
	end := "\xff"
	if os.WriteFile(filepath.Join(dir, end), nil, 0o600) != nil {
		end = "b" // a file system that takes text alone
	}
	sessions := t.TempDir()
	a, b := newOutlet(t, filepath.Join(dir, "nose")), newOutlet(t, filepath.Join(dir, "stand"+end))
	m := startMonitor(t, "watch", a.name, b.name, "--json", "--sound", "off", "--record", sessions)
	m.until(&m.err, "watching", 0)
	for n := 1; !m.has(&m.out, "no good line from", 0); n++ {
		require.Less(t, n, 500)
		at := n * 10_000
		_, err := fmt.Fprint(a, benchLine(fmt.Sprintf("load,%d,%d,1", n, at)))
		require.NoError(t, err)
		if n < 100 {
			_, err = fmt.Fprint(b, benchLine(fmt.Sprintf("air,%d,%d,100000,20", n, at)))
			require.NoError(t, err)
		}
		time.Sleep(10 * time.Millisecond)
	}
	live := m.stop()
	files, err := filepath.Glob(filepath.Join(sessions, "*.bell"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	assert.Contains(t, live, "...")
	code, check, _ := told("check", "--json", files[0])
	assert.LessOrEqual(t, code, exitAlarm)
	assert.Equal(t, nameless(live), nameless(check))
}

// A card and a craft that are too long for the first line of a recording are refused
// when it starts, with what to do.
func TestTooLongForTheFirstLine(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "sessions")
	_, err := startRecording(dir, link.SessionHeader{Source: "x"}, craft.Craft{}, &runcard.Card{Text: strings.Repeat("<", 20_000)})
	require.ErrorIs(t, err, link.ErrLongHeader)
	assert.Contains(t, hintOf(err), "shorter card")
	assert.NoDirExists(t, dir)
}
