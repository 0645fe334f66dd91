package dashboard

import (
	"testing"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
)

func drilling(change func(*Frame, *Drill)) func() *Frame {
	return with(func(f *Frame) {
		d := &Drill{Attempt: 3, Of: 12, Elapsed: 14.3}
		f.Status = Status{Source: "drill", Port: "replay", Sound: "audio: sound server", Replay: true, Speed: 1, Drill: d}
		change(f, d)
	})
}

// drillStates are the screens of a drill.
func drillStates() []state {
	ring := []alarms.AlarmView{oscillation(), imbalance()}
	return []state{
		{"drill", drilling(func(f *Frame, _ *Drill) { f.Snap.Alarms = ring }), nil},
		{"drill-calm", drilling(func(*Frame, *Drill) {}), nil},
		{"drill-off", drilling(func(_ *Frame, d *Drill) { d.AlarmsOff = true }), nil},
		{"drill-fast", drilling(func(f *Frame, _ *Drill) { f.Status.Speed = 4 }), func(b *board) { b.view = viewAll }},
		{"drill-help", drilling(func(*Frame, *Drill) {}), func(b *board) { b.help = true }},
		{"drill-begin", drilling(func(_ *Frame, d *Drill) {
			d.Attempt = 1
			d.Page = &DrillPage{Head: "DRILL", Order: "12 RECORDINGS", Text: "watch each as you would watch the bench", Next: "begins",
				Lines: []string{"Space is the stop switch: press it when you would stop.", "", "Some of the recordings are of a sound craft: there the right answer is not to stop."}}
		}), nil},
		{"drill-late", drilling(func(f *Frame, d *Drill) {
			f.Snap.Alarms, f.Status.Ended, f.Status.Paused = ring, true, true
			d.Page = &DrillPage{Wrong: true, Head: "LATE", Order: "1.2 s PAST THE LIMIT", Next: "next recording",
				Text: "you stopped at 14.30 s, 3.06 s after the alarm", More: "the last moment in time was 13.10 s",
				Lines: []string{"   10.02 s  the evidence began", "   11.24 s  the alarm", "   13.10 s  the limit", "   14.30 s  your stop", "",
					"what was to be seen: roll oscillates at 14.2 Hz, 0.038 of full output, and grows: 1.4 s to the limit, perhaps 0.5 s",
					"likely cause: roll gains too high", "first action: cut throttle",
					"lesson: roll gains far too high: the shake grows with the throttle; cut it at the first sign, then halve the gains"}}
		}), nil},
		{"drill-right", drilling(func(_ *Frame, d *Drill) {
			d.Page = &DrillPage{Head: "RIGHT", Order: "LET IT RUN", Text: "nothing was wrong, and you did not stop", Next: "next recording",
				Lines: []string{"lesson: a sound craft"}}
		}), nil},
	}
}

// TestDrillKeys: the stop counts wherever a recording runs, whatever is in view,
// and going on is another key.
func TestDrillKeys(t *testing.T) {
	var acts []Act
	quit := false
	press := func(b *board, k tcell.Key, r rune) []Act {
		acts, quit = nil, false
		b.act, b.quit = func(a Act) { acts = append(acts, a) }, func() { quit = true }
		b.press(tcell.NewEventKey(k, r, tcell.ModNone))
		return acts
	}
	running := drilling(func(f *Frame, _ *Drill) { f.Snap.Alarms = []alarms.AlarmView{oscillation()} })
	page := drilling(func(_ *Frame, d *Drill) { d.Page = &DrillPage{Head: "IN TIME", Next: "next"} })
	stop, next := []Act{{Kind: DrillStop}}, []Act{{Kind: DrillNext}}
	for name, turn := range map[string]func(*board){
		"bench": func(*board) {}, "lists": func(b *board) { b.view = viewAll }, "help": func(b *board) { b.help = true },
		"cautions": func(b *board) { b.cautioned = false },
	} {
		b := still(running())
		turn(b)
		require.Equal(t, stop, press(b, tcell.KeyRune, ' '), name)
		b = still(page())
		turn(b)
		require.Empty(t, press(b, tcell.KeyRune, ' '), name)
		b = still(page())
		turn(b)
		want := next
		if name == "help" {
			want = nil // it closes that; below the cautions stands that Enter begins
		}
		require.Equal(t, want, press(b, tcell.KeyEnter, 0), name)
		require.True(t, b.cautioned, name)
	}
	b := still(page())
	b.cautioned, b.broken = true, b.now() // they went by themselves a moment ago
	require.Equal(t, next, press(b, tcell.KeyEnter, 0))
	b.cautioned = false
	require.Empty(t, press(b, tcell.KeyRune, 'x'), "any other key only closes them")
	require.True(t, b.cautioned)
	for _, r := range "[]jk+-.<>l" {
		assert.Empty(t, press(still(running()), tcell.KeyRune, r), "%c would cheat", r)
	}
	assert.Empty(t, press(still(running()), tcell.KeyRight, 0))
	press(still(running()), tcell.KeyRune, 'q')
	assert.True(t, quit)
}

// TestDrillOffShowsNoAlarm: whatever the snapshot says.
func TestDrillOffShowsNoAlarm(t *testing.T) {
	f := drilling(func(f *Frame, d *Drill) { d.AlarmsOff, f.Snap.SilentUS, f.Status.Ended = true, 9_000_000, true })()
	b := bulletinOf(f, &look{}, 0)
	assert.Equal(t, "DRILL", b.head)
	assert.False(t, b.isAlarm)
	assert.Empty(t, b.others)
	old := bulletinOf(drilling(func(_ *Frame, d *Drill) { d.AlarmsOff = true })(), &look{}, 2*oldPicture)
	assert.Equal(t, "OLD PICTURE", old.head, "but that the monitor stands still is said")
}
