package dashboard

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// TestListsOfWhatDisagrees: the lists tell where craft file and bridge differ
// and which promised streams never came, and say nothing of it otherwise.
func TestListsOfWhatDisagrees(t *testing.T) {
	words := func(f *Frame) string {
		var b strings.Builder
		for _, l := range listLines(f, &look{}, 80) {
			b.WriteString(l.text + "\n")
		}
		return b.String()
	}
	f := benchFrame()
	assert.NotContains(t, words(f), "DISAGREE")
	f.Snap.Disagree = []string{"craft file says 14 magnet poles, the bridge 12: the file is used"}
	f.Snap.Absent = []alarms.Lack{{Name: "temp", Why: "the craft file promises temp lines, none came"}}
	got := words(f)
	assert.Contains(t, got, "CRAFT FILE AND BRIDGE DISAGREE\n  craft file says 14 magnet poles, the bridge 12: the file is used\n")
	assert.Contains(t, got, "  temp (the craft file promises temp lines, none came)\n")
	f.Snap.T = 1_000_000
	assert.NotContains(t, words(f), "promises", "too early to tell")
}

// TestOnlyADangerousIdleMarksTheIdle: another slip's value is no idle.
func TestOnlyADangerousIdleMarksTheIdle(t *testing.T) {
	f := benchFrame()
	for p, want := range map[detect.Priority]bool{detect.Note: false, detect.Low: false, detect.Medium: true, detect.High: true} {
		f.Snap.Alarms = []alarms.AlarmView{{Kind: detect.SettingsSlip, Where: detect.Craft, Priority: p, Active: true, Value: 10}}
		value, level, up := slippedIdle(f.Snap)
		assert.Equal(t, want, up, p)
		assert.Equal(t, want, value == 10 && level == p, p)
	}
}

// TestDataIsNotCalledGood: what comes must be all that the alarms live on, whole,
// and of now.
func TestDataIsNotCalledGood(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(s *alarms.Snapshot)
		want   string
	}{
		{"all of it", func(*alarms.Snapshot) {}, "data good"},
		{"rates stay away", func(s *alarms.Snapshot) { s.Streams[decode.Axes].Last -= 1_200_000 }, "DATA LACKS axes"},
		{"outputs never came", func(s *alarms.Snapshot) { s.Streams[decode.Out] = detect.Stream{} }, "DATA LACKS out"},
		{"only hello", func(s *alarms.Snapshot) {
			h := s.Streams[decode.Hello]
			s.Streams = [decode.TagCount]detect.Stream{decode.Hello: h}
		}, "DATA LACKS state"},
		{"spoilt", func(s *alarms.Snapshot) { s.BadShare = 0.06 }, "DATA POOR: bad+lost 6.0 %"},
		{"silent for a moment", func(s *alarms.Snapshot) { s.SilentUS = 400_000 }, "DATA POOR: silent 0.4 s"},
		{"a value hangs", func(s *alarms.Snapshot) {
			s.Alarms = []alarms.AlarmView{{Kind: detect.FrozenSensor, Where: detect.Roll, Priority: detect.Medium, Active: true}}
		}, "DATA POOR: frozen-sensor"},
		{"a tag is written wrongly", func(s *alarms.Snapshot) { *s = *misnamed().Snap }, "DATA LACKS axes (axis: is axes meant?)"},
		{"silent", func(s *alarms.Snapshot) { s.SilentUS = 1_400_000 }, "OLD: 1.4 s"},
	} {
		f := benchFrame()
		c.change(f.Snap)
		s := newStrict(t, 80, 24)
		still(f).Draw(s)
		row := strings.Split(picture(s), "\n")[8]
		require.True(t, strings.HasPrefix(row, " "+c.want), "%s: %s", c.name, row)
		s.Fini()
	}
}
