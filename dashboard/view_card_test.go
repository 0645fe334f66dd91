package dashboard

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/tview"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
)

// cardView is the built-in card, done up to a step. All figures are invented.
func cardView(t testing.TB, upTo int) *runcard.View {
	c, err := runcard.Load("first-run")
	require.NoError(t, err)
	v := &runcard.View{Name: c.Name, Title: c.Title, Current: upTo, Summary: fmt.Sprintf("%d of %d passed", upTo, len(c.Steps)), Lacking: "not done"}
	for i, s := range c.Steps {
		sv := runcard.StepView{ID: s.ID, Say: s.Say, Why: s.Why, IfFailed: s.IfNot(), Kind: s.Kind}
		switch {
		case i < upTo && s.Kind == runcard.Person:
			sv.State, sv.Text = runcard.Passed, "ticked"
		case i < upTo:
			sv.State, sv.Text = runcard.Passed, "mean output 0.080, set to 0.080; lift 0.03 of weight"
		case i == upTo:
			sv.State = runcard.Now
			v.SkipID, v.NoID = s.ID, s.ID
			if s.Kind == runcard.Person {
				v.TickID = s.ID
			}
		}
		v.Steps = append(v.Steps, sv)
	}
	return v
}

// cardStates are the pictures of a card.
func cardStates(t testing.TB) map[string]*runcard.View {
	tick := early(t)

	hands := cardView(t, 2)
	hands.TickID, hands.TickWaits, hands.StopFirst = "", "press stop first: the pack is in, 16.3 V", true
	hands.Steps[2].Text = hands.TickWaits

	going := cardView(t, 10)
	going.Steps[10].Text = "2.1 of 5.0 s"

	failed := cardView(t, 10)
	failed.Steps[10].State = runcard.Failed
	failed.Steps[10].Text = "rising-oscillation roll: roll oscillates at 14.0 Hz, 0.044 of full output, and grows: 2.0 s to the limit"
	failed.Steps[10].Do = failed.Steps[10].IfFailed
	failed.NoID, failed.AgainID = "", "higher"

	look := cardView(t, 16)
	look.Steps[14].State = runcard.ByEye
	look.Steps[14].Text = "motor temperatures are not measured: once all rotors stand unplug the pack, then feel each motor"
	look.Summary = "15 of 16 passed, 1 not ticked"
	look.TickID, look.NoID, look.SkipID = "warmth", "warmth", "warmth"

	done := cardView(t, 16)
	done.Ended, done.Summary, done.AgainID = true, "16 of 16 passed", "pack-out"
	done.Lacking, done.Outcome = "", "CARD PASSED: 16 of 16 passed"
	return map[string]*runcard.View{"tick": tick, "hands": hands, "going": going, "failed": failed, "look": look, "done": done}
}

// TestCardPictures compares the card and the bench's line of it.
func TestCardPictures(t *testing.T) {
	want := map[string][]string{
		"tick":   {"NOW", "straps", "pull at tether", "no tick yet: disarm first: rotors turn", "leave out", "DISARM: armed, but 4 steps"},
		"hands":  {"NOW", "straps", "no tick yet: press stop first: the pack is in, 16.3 V", "leave out"},
		"going":  {"higher", "2.1 of 5.0 s", "why: The loop's gain", "if not: cut throttle, disarm, keep clear until all rotors stand."},
		"failed": {"FAIL", "oscillates at 14.0 Hz", "do: cut throttle, disarm, keep clear until all rotors stand.", "once more"},
		"look":   {"LOOK", "feel each motor", "yes, seen"},
		"done":   {"CARD PASSED: 16 of 16 passed", "pack-out"},
	}
	for name, v := range cardStates(t) {
		for _, size := range [][2]int{{80, 24}, {140, 45}, {200, 60}} {
			t.Run(fmt.Sprintf("%s-%dx%d", name, size[0], size[1]), func(t *testing.T) {
				s := newStrict(t, size[0], size[1])
				defer s.Fini()
				f := benchFrame()
				f.Card = v
				if name == "look" || name == "hands" { // what was left to the eye is looked at after disarming
					f.Snap.Armed = detect.No
				}
				b := still(f)
				b.fail = func(err error) { t.Fatal(err) }
				b.Draw(s)
				got := picture(s) + "\n"
				require.Contains(t, got, "card ")
				b.card = true
				s.Clear()
				b.Draw(s)
				got += picture(s)
				for _, w := range want[name] {
					require.Contains(t, got, w)
				}
				file := filepath.Join("testdata", "card-"+t.Name()[len("TestCardPictures/"):]+".screen")
				if *update {
					require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
				}
				kept, err := os.ReadFile(file)
				require.NoError(t, err)
				require.Equal(t, string(kept), got)
			})
		}
	}
}

// TestCardFitsSmallScreens: no step is lost from sight where rows are few, and
// nothing is drawn outside.
func TestCardFitsSmallScreens(t *testing.T) {
	for _, charset := range []string{"UTF-8", "US-ASCII"} {
		for _, size := range [][2]int{{20, 6}, {40, 12}, {80, 24}, {80, 16}} {
			for step := range 16 {
				s := newStrict(t, size[0], size[1])
				s.charset = charset
				f := benchFrame()
				f.Card = cardView(t, step)
				b := still(f)
				b.fail = func(err error) { t.Fatal(err) }
				b.card = true
				b.Draw(s)
				if size[1] >= 16 {
					require.Contains(t, picture(s), " NOW ", "step %d at %v", step+1, size)
				}
				s.Fini()
			}
		}
	}
}

