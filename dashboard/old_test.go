package dashboard

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// partedFrame has the craft at one bridge and the stand at another; what each
// carries was heard so long ago.
func partedFrame(craft, stand int64) *Frame {
	f := bridgesFrame(2)
	s := f.Snap
	s.Bridges[0].Tags = 1<<decode.Axes | 1<<decode.Out | 1<<decode.ERPM | 1<<decode.State
	s.Bridges[1].Tags = 1<<decode.Load | 1<<decode.Pack | 1<<decode.Temp
	s.Streams[decode.Temp] = detect.Stream{Count: 60, Period: 1e6, Steady: true}
	for tag := range s.Streams {
		st := &s.Streams[tag]
		switch {
		case s.Bridges[0].Tags&(1<<tag) != 0:
			st.Last = s.T - craft
		case s.Bridges[1].Tags&(1<<tag) != 0:
			st.Last = s.T - stand
		}
	}
	return f
}

// carried is what each view writes of the values of one bridge.
var carried = map[string][]string{
	"craft": {`0\.392`, `0\.425`, `8040`, `×0\.96`, `█ 0\.011 of`, `roll +0\.011`, ` stick 0\.42`, ` throttle 0\.40`, `│ ARMED`, `│ on ground`, `data good`},
	"stand": {`38°C`, `2\.3 N +0\.36`, `15\.2 V +3\.81`, `█ +0\.36 of`, `█ +38 of`},
}

// Whatever came over a port that is lost is old at once, and what has stayed away by
// itself is too; nothing of it is written as a value of now, in any view or size.
// What comes over the other port stays.
func TestWhatNobodyHearsIsOld(t *testing.T) {
	lost := func(f *Frame, i int) *Frame {
		f.Status.Bridges[i] = BridgePort{State: "LOST 1 s", Lost: true}
		return f
	}
	all := benchFrame()
	all.Status.Lost, all.Status.Port, all.Snap.SilentUS = true, "lost", 100_000
	for name, c := range map[string]struct {
		f         *Frame
		old, live []string
	}{
		"craft's port lost":   {lost(partedFrame(100_000, 2_000), 0), carried["craft"], carried["stand"][:3]},
		"stand's port lost":   {lost(partedFrame(2_000, 100_000), 1), carried["stand"], carried["craft"][:4]},
		"craft silent":        {partedFrame(1_200_000, 2_000), carried["craft"], carried["stand"][:3]},
		"stand silent":        {partedFrame(2_000, 5_600_000), carried["stand"], carried["craft"][:4]},
		"all ports lost":      {all, append(carried["craft"][:len(carried["craft"]):len(carried["craft"])], carried["stand"]...), nil},
		"nothing is the case": {partedFrame(2_000, 2_000), nil, append(carried["craft"][:4:4], carried["stand"][:3]...)},
	} {
		for v := range viewCount {
			for _, size := range [][2]int{{60, 20}, {80, 24}, {110, 34}, {140, 45}, {200, 60}} {
				s := newStrict(t, size[0], size[1])
				b := still(c.f)
				b.view = v
				b.Draw(s)
				text := picture(s)
				text = text[strings.LastIndexByte(text[:strings.Index(text, "│")], '\n')+1:] // under the banner
				s.Fini()
				for _, w := range c.old {
					assert.NotRegexp(t, w, text, "%s, view %d, %v\n%s", name, v+1, size, text)
				}
				for _, w := range c.live {
					if v == viewNearest && size[0] >= 80 {
						assert.Regexp(t, w, text, "%s, %v\n%s", name, size, text)
					}
				}
				if len(c.old) > 0 && v == viewMotors && c.live == nil {
					assert.Regexp(t, `m1 +old +old +old +old`, text)
				}
			}
		}
	}
	assert.Equal(t, ": OLD, 0.0 s ago", oldWord(all, decode.Out))
}

// Lift that cannot be so says that in its row and in place of its gauge, at every
// size that has them.
func TestLiftInDoubt(t *testing.T) {
	f := doubtFrame()
	f.Snap.Reaches = slices.DeleteFunc(slices.Clone(f.Snap.Reaches), isNearLift)
	for _, size := range [][2]int{{80, 24}, {110, 34}, {140, 45}, {200, 60}} {
		s := newStrict(t, size[0], size[1])
		still(f).Draw(s)
		text := picture(s)
		s.Fini()
		assert.Regexp(t, ` lift +-1\.7 N  IN DOUBT\b`, text, size)
		assert.Regexp(t, ` craft  near-lift +lift is IN DOUBT: not watched`, text, size)
		assert.NotContains(t, text, "-0.26", size)
	}
}

// So do rates that stand under thrust: a gauge at nought beside them is the calmest
// picture that there is.
func TestGyroInDoubt(t *testing.T) {
	f := benchFrame()
	why := "the three rates repeat to the last digit while the rotors thrust: does the gyro hang?"
	f.Snap.NotWatched = []alarms.Lack{{Name: "rising-oscillation", Why: why}}
	f.Snap.Left, f.Snap.Doubted = f.Snap.NotWatched, []decode.Tag{decode.Axes}
	f.Snap.Keeps = []alarms.Lack{{Name: decode.Axes.String(), Why: why}}
	for _, tt := range []struct {
		armed detect.Tri
		order string
	}{{detect.Yes, "EASE OFF"}, {detect.No, "DO NOT ARM"}} {
		f.Snap.Armed = tt.armed
		b := calmBulletin(f.Snap, &f.Status, &look{})
		assert.Equal(t, tt.order, fitting(b.order, 74))
		for _, size := range [][2]int{{80, 24}, {110, 34}, {140, 45}, {200, 60}} {
			s := newStrict(t, size[0], size[1])
			still(f).Draw(s)
			text := picture(s)
			s.Fini()
			assert.Contains(t, text, "GYRO IN DOUBT", size)
			assert.Regexp(t, ` rising-oscillation +the rates are IN DOUBT: not watched`, text, size)
			assert.NotContains(t, text, "data good", size)
		}
	}
}
