package main

import (
	"fmt"
	"hash/crc32"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode/craft"
)

// TestDeskTellsWhatLeftTheWatch: lift becomes an empty field while armed. It is
// told once, with when, and stands in the verdict; so does that no hello came.
func TestDeskTellsWhatLeftTheWatch(t *testing.T) {
	d := newDesk(craft.Craft{Motors: 4, MassG: 655}, 0, nil, nil)
	var told []string
	d.lapsed = func(_ int64, text string) { told = append(told, text) }
	seq := 0
	line := func(us int, body string) {
		text := fmt.Sprintf(body, seq, us)
		d.line(fmt.Appendf(nil, "%s*%08X", text, crc32.Checksum([]byte(text), castagnoli)))
		seq++
	}
	for us := 0; us < 15_000_000; us += 50_000 {
		line(us, "state,%d,%d,1,0,1,0.3,0,0,0,1")
		line(us, "out,%d,%d,0.3,0.3,0.3,0.3")
		lift := "load,%d,%d,2.5"
		if us >= 10_000_000 {
			lift = "load,%d,%d,"
		}
		line(us, lift)
	}
	d.finish()
	require.Zero(t, d.bad)
	require.Len(t, told, 3)
	assert.Contains(t, told[0], "no hello")
	assert.Regexp(t, `^armed with [0-9]+ of 27 kinds of alarm not watched: rising-oscillation, `, told[1])
	assert.Regexp(t, `^not watched any more since 10\.\d s: .*near-lift.* \(load lines come, but lift in them is empty\)$`, told[2])
	sum := d.eng.Summary()
	lines := d.verdict("x", &sum)
	assert.Contains(t, lines, "  "+told[0])
	all := strings.Join(lines, "\n")
	assert.Regexp(t, `(?m)^  not watched: .*near-lift since 10\.\d s.* \(load lines come, but lift in them is empty\)$`, all)
	assert.Equal(t, 1, strings.Count(all, "near-lift"), "one thing is told once: %s", all)
	assert.NotContains(t, all, "armed with", "the verdict has it as not watched")
}
