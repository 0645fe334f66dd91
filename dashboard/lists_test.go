package dashboard

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
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
	assert.Contains(t, got, "  temp: the craft file promises temp lines, none came\n")
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
