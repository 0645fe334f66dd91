package dashboard

import (
	"strings"
	"testing"
	"unicode/utf8"

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

// No word of the lists is cut at the edge, whatever the width: a letter that is
// missing is not seen.
func TestListsKeepWithinTheirWidth(t *testing.T) {
	for _, st := range states() {
		f := st.frame()
		if f.Snap == nil {
			continue
		}
		f.Status.Sights = ailing().Status.Sights
		for i := range f.Status.Sights {
			f.Status.Sights[i].Action = "shorten it, tie the ground of both ends, lead it away from motors and pack"
		}
		for w := 40; w <= 160; w++ {
			for _, line := range listLines(f, newLook(256, false), w) {
				require.LessOrEqual(t, utf8.RuneCountInString(strings.TrimRight(line.text, " ")), w, "%s at %d: %s", st.name, w, line.text)
				require.False(t, w >= 60 && strings.HasSuffix(line.text, cutMark), "%s at %d: %s", st.name, w, line.text)
			}
		}
	}
}

// The cautions are whole words at every size, end with what is missing marked, and
// always say how one goes on.
func TestCautionsFit(t *testing.T) {
	words := map[string]bool{"...": true}
	for _, w := range strings.Fields(strings.Join(cautions, " ")) {
		words[w] = true
	}
	for w := 40; w <= 200; w += 4 {
		for h := 3; h <= 40; h++ {
			s := newStrict(t, w, h)
			drawCautions(pane{s: s, look: newLook(256, false), w: w, h: h})
			title, text, _ := strings.Cut(picture(s), "\n")
			s.Fini()
			before, _, below := strings.Cut(text, "Any key goes on.")
			require.True(t, below || strings.Contains(title, "any key goes on"), "%dx%d\n%s", w, h, text)
			got := strings.Fields(before)
			for _, word := range got {
				require.True(t, words[word], "%dx%d: %q", w, h, word)
			}
			require.True(t, got[len(got)-1] == "..." || got[len(got)-1] == "required.", "%dx%d\n%s", w, h, text)
		}
	}
	s := newStrict(t, 60, 11)
	defer s.Fini()
	drawCautions(pane{s: s, look: newLook(256, false), w: 60, h: 11})
	require.Contains(t, picture(s), "required.", "the whole of it at sixty columns")
}

// TestAMomentHasNoValueOfNow: what a restart or a swap of cables ended is told as
// what was before it, not as a value against a limit.
func TestAMomentHasNoValueOfNow(t *testing.T) {
	a := alarms.AlarmView{Kind: detect.StaleLink, Value: 15.801, Limit: 0.3, Story: detect.Story{Text: "the bridge restarted", Unit: "s", Before: true}}
	l := newLook(256, false)
	got := storyText(&a, l)
	assert.Contains(t, got, "silent for 15.8 s before it")
	assert.NotContains(t, got, "limit")
	a.Value = 0
	assert.NotContains(t, storyText(&a, l), "silent")
	a.Story.Before, a.Value = false, 0.4
	assert.Contains(t, storyText(&a, l), "value 0.400 s, limit 0.300 s")
}
