package dashboard

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/tview"
	"github.com/stretchr/testify/require"
)

func handFrame() *Frame {
	f := benchFrame()
	f.Status.Hands = &Hands{Throttle: 0.42, Roll: -0.06, Pitch: 0.06, Yaw: 0.06, Armed: true}
	return f
}

// TestHandKeys: the sticks answer where the bench is in view, the stop on
// every page, and no key does two things.
func TestHandKeys(t *testing.T) {
	var acts []Act
	press := func(b *board, k tcell.Key, r rune) []Act {
		acts = nil
		b.act = func(a Act) { acts = append(acts, a) }
		b.press(tcell.NewEventKey(k, r, tcell.ModNone))
		return acts
	}
	all := map[Hand][2]rune{HandStop: {0, ' '}, HandArm: {0, 'r'}, ThrottleZero: {0, '0'},
		NoseDown: {0, 'i'}, NoseUp: {0, 'K'}, YawLeft: {0, 'j'}, YawRight: {0, 'L'},
		ThrottleUp: {rune(tcell.KeyUp), 0}, ThrottleDown: {rune(tcell.KeyDown), 0},
		RollLeft: {rune(tcell.KeyLeft), 0}, RollRight: {rune(tcell.KeyRight), 0}}
	for h, c := range all {
		k := tcell.Key(c[0])
		if k == 0 {
			k = tcell.KeyRune
		}
		want := []Act{{Kind: MoveHand, Hand: h}}
		b := still(handFrame())
		require.Equal(t, want, press(b, k, c[1]), "bench, %d", h)
		require.Zero(t, b.back, "nothing scrolls")
		if h != HandStop {
			want = nil
		}
		for page, turn := range map[string]func(*board){
			"lists": func(b *board) { b.view = viewAll }, "help": func(b *board) { b.help = true },
			"cautions": func(b *board) { b.cautioned = false },
		} {
			b := still(handFrame())
			turn(b)
			require.Equal(t, want, press(b, k, c[1]), "%s, %d", page, h)
			require.True(t, b.cautioned)
			require.False(t, b.help)
		}
		require.Empty(t, press(still(benchFrame()), k, c[1]), "nobody is at the sticks, %d", h)
	}

	b := still(handFrame())
	b.view, b.from = viewAll, 5
	press(b, tcell.KeyDown, 0)
	require.Equal(t, 6, b.from, "lists scroll as ever")
	b = still(handFrame())
	b.leave()
	require.Len(t, press(b, tcell.KeyRune, ' '), 1)
	require.True(t, b.leaveUntil.IsZero(), "any other key stays")
}

// TestHandKeysClashWithNone: beside the arrows, which the lists keep, no key
// of the hand means something else in a live run.
func TestHandKeysClashWithNone(t *testing.T) {
	for _, h := range handTable() {
		for _, k := range keyTable() {
			if k.replay {
				continue
			}
			for _, r := range h.runes {
				require.NotContains(t, k.runes, string(r))
			}
			for _, c := range h.keys {
				require.True(t, c == tcell.KeyUp || c == tcell.KeyDown || !(&k).matches(tcell.NewEventKey(c, 0, tcell.ModNone)))
			}
		}
		require.LessOrEqual(t, len(h.help), 28, h.help)
	}
}

// TestHandLine: sticks and keys stand on one line from 80 columns on, and
// nothing falls outside of any screen.
func TestHandLine(t *testing.T) {
	draw := func(w, h int, charset string, change func(*Hands, *board)) string {
		s := newStrict(t, w, h)
		defer s.Fini()
		s.charset = charset
		b := still(handFrame())
		b.fail = func(err error) { t.Fatalf("%dx%d: %v", w, h, err) }
		change(b.frame.Status.Hands, b)
		b.Draw(s)
		return picture(s)
	}
	line := func(p string, h int) string { return strings.Split(p, "\n")[h-2] }
	none := func(*Hands, *board) {}
	require.Equal(t, "Space STOP r disarm ↑↓0 throttle 0.42 ←→ roll -0.06 ik pitch +0.06 jl yaw +0.06", line(draw(80, 24, "UTF-8", none), 24))
	require.Equal(t, 79, utf8.RuneCountInString(line(draw(80, 24, "UTF-8", none), 24)))
	require.Contains(t, line(draw(140, 45, "UTF-8", none), 45), "jl yaw +0.06")
	require.Contains(t, line(draw(80, 24, "US-ASCII", none), 24), "^v0 throttle 0.42 <> roll")
	for _, c := range []struct {
		change func(*Hands, *board)
		want   string
	}{
		{func(h *Hands, _ *board) { h.Armed = false }, "Space STOP r arm    ↑↓0"},
		{func(h *Hands, _ *board) { h.Stopped = true }, "STOPPED r disarm    ↑↓0"},
		{func(h *Hands, _ *board) { h.Armed, h.Stopped = false, true }, "Space release       ↑↓0"},
		{func(h *Hands, _ *board) { h.Say = "throttle\x1b to zero first" }, "Space STOP r disarm throttle to zero first"},
		{func(_ *Hands, b *board) { b.view = viewAll }, "Space STOP 1 goes back to the sticks"},
		{func(_ *Hands, b *board) { b.help = true }, "Space STOP any key goes on to the sticks"},
	} {
		require.Contains(t, line(draw(80, 24, "UTF-8", c.change), 24), c.want)
	}
	for w := 1; w <= 120; w += 7 {
		for h := 1; h <= 50; h += 5 {
			for _, c := range []func(*Hands, *board){none, func(_ *Hands, b *board) { b.help = true }, func(_ *Hands, b *board) { b.view = viewAll }} {
				draw(w, h, "UTF-8", c)
			}
		}
	}
	help := draw(80, 24, "UTF-8", func(_ *Hands, b *board) { b.help = true })
	for _, want := range []string{"STOP; when disarmed: let go", "nudge yaw", "PgUp PgDn", "leave; asks while armed", "stops no motor"} {
		require.Contains(t, help, want)
	}
}

// TestHandLineIsPressed: the mouse reaches the stop too.
func TestHandLineIsPressed(t *testing.T) {
	var acts []Act
	b := still(handFrame())
	b.act = func(a Act) { acts = append(acts, a) }
	b.now = func() time.Time { return fixedTime }
	s := newStrict(t, 80, 24)
	defer s.Fini()
	b.Draw(s)
	b.click(tview.MouseLeftDown, tcell.NewEventMouse(3, 22, tcell.Button1, tcell.ModNone))
	b.click(tview.MouseLeftDown, tcell.NewEventMouse(13, 22, tcell.Button1, tcell.ModNone))
	require.Equal(t, []Act{{Kind: MoveHand, Hand: HandStop}, {Kind: MoveHand, Hand: HandArm}}, acts)
}