// TestCardKeys: a key acts on the step that the picture offered it for, with
// the mouse too, and does nothing without a card.
func TestCardKeys(t *testing.T) {
	s := newStrict(t, 80, 24)
	defer s.Fini()
	var acts []Act
	f := benchFrame()
	b := still(f)
	b.act = func(a Act) { acts = append(acts, a) }
	press := func(r rune) { b.press(tcell.NewEventKey(tcell.KeyRune, r, tcell.ModNone)) }
	b.Draw(s)
	for _, r := range "ynsuc" {
		press(r)
	}
	require.Empty(t, acts)
	require.False(t, b.card)

	f.Card = cardView(t, 2)
	b.Draw(s)
	press('y')
	require.Empty(t, acts, "a step that cannot be read whole is not ticked")
	require.True(t, b.card)
	now := b.now()
	b.now = func() time.Time { return now }
	b.Draw(s)
	now = now.Add(takeIn)
	for _, r := range "ynsu" { // nothing is there to be done again
		press(r)
	}
	want := []Act{
		{Kind: CardAct, Step: runcard.Tick, Text: "straps"},
		{Kind: CardAct, Step: runcard.No, Text: "straps"},
		{Kind: CardAct, Step: runcard.Skip, Text: "straps"},
	}
	require.Equal(t, want, acts)

	acts = nil
	now = now.Add(takeIn)
	for y := range 24 {
		for x := range 80 {
			if str, _, _ := s.Get(x, y); str == "y" {
				if next, _, _ := s.Get(x+3, y); next == "y" { // "y  yes, seen"
					b.click(tview.MouseLeftDown, tcell.NewEventMouse(x, y, tcell.Button1, tcell.ModNone))
				}
			}
		}
	}
	require.Contains(t, acts, want[0])

	acts = nil
	f.Card = early(t) // armed: the key is not there
	b.Draw(s)
	now = now.Add(takeIn)
	press('y')
	require.Empty(t, acts)
	require.NotContains(t, picture(s), "yes, seen")
}

// TestCardTicksOnlyWhatStandsThere: no key acts on a step that is out of sight,
// behind the help page, or on a picture that has no room for it.
func TestCardTicksOnlyWhatStandsThere(t *testing.T) {
	v := cardView(t, 2)
	v.Steps[15].State, v.TickID = runcard.ByEye, v.Steps[15].ID // far below
	for name, c := range map[string]struct {
		w, h int
		card *runcard.View
		open func(b *board)
	}{
		"out of sight": {80, 24, v, func(*board) {}},
		"behind help":  {80, 24, cardView(t, 2), func(b *board) { b.help = true }},
		"no room":      {20, 5, cardView(t, 2), func(*board) {}},
	} {
		s := newStrict(t, c.w, c.h)
		f := benchFrame()
		f.Card = c.card
		b := still(f)
		b.card = true
		b.act = func(a Act) { t.Errorf("%s: %+v", name, a) }
		c.open(b)
		b.Draw(s)
		now := b.now().Add(takeIn)
		b.now = func() time.Time { return now }
		b.press(tcell.NewEventKey(tcell.KeyRune, 'y', tcell.ModNone))
		s.Fini()
	}
}

// TestLongResultsAreShownWhole: what came of each step can be read to its end,
// with the arrows where the rows do not suffice.
func TestLongResultsAreShownWhole(t *testing.T) {
	const result = "the first touch of the stick raised least output from 0.080 by 0.020 (limit 0.10); lift by 0.03 of weight (limit 0.30) end"
	for name, c := range map[string]struct {
		state runcard.State
		upTo  int
	}{"passed": {runcard.Passed, 10}, "left out": {runcard.Skipped, 10}, "at the end": {runcard.Passed, 16}} {
		for _, size := range [][2]int{{80, 24}, {60, 24}, {140, 45}} {
			s := newStrict(t, size[0], size[1])
			b := still(benchFrame())
			f := *b.frame
			f.Card = cardView(t, c.upTo)
			f.Card.Steps[1].State, f.Card.Steps[1].Text = c.state, result
			b.show(&f)
			b.card = true
			seen := ""
			for range 60 {
				s.Clear()
				b.Draw(s)
				seen += picture(s)
				b.press(tcell.NewEventKey(tcell.KeyUp, 0, tcell.ModNone))
			}
			for w := range strings.FieldsSeq(result) {
				require.Contains(t, seen, w, "%s at %v", name, size)
			}
			require.Contains(t, picture(s), "props-off", "%s at %v: the first step is reached", name, size)
			b.press(tcell.NewEventKey(tcell.KeyEnd, 0, tcell.ModNone))
			s.Clear()
			b.Draw(s)
			if c.upTo < 16 {
				require.Contains(t, picture(s), " NOW ", "%s at %v", name, size)
			} else {
				require.Contains(t, picture(s), "pack-out", "%s at %v", name, size)
			}
			s.Fini()
		}
	}
}
