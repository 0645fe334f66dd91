package dashboard

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/tview"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// TestCautionsGiveWay: they stand until a key or until they had time to be
// read, armed or not; only an alarm that asks for action takes their place.
func TestCautionsGiveWay(t *testing.T) {
	const words = "propellers off"
	f := benchFrame()
	now := fixedTime
	fresh := func() *board {
		b := still(f)
		b.cautioned, b.now = false, func() time.Time { return now }
		b.opened = now
		return b
	}
	draw := func(b *board) string {
		s := newStrict(t, 80, 24)
		defer s.Fini()
		b.show(f)
		b.since = now
		b.Draw(s)
		return picture(s)
	}
	b := fresh()
	require.Contains(t, draw(b), words, "though armed")
	b.press(tcell.NewEventKey(tcell.KeyRune, 'x', tcell.ModNone))
	require.NotContains(t, draw(b), words)

	b = fresh()
	now = now.Add(7900 * time.Millisecond)
	require.Contains(t, draw(b), words)
	now = now.Add(100 * time.Millisecond)
	require.NotContains(t, draw(b), words)

	a := imbalance()
	for _, c := range []struct {
		level  detect.Priority
		active bool
		stand  bool
	}{{detect.Low, true, true}, {detect.High, false, true}, {detect.Medium, true, false}, {detect.High, true, false}} {
		a.Priority, a.Active = c.level, c.active
		f.Snap.Alarms = []alarms.AlarmView{a}
		b = fresh()
		require.Equal(t, c.stand, strings.Contains(draw(b), words), "%v", c)
		f.Snap.Alarms = nil
		require.Equal(t, c.stand, strings.Contains(draw(b), words), "they do not come back: %v", c)
	}
}

// TestAcknowledgeOnlyWhatWasSeen: an alarm that came after the last picture is
// not acknowledged by a key.
func TestAcknowledgeOnlyWhatWasSeen(t *testing.T) {
	var acts []Act
	f := benchFrame()
	f.Snap.Alarms = append(f.Snap.Alarms, imbalance())
	b := still(f)
	b.act = func(a Act) { acts = append(acts, a) }
	s := newStrict(t, 80, 24)
	defer s.Fini()
	b.Draw(s)
	g := benchFrame()
	g.Snap.Alarms = append(g.Snap.Alarms, oscillation(), imbalance())
	b.show(g)
	later(b, seenAfter)
	b.press(tcell.NewEventKey(tcell.KeyEnter, 0, tcell.ModNone))
	require.Equal(t, []Act{{Kind: Acknowledge, Alarm: detect.OutputImbalance, Where: detect.M3}}, acts)
}

// later moves a board's clock on.
func later(b *board, by time.Duration) {
	at := b.now().Add(by)
	b.now = func() time.Time { return at }
}

// TestAcknowledgeTakesTime: what has just come, or just become worse, is not what
// the hand went for; nor is anything that a screen is too small to name.
func TestAcknowledgeTakesTime(t *testing.T) {
	for name, c := range map[string]struct {
		w, h   int
		change func(a *alarms.AlarmView) // half of the time in
		after  time.Duration             // from then on
		want   int
	}{
		"at once":           {80, 24, nil, 0, 0},
		"just before":       {80, 24, nil, seenAfter - seenAfter/2 - 1, 0},
		"in time":           {80, 24, nil, seenAfter - seenAfter/2, 1},
		"worse meanwhile":   {80, 24, func(a *alarms.AlarmView) { a.Priority = detect.High }, seenAfter - 1, 0},
		"worse, and seen":   {80, 24, func(a *alarms.AlarmView) { a.Priority = detect.High }, seenAfter, 1},
		"another happening": {80, 24, func(a *alarms.AlarmView) { a.Since++ }, seenAfter - 1, 0},
		"small":             {40, 12, nil, seenAfter, 1},
		"too small":         {39, 12, nil, seenAfter, 0},
	} {
		f := benchFrame()
		f.Snap.Alarms = append(f.Snap.Alarms, imbalance())
		b, n := still(f), 0
		b.act = func(Act) { n++ }
		s := newStrict(t, c.w, c.h)
		b.Draw(s)
		if name != "at once" {
			later(b, seenAfter/2)
		}
		if c.change != nil {
			c.change(&f.Snap.Alarms[0])
		}
		b.Draw(s)
		later(b, c.after)
		b.press(tcell.NewEventKey(tcell.KeyRune, 'a', tcell.ModNone))
		require.Equal(t, c.want, n, name)
		s.Fini()
	}
}

