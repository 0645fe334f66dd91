package dashboard

import (
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// TestFlash measures the banner's flashing on the screen itself, looked at
// every 10 ms of its clock, against the rates of IEC 60601-1-8 (secondary
// sources; the duty of medium from memory) and the three flashes a second of
// WCAG SC 2.3.1 (from memory).
func TestFlash(t *testing.T) {
	for _, c := range []struct {
		name         string
		alarm        alarms.AlarmView
		slow, fast   float64 // Hz; 0: steady
		acknowledged bool
		still        bool
	}{
		{"high", oscillation(), 1.4, 2.8, false, false},
		{"medium", imbalance(), 0.4, 0.8, false, false},
		{"low", low(), 0, 0, false, false},
		{"acknowledged", oscillation(), 0, 0, true, false},
		{"a replay that stands still", oscillation(), 0, 0, false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := benchFrame()
			c.alarm.Acknowledged = c.acknowledged
			f.Snap.Alarms = []alarms.AlarmView{c.alarm}
			f.Status.Replay, f.Status.Paused = c.still, c.still
			now := time.Unix(1000, 123_456_789)
			b := still(f)
			b.now = func() time.Time { return now }
			s := newStrict(t, 80, 24)
			defer s.Fini()
			turns, on, n := 0, 0, 2000
			was := false
			for i := range n {
				b.since = now // the frame is fresh
				b.Draw(s)
				_, style, _ := s.Get(40, 0)
				_, bg, _ := style.Decompose()
				bright := bg != tcell.ColorDefault
				if i == 0 {
					require.Equal(t, !c.acknowledged, bright, "an alarm that has just come is lit")
				}
				if i > 0 && bright && !was {
					turns++
				}
				if bright {
					on++
				}
				was = bright
				now = now.Add(10 * time.Millisecond)
			}
			hz, duty := float64(turns)/(float64(n)*0.01), float64(on)/float64(n)
			if c.slow == 0 {
				require.Zero(t, turns)
				return
			}
			require.GreaterOrEqual(t, hz, c.slow-0.05)
			require.LessOrEqual(t, hz, c.fast)
			require.Less(t, hz, 3.0)
			require.GreaterOrEqual(t, duty, 0.2)
			require.LessOrEqual(t, duty, 0.6)
		})
	}
}

// TestNoQuickFlashes: alarms that come and go with every picture light the
// banner up at most three times in any second (WCAG SC 2.3.1, from memory).
func TestNoQuickFlashes(t *testing.T) {
	levels := [][]alarms.AlarmView{nil, {oscillation()}, {imbalance()}, {low()}}
	rapid.Check(t, func(r *rapid.T) {
		now := time.Unix(1000, 123_456_789)
		f := benchFrame()
		b := still(f)
		b.now = func() time.Time { return now }
		s := newStrict(t, 80, 24)
		defer s.Fini()
		var ups []time.Time
		was := false
		f.Status.Replay = rapid.Bool().Draw(r, "replay")
		for range 200 {
			f.Status.Paused = f.Status.Replay && rapid.Bool().Draw(r, "paused")
			f.Snap.Alarms = rapid.SampledFrom(levels).Draw(r, "alarms")
			b.since = now
			b.Draw(s)
			_, style, _ := s.Get(40, 0)
			_, bg, _ := style.Decompose()
			bright := bg != tcell.ColorDefault
			if bright && !was {
				ups = append(ups, now)
			}
			was = bright
			now = now.Add(time.Duration(rapid.IntRange(50, 200).Draw(r, "ms")) * time.Millisecond)
		}
		require.NotEmpty(t, ups)
		for i := 3; i < len(ups); i++ {
			require.Greater(t, ups[i].Sub(ups[i-3]), time.Second, "four in a second")
		}
	})
}

func low() alarms.AlarmView {
	a := imbalance()
	a.Priority = detect.Low
	return a
}
