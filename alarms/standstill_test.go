package alarms

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

// stop has the monitor stand still: time goes by on both sides without a tick,
// what was kept comes before the tick that ends it, the rest is lost.
func (r *rig) stop(us int64, kept int) {
	for range kept {
		r.bridge += 1000
		r.send(axesFlow(0).tag, axesFlow(0).v...)
	}
	r.seq += uint16((us/1000 - int64(kept)) / 2)
	rest := us - int64(kept)*1000
	r.bridge, r.host = r.bridge+rest, r.host+us
	r.send(axesFlow(0).tag, axesFlow(0).v...)
	r.next = r.host
	r.pass(0)
}

// TestOwnStandstill: lines that are lost while the monitor itself stood still
// are no bad link, with any spacing of the ticks and whatever the port kept; the
// verdict says that nothing was watched. Real losses behind it are told.
func TestOwnStandstill(t *testing.T) {
	for _, tick := range []int64{20, 100} {
		for _, kept := range []int{0, 60, 400} {
			r := newRig(t, tick)
			flows := []flow{axesFlow(500), stateFlow(50, 1)}
			r.run(6, flows...)
			r.stop(4_100_000, kept)
			r.run(6, flows...)
			assert.Empty(t, r.story(detect.BadLink), "%d ms, %d kept", tick, kept)
			sum := r.e.Summary()
			require.NotEmpty(t, sum.NotWatched)
			assert.Equal(t, AllAlarms, sum.NotWatched[0].Name)
			assert.Contains(t, sum.NotWatched[0].Why, "not watched for 4.1 s: the monitor itself stood still at ")
			assert.Greater(t, sum.Lost, uint64(1000), "they are counted all the same")
			r.loss = 0.3
			r.run(6, flows...)
			assert.Contains(t, r.story(detect.BadLink), "raised medium lines lost")
		}
	}
}

// TestLossRightBehindAStandstill: a bad line that goes on is told, if it began
// with the standstill.
func TestLossRightBehindAStandstill(t *testing.T) {
	r := newRig(t, 20)
	flows := []flow{axesFlow(500), stateFlow(50, 1)}
	r.run(6, flows...)
	r.stop(1_000_000, 100)
	r.loss = 0.3
	from := r.e.Now()
	r.run(5, flows...)
	at := r.at(detect.BadLink, Raised)
	require.NotEmpty(t, at)
	assert.InDelta(t, 2.2, at[0]-float64(from)/1e6, 0.8)
}

// TestHoleIsToldOnce: a cable that was out for a while is stale-link's; one that
// goes in and out is a bad link too.
func TestHoleIsToldOnce(t *testing.T) {
	for _, c := range []struct {
		holes int
		bad   bool
	}{{1, false}, {4, true}} {
		for _, tick := range []int64{0, 20} { // without and with a host's clock
			r := newRig(t, tick)
			flows := []flow{axesFlow(500), stateFlow(50, 1)}
			r.run(6, flows...)
			for range c.holes {
				r.seq += 500
				r.pass(1_000_000)
				r.run(1, flows...)
			}
			r.run(6, flows...)
			assert.NotEmpty(t, r.story(detect.StaleLink))
			assert.Equal(t, c.bad, len(r.story(detect.BadLink)) > 0, "%d holes, ticks of %d ms", c.holes, tick)
		}
	}
}

// TestPulledPlugIsNoLoss: what is lost while the port is known to be gone is no fault
// of the line, however often and however soon after another the plug is pulled; what
// is lost once it is in again is.
func TestPulledPlugIsNoLoss(t *testing.T) {
	for _, known := range []bool{true, false} {
		r := newRig(t, 20)
		flows := []flow{axesFlow(500), stateFlow(50, 1)}
		r.run(6, flows...)
		for range 4 {
			r.seq += 1500
			r.pass(3_000_000)
			if known {
				r.e.PortBack(0)
			}
			r.run(0.5, flows...)
		}
		r.run(6, flows...)
		assert.Equal(t, known, len(r.story(detect.BadLink)) == 0)
		r.loss = 0.3
		r.run(6, flows...)
		assert.Contains(t, r.story(detect.BadLink), "raised medium lines lost")
	}
}

// TestPulledPlugsOfTwo: both plugs are pulled, one soon after the other, and no line
// is called lossy for it.
func TestPulledPlugsOfTwo(t *testing.T) {
	for _, known := range []bool{true, false} {
		r := newTwoBridges()
		r.armed = 1
		r.run(8, true, true)
		for _, in := range [][2]bool{{false, true}, {true, false}, {false, false}} {
			r.run(2, in[0], in[1])
			for i, t := range []*talker{&r.a, &r.b} {
				if !in[i] {
					t.seq += 400
					if known {
						r.e.PortBack(i)
					}
				}
			}
			r.run(0.5, true, true)
		}
		r.run(3, true, true)
		lossy := slices.ContainsFunc(r.events, func(e Event) bool { return e.Kind == detect.BadLink && e.Change == Raised })
		assert.Equal(t, known, !lossy)
	}
}

// TestHoleBehindWhatWasKept: a port that nobody had open kept some lines, and lost
// those after them: that is no fault of the line. A second hole is.
func TestHoleBehindWhatWasKept(t *testing.T) {
	for _, holes := range []int{1, 2} {
		r := newRig(t, 20)
		for range holes {
			for range 200 {
				r.bridge += 2000
				r.send(axesFlow(0).tag, axesFlow(0).v...)
			}
			r.seq, r.bridge = r.seq+1000, r.bridge+2_000_000
		}
		r.run(6, axesFlow(500), stateFlow(50, 1))
		assert.Equal(t, holes > 1, len(r.story(detect.BadLink)) > 0, "%d holes: %v", holes, r.story(detect.BadLink))
	}
}
