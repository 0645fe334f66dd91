//go:build linux

package main

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestHomeAndEnd: the keys as terminals send them go to both ends of the view of all.
func TestHomeAndEnd(t *testing.T) {
	t.Parallel()
	for name, keys := range map[string][2]string{
		"as tmux sends them": {"\x1b[4~", "\x1b[1~"}, "as others do": {"\x1b[F", "\x1b[H"}, "in application mode": {"\x1bOF", "\x1bOH"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			cmd, tty, seen := onTerminal(t, "replay", "--sound", "off", "--at", "8", "--paused", slipRecording(t))
			shows := func(text string) func() bool {
				return func() bool {
					g := newGlassPane(80, 24)
					seen.mu.Lock()
					defer seen.mu.Unlock()
					g.take([]byte(seen.all.String()), time.Now())
					return g.shows(text)
				}
			}
			until := func(key, text string) {
				_, err := tty.WriteString(key)
				require.NoError(t, err)
				require.True(t, waited(shows(text)), "%q: no %q\n%s", key, text, seen.tail())
			}
			soon(t, shows("REPLAY PAUSED"), "a screen")
			until("6", "more below")
			require.False(t, shows("  state ")(), "the last stream is further down")
			until(keys[0], "  state ")
			until(keys[1], "more below")
			require.NoError(t, cmd.Process.Signal(os.Interrupt))
			require.NoError(t, waitFor(cmd), "%s", seen.tail())
		})
	}
}