// TestClickLeavesTheCautionsOnly: it was meant for the page.
func TestClickLeavesTheCautionsOnly(t *testing.T) {
	f := benchFrame()
	f.Snap.Alarms = append(f.Snap.Alarms, low())
	b, n := still(f), 0
	b.act = func(Act) { n++ }
	b.cautioned, b.opened = false, b.now()
	s := newStrict(t, 80, 24)
	defer s.Fini()
	b.Draw(s)
	later(b, seenAfter)
	click := func() { b.click(tview.MouseLeftDown, tcell.NewEventMouse(5, 2, tcell.Button1, tcell.ModNone)) }
	click()
	require.True(t, b.cautioned)
	require.Zero(t, n)
	click()
	require.Equal(t, 1, n)
}

// TestAcknowledgeLeavesWhatHadNoRoom: what the banner only counts is not
// silenced unseen; the key once more takes it. All is acknowledged in the end.
func TestAcknowledgeLeavesWhatHadNoRoom(t *testing.T) {
	for _, size := range [][2]int{{40, 12}, {80, 24}, {100, 30}, {140, 45}, {200, 60}} {
		f := benchFrame()
		for i := range 8 {
			a := imbalance()
			a.Where = detect.Motor(i)
			f.Snap.Alarms = append(f.Snap.Alarms, a)
		}
		b := still(f)
		presses, named := 0, map[detect.Where]bool{}
		b.act = func(a Act) { named[a.Where] = true }
		for len(named) < 8 && presses < 9 {
			s := newStrict(t, size[0], size[1])
			b.since = b.now() // the frame is fresh
			b.Draw(s)
			text, shown := picture(s), worst(f.Snap.Alarms)
			s.Fini()
			before := len(named)
			later(b, seenAfter)
			b.press(tcell.NewEventKey(tcell.KeyEnter, 0, tcell.ModNone))
			presses++
			for i := range f.Snap.Alarms {
				a := &f.Snap.Alarms[i]
				if named[a.Where] && !a.Acknowledged {
					a.Acknowledged = true
					word := a.Where.String()
					require.True(t, i == shown || strings.Contains(text, word+" out"), "%v: %s was not named\n%s", size, word, text)
				}
			}
			require.Greater(t, len(named), before, "%v: nothing more was acknowledged\n%s", size, text)
		}
		require.Len(t, named, 8, "%v", size)
		if size[0] == 80 {
			require.Greater(t, presses, 1, "eight alarms have no room at once")
		}
	}
}

// TestLeavingTheCautionsAcknowledgesNothing: whoever presses a key to go on has
// not seen the alarm that took the page's place.
func TestLeavingTheCautionsAcknowledgesNothing(t *testing.T) {
	var acts []Act
	f := benchFrame()
	f.Snap.Alarms = append(f.Snap.Alarms, oscillation())
	now := fixedTime
	b := still(f)
	b.act, b.now, b.opened, b.cautioned = func(a Act) { acts = append(acts, a) }, func() time.Time { return now }, now, false
	enter := tcell.NewEventKey(tcell.KeyEnter, 0, tcell.ModNone)
	b.press(enter)
	require.Empty(t, acts, "the page stood there")
	b.cautioned = false
	s := newStrict(t, 80, 24)
	defer s.Fini()
	b.Draw(s) // the alarm takes its place
	b.press(enter)
	require.Empty(t, acts, "it has just gone")
	now = now.Add(takeIn)
	b.press(enter)
	require.Len(t, acts, 1)
}

// TestJournalScrolls: older entries come into view and the end is kept.
func TestJournalScrolls(t *testing.T) {
	f := benchFrame()
	for range 40 {
		f.Journal = append(f.Journal, Entry{Text: "later"})
	}
	b := still(f)
	s := newStrict(t, 80, 24)
	defer s.Fini()
	draw := func() string { s.Clear(); b.Draw(s); return picture(s) }
	require.NotContains(t, draw(), "first line, bridge")
	for range 9 {
		b.press(tcell.NewEventKey(tcell.KeyPgUp, 0, tcell.ModNone))
	}
	require.Contains(t, draw(), "first line, bridge")
	b.press(tcell.NewEventKey(tcell.KeyEnd, 0, tcell.ModNone))
	require.NotContains(t, draw(), "first line, bridge")
	require.Zero(t, b.back)
	b.press(tcell.NewEventKey(tcell.KeyHome, 0, tcell.ModNone))
	require.Contains(t, draw(), "first line, bridge")
	b.press(tcell.NewEventKey(tcell.KeyDown, 0, tcell.ModNone))
	require.NotContains(t, draw(), "first line, bridge", "one key goes on from there")
	b.view = viewJournal
	b.press(tcell.NewEventKey(tcell.KeyHome, 0, tcell.ModNone))
	require.Contains(t, draw(), "first line, bridge")
	require.Less(t, b.back, len(f.Journal)-5, "the oldest page is a whole one")
}

