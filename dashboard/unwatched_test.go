package dashboard

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// misnamed is a bench whose bridge writes axis in the place of axes.
func misnamed() *Frame {
	f := benchFrame()
	s := f.Snap
	s.Odd = []alarms.OddTag{{Name: "axis", Meant: decode.Axes, First: 20_000, Stream: s.Streams[decode.Axes]}}
	s.Streams[decode.Unknown] = detect.Stream{Count: s.Streams[decode.Axes].Count, Last: s.T}
	s.Streams[decode.Axes] = detect.Stream{}
	for _, k := range []detect.Kind{detect.TipOver, detect.RisingOscillation, detect.LowMargin, detect.ReversedResponse, detect.Windup, detect.ThrottleMismatch} {
		s.NotWatched = append(s.NotWatched, alarms.Lack{Name: k.String(), Why: "no axes lines, but axis: is axes meant?"})
	}
	s.NotWatched = append(s.NotWatched, alarms.Lack{Name: "over-current", Why: "no rated current in the craft file (rated_a)"})
	s.Reaches = slices.DeleteFunc(s.Reaches, func(r detect.Reach) bool { return r.Kind == detect.RisingOscillation })
	s.Axes, s.Throttle = [3]alarms.AxisView{}, detect.Reading{}
	s.Trails = [3][alarms.TrailLength]float32{}
	return f
}

// TestMainAlarmNotWatched: where the alarm that matters most cannot ring, the screen
// says so as large as it would say that it watches, with the reason and what to do
// first, over what matters less and beside what matters more.
func TestMainAlarmNotWatched(t *testing.T) {
	l := new(look)
	low := alarms.AlarmView{Kind: detect.RotorLine, Where: detect.Craft, Priority: detect.Low, Active: true}
	for _, c := range []struct {
		name   string
		change func(f *Frame)
		head   string
		order  string
	}{
		{"armed", func(*Frame) {}, "NOT WATCHED", "ARMED"},
		{"nobody knows whether", func(f *Frame) { f.Snap.Armed = detect.Unknown }, "NOT WATCHED", "ARMED?"},
		{"disarmed", func(f *Frame) { f.Snap.Armed = detect.No }, "NOT WATCHED", "DISARMED"},
		{"something low", func(f *Frame) { f.Snap.Alarms = []alarms.AlarmView{low} }, "NOT WATCHED", "ARMED"},
		{"in part", func(f *Frame) { f.Snap.NotWatched[1].Why = "over 25 Hz: the axes stream of 100 a second is too slow" }, "WATCHING", "CRAFT ARMED"},
		{"windows fill", func(f *Frame) { f.Snap.NotWatched[1].Why = "roll: its windows are filling" }, "WATCHING", "CRAFT ARMED"},
		{"something else left the watch", func(f *Frame) {
			f.Snap.Left = []alarms.Lack{{Name: "vibration-step", Why: "no axes lines, but axis: is axes meant?"}}
		}, "NOT WATCHED", "ARMED"},
		{"it listens yet", func(f *Frame) { f.Snap.T = 2_000_000 }, "LISTENING", "CRAFT ARMED"},
	} {
		f := misnamed()
		c.change(f)
		b := bulletinOf(f, l, 0)
		assert.Equal(t, c.head, b.head, c.name)
		assert.Equal(t, c.order, b.order, c.name)
		if c.head != "NOT WATCHED" {
			continue
		}
		assert.Equal(t, "rising-oscillation and 6 more: no axes lines, but axis: is axes meant?", b.text, c.name)
		assert.True(t, strings.HasPrefix(b.more, "first: "), c.name)
		assert.Contains(t, b.more, "name that tag axes in the bridge", c.name)
		assert.Equal(t, f.Snap.Armed != detect.No, b.level > 0, "%s: a craft that is armed takes edges", c.name)
	}
	f := misnamed()
	f.Snap.Alarms = []alarms.AlarmView{thrust()}
	b := bulletinOf(f, l, 0)
	assert.True(t, b.isAlarm)
	assert.Contains(t, b.urgent, aside{"RISING-OSCILLATION NOT WATCHED", l.chip(detect.Medium)})
	f.Snap.NotWatched = nil
	assert.Empty(t, bulletinOf(f, l, 0).urgent)
}

// TestMisnamedStreamInTheList: the tag has its own row, with its own rate and the
// question, and the lines of the whole link count it.
func TestMisnamedStreamInTheList(t *testing.T) {
	f := misnamed()
	rows := streamLines(f.Snap)
	assert.Regexp(t, `^  axis +500\.0/s  [0-9]+ lines, last 0\.0 s ago: not known, is axes meant\?$`, rows[0])
	for _, row := range rows {
		assert.NotContains(t, row, "unknown", "none is left over")
		assert.NotContains(t, row, " 0.0/s")
	}
	pace, _, _ := linkParts(f, new(look))
	whole, _, _ := linkParts(benchFrame(), new(look))
	assert.Equal(t, whole[0].text, pace[0].text)
	f.Snap.Streams[decode.Unknown].Count += 3
	assert.Regexp(t, `^  unknown +3 lines, last`, streamLines(f.Snap)[1])
}
