package main

import (
	"fmt"
	"hash/crc32"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
)

// summed is a body with the checksum that makes it a line, without its end.
func summed(body string) string {
	return fmt.Sprintf("%s*%08X", body, crc32.Checksum([]byte(body), crc32.MakeTable(crc32.Castagnoli)))
}

// TestWhyALineIsBad: the first bad line of each cause is shown, with what is
// wrong in it, and nothing of it reaches the terminal as it came.
func TestWhyALineIsBad(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{summed("load,3,2100000,4000"), "  bad: 2 lines out of range, first at 2.0 s: load_n: 4000 is over 2000; \"load,3,2100000,4000*"},
		{summed("temp,3,2100000,20,-50"), "  bad: 2 lines out of range, first at 2.0 s: temp_2: -50 is under -40; \"temp,"},
		{summed("load,3,2100000,nan"), "  bad: 2 lines with bad number, first at 2.0 s: load_n: nan; \"load,"},
		{summed("load,2100000,1"), "  bad: 2 lines with bad header, first at 2.0 s: seq: 2100000; \"load,"},
		{summed("hello,3,2100000,2,own,5"), "  bad: 2 lines: other version, first at 2.0 s: protocol: 2; \"hello,"},
		{"load,3,2100000,1", "  bad: 2 lines: no checksum, first at 2.0 s: \"load,3,2100000,1\""},
		{"load,3,\x1b[31m\xff", `  bad: 2 lines with bad byte, first at 2.0 s: "load,3,\x1b[31m\xff`},
		{strings.Repeat("x", 300), "  bad: 2 lines too long, first at 2.0 s: \"" + strings.Repeat("x", 60) + "..."},
		{summed("note,3,2100000,a*b"), "  bad: 2 lines with stray star, first at 2.0 s: \"note,"},
	} {
		d := newDesk(craft.Craft{}, 0, nil, nil)
		for i := range 201 {
			d.feed([]byte(summed(fmt.Sprintf("load,%d,%d,1", i, i*10_000)) + "\n"))
		}
		assert.Empty(t, d.badCauses())
		d.feed([]byte(c.line + "\n" + c.line + "\n"))
		got := d.badCauses()
		require.Len(t, got, 1, c.line)
		assert.True(t, strings.HasPrefix(got[0], c.want), "%q, want %q", got[0], c.want)
		assert.Contains(t, d.countCauses(), "2 ")
		s := alarms.Summary{Lines: 201}
		assert.Contains(t, strings.Join(d.verdict("f", &s), "\n"), c.want)
	}
}

// TestAlarmDoesNotBlameTheWire: where the bridge writes wrongly, and nothing else
// is seen, nobody is sent to the cable.
func TestAlarmDoesNotBlameTheWire(t *testing.T) {
	s := detect.Story{Action: "ease off; check cable, ground and baud", Cause: "lines damaged"}
	wrongly := detect.Seen{All: "two: bridge writes wrongly", Cause: "bridge writes wrongly", Whole: true, Action: "look how the bridge writes its lines"}
	assert.Equal(t, "ease off; look how the bridge writes its lines", s.Seen(wrongly).Action)
	assert.Equal(t, s.Action, s.Seen(detect.Seen{All: "held-up lines"}).Action)
}
