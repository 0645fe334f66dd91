package dashboard

import (
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
)

// TestCardEndsWithTheInput: a card that can no longer see a motor wake leads no
// hand to it and takes no key, but says what had come of it.
func TestCardEndsWithTheInput(t *testing.T) {
	last := cardView(t, 15)
	last.AgainID = "warmth"
	look := cardView(t, 15)
	look.Steps[14].State, look.Steps[14].Text = runcard.ByEye, "motor temperatures are not measured: once all rotors stand unplug the pack, then feel each motor"
	failed := cardStates(t)["failed"]
	for name, c := range map[string]struct {
		card       *runcard.View
		kept, gone []string
	}{
		"a person's step": {last, []string{"16 pack-out", "not done", "ok   15 warmth"}, []string{"Press stop", "yes, seen", "once more"}},
		"left to the eye": {look, []string{"15 warmth", "left to the eye, and not ticked"}, []string{"LOOK", "feel each motor", "yes, seen", "Press stop"}},
		"failed":          {failed, []string{"FAIL", "oscillates at 14.0 Hz", "not done"}, []string{"do: ", "once more", "leave out"}},
		"armed too early": {early(t), []string{"not done"}, []string{"no tick yet", "leave out", "DISARM:"}},
	} {
		for _, ended := range []bool{false, true} {
			s := newStrict(t, 140, 45)
			f := benchFrame()
			f.Card, f.Status.Ended, f.Snap.Armed = c.card, ended, detect.No
			if name == "failed" { // one presses, whose action a card repeats
				f.Snap.Alarms = []alarms.AlarmView{imbalance()}
			}
			c.card.Ended, c.card.Outcome = ended, "CARD NOT PASSED: not done"
			was := *c.card
			b := still(f)
			b.card = true
			acts := 0
			b.act = func(a Act) {
				if a.Kind == CardAct {
					acts++
				}
			}
			b.Draw(s)
			now := b.now().Add(takeIn)
			b.now = func() time.Time { return now }
			for _, r := range "ynsu" {
				b.press(tcell.NewEventKey(tcell.KeyRune, r, tcell.ModNone))
			}
			got := picture(s)
			require.Equal(t, !ended, acts > 0, name)
			if ended {
				require.Contains(t, got, cardOver, name)
				require.Contains(t, got, "CARD NOT PASSED: not done", name)
				for _, w := range c.kept {
					require.Contains(t, got, w, name)
				}
				for _, w := range c.gone {
					require.NotContains(t, got, w, name)
				}
				require.Contains(t, cardLine(f, newLook(256, false)), cardOver, name)
			} else {
				require.NotContains(t, got, cardOver, name)
			}
			require.Equal(t, was, *c.card, "%s: the frame is not changed", name)
			s.Fini()
		}
	}
}
