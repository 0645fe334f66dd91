package dashboard

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
)

// TestReplayIsAlwaysTold: whoever comes to the screen of a recording, in whatever view
// and however small, sees that it is no watch; and no watch says that it is one.
func TestReplayIsAlwaysTold(t *testing.T) {
	for _, size := range [][2]int{{20, 5}, {40, 10}, {60, 15}, {80, 24}, {140, 45}, {200, 60}} {
		for v := range viewCount {
			for _, rings := range []bool{false, true} {
				f := benchFrame()
				if rings {
					f.Snap.Alarms = []alarms.AlarmView{oscillation()}
				}
				s := newStrict(t, size[0], size[1])
				draw := func() string {
					b := still(f)
					b.view = v
					s.Clear()
					b.Draw(s)
					return picture(s)
				}
				require.NotContains(t, draw(), "REPLAY", "%v view %d", size, v+1)
				f.Status.Replay, f.Status.Speed = true, 1
				require.Regexp(t, `(?m)^ REPLAY\b`, draw(), "%v view %d", size, v+1)
				f.Status.Paused = true
				require.True(t, strings.Contains(draw(), "REPLAY PAUSED"), "%v view %d\n%s", size, v+1, draw())
				s.Fini()
			}
		}
	}
}
