package dashboard

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Whoever looks at the screen sees what the lamp should show, and why.
func TestBeaconRow(t *testing.T) {
	const up, fallen = "RTS of /dev/ttyS0 up: all is well", "RTS of /dev/ttyS0 fallen: a port is lost"
	for _, c := range []struct {
		w, h   int
		view   view
		text   string
		fallen bool
		want   string
	}{
		{140, 45, viewNearest, up, false, "beacon " + up},
		{140, 45, viewNearest, fallen, true, "beacon " + fallen},
		{80, 24, viewNearest, up, false, "beacon up"},
		{80, 24, viewNearest, fallen, true, "beacon fallen"},
		{80, 24, viewAll, fallen, true, fallen},
		{80, 24, viewAll, up, false, up},
		{140, 45, viewNearest, "", false, ""},
		{80, 24, viewAll, "", false, ""},
	} {
		f := benchFrame()
		f.Status.Beacon, f.Status.BeaconFallen = c.text, c.fallen
		s := newStrict(t, c.w, c.h)
		b := still(f)
		b.view = c.view
		b.Draw(s)
		if c.view == viewAll {
			b.from = 1000 // its end
			b.Draw(s)
		}
		if c.want == "" {
			assert.NotContains(t, picture(s), "eacon")
		} else {
			assert.Contains(t, picture(s), c.want, "%+v", c)
		}
		s.Fini()
	}
	for _, n := range []int{2, 4} {
		f := bridgesFrame(n)
		f.Status.Beacon, f.Status.BeaconFallen = fallen, true
		for w := 20; w <= 200; w += 30 {
			for h := 6; h <= 60; h += 9 {
				drawAt(t, state{name: fallen, frame: func() *Frame { return f }}, w, h)
			}
		}
	}
}
