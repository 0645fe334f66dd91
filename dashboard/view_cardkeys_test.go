package dashboard

import (
	"strings"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/tview"
	"github.com/stretchr/testify/require"
)

// TestTickNeedsTimeToRead: a step counts as seen once it has stood on the screen
// for a second, and once for each press.
func TestTickNeedsTimeToRead(t *testing.T) {
	for name, c := range map[string]struct {
		every  time.Duration // from press to press
		times  int
		click  bool
		hide   bool // the help page is opened and closed before each press
		ticked int
	}{
		"held down, thirty a second for 3 s": {every: 33 * time.Millisecond, times: 90},
		"three times within 180 ms":          {every: 60 * time.Millisecond, times: 3},
		"pressed as soon as it came":         {every: 900 * time.Millisecond, times: 1},
		"once in 1.1 s":                      {every: 1100 * time.Millisecond, times: 4, ticked: 4},
		"clicked once in 1.1 s":              {every: 1100 * time.Millisecond, times: 4, click: true, ticked: 4},
		"clicked thrice within 180 ms":       {every: 60 * time.Millisecond, times: 3, click: true},
		"behind the help page meanwhile":     {every: 1100 * time.Millisecond, times: 3, hide: true},
	} {
		t.Run(name, func(t *testing.T) {
			s := newStrict(t, 80, 24)
			defer s.Fini()
			b := still(benchFrame())
			now := b.now()
			b.now = func() time.Time { return now }
			b.card = true
			step, ticked := 0, 0
			b.act = func(a Act) { ticked++; step++ }
			show := func() {
				f := benchFrame()
				f.Card = cardView(t, min(step, 4)) // all of these are a person's
				b.show(f)
				b.Draw(s)
			}
			show()
			for range c.times {
				now = now.Add(c.every)
				if c.hide {
					b.help = true
					b.Draw(s)
					b.help = false
				}
				show()
				if c.click {
					x, y := findText(s, "yes, seen")
					b.click(tview.MouseLeftDown, tcell.NewEventMouse(x, y, tcell.Button1, tcell.ModNone))
				} else {
					b.press(tcell.NewEventKey(tcell.KeyRune, 'y', tcell.ModNone))
				}
				show()
			}
			require.Equal(t, c.ticked, ticked)
		})
	}
}

// TestHeldKeyNeverRunsThroughTheCard: after one step has been ticked, a key that
// stays down ticks no other.
func TestHeldKeyNeverRunsThroughTheCard(t *testing.T) {
	s := newStrict(t, 80, 24)
	defer s.Fini()
	b := still(benchFrame())
	now := b.now()
	b.now = func() time.Time { return now }
	b.card = true
	step := 0
	b.act = func(Act) { step++ }
	for i := range 300 { // nine seconds of thirty a second, after 1.2 s of reading
		f := benchFrame()
		f.Card = cardView(t, min(step, 4))
		b.show(f)
		b.Draw(s)
		now = now.Add(map[bool]time.Duration{true: 1200, false: 30}[i == 0] * time.Millisecond)
		b.press(tcell.NewEventKey(tcell.KeyRune, 'y', tcell.ModNone))
	}
	require.Equal(t, 1, step)
}

// findText is where a text stands on the screen.
func findText(s tcell.SimulationScreen, text string) (x, y int) {
	for y, line := range strings.Split(picture(s), "\n") {
		if at := strings.Index(line, text); at >= 0 {
			return len([]rune(line[:at])), y
		}
	}
	return -1, -1
}

// TestCutStepTakesNoTick: on any screen a tick counts only where all words of the
// step are on it, and on one of 80x16 there is room for each.
func TestCutStepTakesNoTick(t *testing.T) {
	refused := 0
	for _, size := range [][2]int{{200, 60}, {80, 24}, {80, 16}, {80, 12}, {80, 10}, {80, 8}, {60, 10}, {40, 24}, {40, 12}, {34, 20}, {28, 20}, {20, 24}, {20, 6}} {
		for step := range 16 {
			s := newStrict(t, size[0], size[1])
			f := benchFrame()
			f.Card = cardView(t, step)
			f.Card.TickID = f.Card.Steps[step].ID
			b := still(f)
			b.card = true
			acts := 0
			b.act = func(Act) { acts++ }
			b.Draw(s)
			now := b.now().Add(takeIn)
			b.now = func() time.Time { return now }
			b.press(tcell.NewEventKey(tcell.KeyRune, 'y', tcell.ModNone))
			words := strings.Join(strings.Fields(picture(s)), " ")
			whole := true
			for w := range strings.FieldsSeq(f.Card.Steps[step].Say) {
				whole = whole && strings.Contains(words, w)
			}
			require.True(t, acts == 0 || whole, "step %d at %v", step+1, size)
			if acts == 0 {
				refused++
			}
			if size[0] >= 80 && size[1] >= 16 {
				require.Equal(t, 1, acts, "step %d at %v: there is room", step+1, size)
			}
			s.Fini()
		}
	}
	require.Positive(t, refused)
}
