package dashboard

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms"
)

func bridgesFrame(n int) *Frame {
	f := benchFrame()
	names := []string{"/dev/ttyUSB0", "/dev/serial/by-id/a-long-name-of-the-stand", "third", "fourth"}
	for i := range n {
		f.Snap.Bridges = append(f.Snap.Bridges, alarms.BridgeView{Name: names[i], Heard: true, Reference: i == 0, Lines: 900, Rate: 640, All: 640,
			Offset: -1.234567, OffsetUnsure: 0.0021, Drift: 31.2, DriftUnsure: 3.3, Clocked: i > 0, Drifts: i > 0})
		f.Status.Bridges = append(f.Status.Bridges, BridgePort{State: "open"})
	}
	return f
}

// Whatever the size: what is wrong with one of several ports is on the screen, in
// every view that shows the line, and nothing is drawn outside.
func TestSeveralBridges(t *testing.T) {
	for _, n := range []int{2, 4} {
		lost := bridgesFrame(n)
		lost.Status.Bridges[1] = BridgePort{State: "LOST 7 s", Lost: true}
		silent := bridgesFrame(n)
		silent.Snap.Bridges[1].SilentUS = 4_000_000
		mute := bridgesFrame(n)
		mute.Snap.Bridges[1] = alarms.BridgeView{Name: "/dev/x-the-stand"}
		mute.Snap.Mute = []alarms.Lack{{Name: "/dev/x-the-stand", Why: "nothing was ever heard"}}
		for want, f := range map[string]*Frame{"the-stand LOST 7 s": lost, "the-stand SILENT": silent, "the-stand not heard": mute} {
			for w := 20; w <= 200; w += 20 {
				for h := 6; h <= 60; h += 6 {
					drawAt(t, state{name: want, frame: func() *Frame { return f }}, w, h)
				}
			}
			for _, size := range [][2]int{{80, 24}, {120, 40}, {200, 60}} {
				s := newStrict(t, size[0], size[1])
				b := still(f)
				b.Draw(s)
				assert.Contains(t, picture(s), want, "%v, %d bridges", size, n)
				assert.Equal(t, f == mute, regexp.MustCompile(`(?i)not watched[^x]*\s+/dev/x-the-stand`).MatchString(picture(s)), "%v\n%s", size, picture(s))
				s.Fini()
			}
		}
	}
	s := newStrict(t, 200, 60)
	defer s.Fini()
	b := still(bridgesFrame(2))
	b.Draw(s)
	text := picture(s)
	assert.Contains(t, text, "its clock counts")
	assert.Contains(t, text, "clock -1.235 s ±2.1 ms")
	assert.Contains(t, text, "+31.2 ppm")
	assert.Contains(t, text, "1280 lines/s")

	f := bridgesFrame(2)
	f.Snap.Bridges[1].Unused, f.Snap.Bridges[1].Rate = true, 0
	f.Status.Bridges[0] = BridgePort{State: "LOST 7 s", Lost: true}
	b = still(f)
	b.Draw(s)
	text = picture(s)
	assert.Contains(t, text, "640/s unused", "it sends, though nothing of it is needed")
	assert.Contains(t, text, " 640 lines/s", "what is lost sends nothing")
}