// TestWheelAndLists: the wheel scrolls what is in view, and a click on an
// alarm in the lists acknowledges that one alone.
func TestWheelAndLists(t *testing.T) {
	var acts []Act
	f := benchFrame()
	f.Snap.Alarms = append(f.Snap.Alarms, oscillation(), imbalance())
	b := still(f)
	b.act = func(a Act) { acts = append(acts, a) }
	s := newStrict(t, 80, 24)
	defer s.Fini()
	b.press(tcell.NewEventKey(tcell.KeyRune, '6', tcell.ModNone))
	require.Equal(t, viewAll, b.view)
	b.Draw(s)
	for y := range 24 { // the head line of the second alarm
		row := ""
		for x := range 80 {
			str, _, _ := s.Get(x, y)
			row += str
		}
		if y > 7 && strings.Contains(row, "MEDIUM m3") {
			b.click(tview.MouseLeftDown, tcell.NewEventMouse(5, y, tcell.Button1, tcell.ModNone))
		}
	}
	require.Equal(t, []Act{{Kind: Acknowledge, Alarm: detect.OutputImbalance, Where: detect.M3}}, acts)
	b.click(tview.MouseScrollDown, tcell.NewEventMouse(5, 10, tcell.WheelDown, tcell.ModNone))
	require.Equal(t, 3, b.from)
}

// TestHelpOpensAndCloses: any key closes it, and a key that acts still acts.
func TestHelpOpensAndCloses(t *testing.T) {
	left := 0
	var acts []Act
	f := benchFrame()
	f.Snap.Armed = detect.No
	b := still(f)
	b.quit = func() { left++ }
	b.act = func(a Act) { acts = append(acts, a) }
	press := func(r rune) { b.press(tcell.NewEventKey(tcell.KeyRune, r, tcell.ModNone)) }
	press('?')
	require.True(t, b.help)
	press('?')
	require.False(t, b.help)
	press('h')
	press('q')
	require.False(t, b.help)
	require.Zero(t, left, "q closes the page, no more")
	press('h')
	press('m')
	require.False(t, b.help)
	require.Len(t, acts, 1)
	press('q')
	require.Equal(t, 1, left)
}

// TestEveryKeyOnce: no key stands in two rows of the table.
func TestEveryKeyOnce(t *testing.T) {
	runes, keys := map[rune]bool{}, map[tcell.Key]bool{}
	for _, k := range keyTable() {
		require.NotNil(t, k.do)
		for _, r := range k.runes {
			require.False(t, runes[r], "%c", r)
			runes[r] = true
		}
		for _, c := range k.keys {
			require.False(t, keys[c], "%v", c)
			keys[c] = true
		}
	}
}

// TestViews: the numbers open the views, v and Tab go on to the next, Escape
// goes back to the first, and a click on a name opens it.
func TestViews(t *testing.T) {
	b := still(benchFrame())
	for v := range viewCount {
		b.press(tcell.NewEventKey(tcell.KeyRune, '1'+rune(v), tcell.ModNone))
		require.Equal(t, v, b.view)
	}
	b.press(tcell.NewEventKey(tcell.KeyEscape, 0, tcell.ModNone))
	require.Equal(t, viewNearest, b.view)
	for i := range viewCount {
		require.Equal(t, i, b.view)
		b.press(tcell.NewEventKey(tcell.KeyTab, 0, tcell.ModNone))
	}
	require.Equal(t, viewNearest, b.view, "round")
	s := newStrict(t, 80, 24)
	defer s.Fini()
	b.Draw(s)
	row := strings.Split(picture(s), "\n")[9]
	x := utf8.RuneCountInString(row[:strings.Index(row, "motors")])
	b.click(tview.MouseLeftDown, tcell.NewEventMouse(x, 9, tcell.Button1, tcell.ModNone))
	require.Equal(t, viewMotors, b.view)
}

// TestJournalWords: an event becomes one line of plain words.
func TestJournalWords(t *testing.T) {
	e := alarms.Event{T: 1, Kind: detect.RisingOscillation, Change: alarms.Raised, Priority: detect.High,
		Where: detect.Pitch, First: true, Story: oscillation().Story}
	require.Equal(t, "raised rising-oscillation pitch (first): "+e.Story.Text, FromEvent(&e).Text)
	e.Change, e.First = alarms.Cleared, false
	require.Equal(t, Entry{T: 1, Priority: detect.High, Text: "cleared rising-oscillation pitch"}, FromEvent(&e))
}

// TestBlindIsNoted: the key that acknowledges ends the sound of lines that ended
// with an armed craft.
func TestBlindIsNoted(t *testing.T) {
	f := benchFrame()
	f.Status.Ended, f.Status.Blind = true, true
	f.Snap.Alarms = append(f.Snap.Alarms, oscillation())
	b := still(f)
	var acts []Act
	b.act = func(a Act) { acts = append(acts, a) }
	s := newStrict(t, 80, 24)
	defer s.Fini()
	b.Draw(s)
	b.press(tcell.NewEventKey(tcell.KeyRune, 'a', tcell.ModNone))
	require.Equal(t, []Act{{Kind: PauseSound, Seconds: pauseSeconds}}, acts)
}
