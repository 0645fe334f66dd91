package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/simulator"
)

// Where clocks are alike and hello tells who is where, check says the same of it as a
// desk alone: what its relay hands on has the boot numbers.
func TestSwapsKnownByBootsAreTheSameAtARelay(t *testing.T) {
	t.Parallel()
	sc, err := simulator.Load("gains-high")
	require.NoError(t, err)
	path := swapFrom(t, writeTwin(t, sc, twin{tags: "load,temp,pack", ahead: alikeAhead, ppm: 70}), 3, false)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	var out strings.Builder
	from, now := "", 0.0
	for l := range strings.Lines(string(text)) {
		_, _ = fmt.Sscanf(l, "#at %f", &now)
		if strings.HasPrefix(l, "#bridge ") {
			from = l[8:9]
		}
		if f := strings.Split(strings.SplitN(l, "*", 2)[0], ","); f[0] == "hello" {
			f[4] = map[bool]string{true: "77", false: "99"}[(from == "1") == (now < 3)]
			l = string(sealedLine(strings.Join(f, ",")))
		}
		out.WriteString(l)
	}
	path = filepath.Join(t.TempDir(), "boots.bell")
	require.NoError(t, os.WriteFile(path, []byte(out.String()), 0o600))
	events, d := judgedTwin(t, path)
	alone, one := judgedAlone(t, path)
	assert.Equal(t, alone, events)
	assert.Equal(t, one.bridgeLines(), d.bridgeLines())
	assert.Equal(t, one.cableLines(), d.cableLines())
	assert.Contains(t, strings.Join(one.bridgeLines(), "\n"), "stand carries what nose did")
}
