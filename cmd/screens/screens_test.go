package main

import (
	"flag"
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite the screens in dashboard/testdata/tmux")

const root = "../.."

// TestScreens holds that a real terminal shows what is kept, to the byte.
func TestScreens(t *testing.T) {
	if _, err := exec.LookPath("tmux"); err != nil {
		t.Skip("tmux is not installed: the screens were not captured")
	}
	if *update {
		require.NoError(t, writeScreens(root))
	}
	s, err := openStudio(root)
	require.NoError(t, err)
	defer s.close()
	all := shots()
	s.wants = map[shot]string{}
	for _, sh := range all {
		want, err := os.ReadFile(screenFile(root, sh))
		require.NoError(t, err)
		s.wants[sh] = string(want)
	}
	texts, err := s.all(all, false)
	require.NoError(t, err)
	for i, sh := range all {
		assert.Equal(t, s.wants[sh], texts[i], "%v: look at it, then run with -update", sh)
	}
}

// TestStatesDiffer: what the screens are of can be read on them.
func TestStatesDiffer(t *testing.T) {
	says := map[string][]string{
		"calm":   {"27", "PAUSED"},
		"medium": {"NOT ACKNOWLEDGED", "output-imbalance", "m3"},
		"high":   {"NOT ACKNOWLEDGED", "rising-oscillation", "roll"},
		"stale":  {"NOT ACKNOWLEDGED", "stale-link", "OLD"},
		"paused": {"sound paused", "rising-oscillation"},
	}
	for _, sh := range shots() {
		text, err := os.ReadFile(screenFile(root, sh))
		require.NoError(t, err)
		require.NotEmpty(t, says[sh.name])
		for _, word := range says[sh.name] {
			assert.Contains(t, string(text), word, "%v", sh)
		}
	}
}
