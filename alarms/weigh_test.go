package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

// A restart that is told hides no worse silence: the craft's bridge falls silent
// while the stand's starts anew again and again.
func TestRestartHidesNoSilence(t *testing.T) {
	for _, idle := range []bool{false, true} {
		for _, every := range []float64{0.3, 0.8, 1.3, 9} {
			r := newTwoBridges()
			r.armed, r.unused = 1, idle
			r.run(6, true, true)
			require.Empty(t, r.links())
			began := float64(r.e.Now()) / 1e6
			for at := 0.0; at < 9; at += every {
				r.b = talker{n: 2, clock0: -r.host}
				r.run(every, false, true)
			}
			for at := began + 0.36; at < began+8.9; at += 0.05 {
				require.Equal(t, detect.High, up(r.events, at), "idle %v, each %.1f s, at %.2f s", idle, every, at)
			}
			last := r.events[len(r.events)-1]
			assert.Contains(t, last.Story.Text, "no good line from nose")
			assert.LessOrEqual(t, raises(r.events), 2)
		}
	}
}

// One restart while the high alarm is up neither eases it nor raises it anew.
func TestRestartLeavesWhatIsUp(t *testing.T) {
	for _, idle := range []bool{false, true} {
		r := newTwoBridges()
		r.armed, r.unused = 1, idle
		r.run(6, true, true)
		r.run(2, false, true)
		require.Equal(t, 1, raises(r.events))
		had := len(r.events)
		r.b = talker{n: 2, clock0: -r.host}
		r.run(3, false, true)
		assert.Len(t, r.events, had)
		assert.Equal(t, detect.High, up(r.events, 20))
	}
}

// The craft's bridge is dead, and the other says a line now and then: one high alarm,
// which can be acknowledged.
func TestDeadBridgeBesideAHello(t *testing.T) {
	for _, idle := range []bool{false, true} {
		for _, slow := range []int64{200, 400, 1000} {
			for _, phase := range []float64{0, 0.1, 0.35, 0.5, 0.9} {
				for _, acknowledge := range []bool{false, true} {
					r := newTwoBridges()
					r.armed, r.unused, r.slow = 1, idle, slow
					r.run(8+phase, true, true)
					require.Empty(t, r.links())
					died := float64(r.e.Now()) / 1e6
					for range 40 {
						r.run(0.2, false, true)
						if !acknowledge {
							continue
						}
						for _, v := range r.e.Unacknowledged() {
							r.e.Acknowledge(v.Kind, v.Where)
							r.events = append(r.events, r.e.Events()...)
						}
					}
					want := 1
					if acknowledge {
						want++
					}
					assert.Len(t, r.events, want, "a line each %d ms, %.1f s after one", slow, phase)
					assert.Contains(t, r.events[0].Story.Text, "no good line from nose")
					assert.Equal(t, detect.High, r.events[0].Priority)
					assert.InDelta(t, 0.33, float64(r.events[0].T)/1e6-died, 0.06)
				}
			}
		}
	}
}

// Where the other dies too, all are silent, and that is said.
func TestBothBridgesDie(t *testing.T) {
	r := newTwoBridges()
	r.armed, r.unused, r.slow = 1, true, 1000
	r.run(6, true, true)
	r.run(3, false, true)
	require.Len(t, r.events, 1)
	r.e.Acknowledge(detect.StaleLink, detect.Link)
	r.events = append(r.events, r.e.Events()...)
	r.run(6, false, false)
	require.Equal(t, 2, raises(r.events))
	last := r.events[len(r.events)-1]
	assert.Contains(t, last.Story.Text, "the bench is not being watched")
	assert.Equal(t, detect.High, last.Priority)
}
