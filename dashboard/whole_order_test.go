package dashboard

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// letterText reads what stands in a banner: big letters as the words they are drawn
// for, and small ones as they stand.
func letterText(t *testing.T, b *bulletin, w, h int) (small string) {
	s := newStrict(t, w, h)
	defer s.Fini()
	drawBanner(pane{s: s, look: newLook(256, false), w: w, h: h}, b, true)
	for y := range h {
		for x := range w {
			cell, _, _ := s.Get(x, y)
			small += cell
		}
		small += "\n"
	}
	return small
}

// TestOrderIsWholeOrNotThere: at no size stands half an order, in small words or
// large; where it stands in twenty columns it is whole.
func TestOrderIsWholeOrNotThere(t *testing.T) {
	for _, c := range [][2]string{{"cut throttle", "CUT THROTTLE"}, {"press stop; keep clear", "PRESS STOP"}, {"keep clear; cut power only from outside", "KEEP CLEAR"}} {
		whole := strings.Fields(c[1])
		for w := 12; w <= 80; w++ {
			for h := 5; h <= 24; h++ {
				f := benchFrame()
				f.Snap.Alarms = []alarms.AlarmView{{Kind: detect.NearLift, Where: detect.Craft, Priority: detect.High, Active: true,
					Story: detect.Story{Text: "lift is high", Action: c[0]}}}
				b := bulletinOf(f, newLook(256, false), 0)
				got := letterText(t, &b, w, bannerRows(w, h))
				words := strings.FieldsFunc(got, func(r rune) bool { return r < 'A' || r > 'Z' })
				at := fmt.Sprintf("%dx%d\n%s", w, h, got)
				if i := slices.Index(words, whole[0]); i >= 0 {
					assert.Equal(t, whole, words[i:min(i+2, len(words))], at)
				} else if w >= 18 && h < 14 {
					t.Error("no order", at)
				}
				assert.NotContains(t, words, whole[1][:len(whole[1])-1], at)
			}
		}
	}
}
