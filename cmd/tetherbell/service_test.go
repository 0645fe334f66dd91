package main

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The example of a service starts us with a command that we take, without a
// screen, and with a recording.
func TestServiceCommand(t *testing.T) {
	text, err := os.ReadFile("../release/share/tetherbell-watch.service")
	require.NoError(t, err)
	start := regexp.MustCompile(`(?m)^ExecStart=/usr/local/bin/tetherbell (.*)$`).FindSubmatch(text)
	require.NotNil(t, start)
	cmd, args, err := newRoot(&console{}).Find(strings.Fields(string(start[1])))
	require.NoError(t, err)
	require.Equal(t, "watch", cmd.Name())
	require.NoError(t, cmd.ParseFlags(args))
	assert.NoError(t, cmd.ValidateArgs(cmd.Flags().Args()))
	assert.Equal(t, []string{"/dev/bench-bridge"}, cmd.Flags().Args())
	assert.Equal(t, "true", cmd.Flag("plain").Value.String())
	state := regexp.MustCompile(`(?m)^StateDirectory=(.*)$`).FindSubmatch(text)
	require.NotNil(t, state)
	assert.Equal(t, "/var/lib/"+string(state[1]), cmd.Flag("record").Value.String())
}
