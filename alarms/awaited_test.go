package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// up is the level of stale-link, as its events tell it, at a time in seconds.
func up(events []Event, at float64) (level detect.Priority) {
	for i := range events {
		ev := &events[i]
		if ev.Kind != detect.StaleLink || float64(ev.T) > at*1e6 {
			continue
		}
		switch ev.Change {
		case Cleared:
			level = detect.None
		case Acknowledged:
		default:
			level = ev.Priority
		}
	}
	return level
}

// raises counts how often stale-link was raised.
func raises(events []Event) (n int) {
	for i := range events {
		if events[i].Kind == detect.StaleLink && events[i].Change == Raised {
			n++
		}
	}
	return n
}

func helloFlow(boot float64) flow { return flow{decode.Hello, 1, []float64{1, boot}} }

func loadFlow(hz float64) flow { return flow{decode.Load, hz, []float64{0.1}} }

// A vital stream that came before a restart and does not come again rings as long
// as that lasts; what the craft said before is not believed for ever.
func TestVitalStreamAfterARestart(t *testing.T) {
	before := func(armed float64) []flow {
		return []flow{axesFlow(200), outFlow(50), stateFlow(20, armed), tempFlow(), loadFlow(50)}
	}
	for _, c := range []struct {
		name   string
		armed  float64
		after  []flow
		level  detect.Priority
		is     detect.Tri
		stream string
	}{
		{"the craft is gone", 1, []flow{tempFlow(), loadFlow(50), helloFlow(1)}, detect.High, detect.Unknown, "stream axes"},
		{"hello alone", 1, []flow{helloFlow(1)}, detect.High, detect.Unknown, "no good line"},
		{"no axes", 1, []flow{outFlow(50), stateFlow(20, 1), tempFlow()}, detect.High, detect.Yes, "stream axes"},
		{"no state, disarmed before", 0, []flow{axesFlow(200), outFlow(50), tempFlow()}, detect.High, detect.Unknown, "stream state"},
		{"set up anew while disarmed", 0, []flow{axesFlow(200), stateFlow(20, 0), tempFlow()}, detect.Low, detect.No, "stream out"},
		{"no load", 1, []flow{axesFlow(200), outFlow(50), stateFlow(20, 1), tempFlow()}, detect.None, detect.Yes, ""},
	} {
		for _, tick := range []int64{0, 20} {
			t.Run(c.name, func(t *testing.T) {
				r := newRig(t, tick)
				r.run(6, before(c.armed)...)
				require.Empty(t, r.story(detect.StaleLink))
				r.restart()
				r.run(20, c.after...)
				for at := 9.2; at < 26; at += 0.1 {
					assert.Equal(t, c.level, up(r.events, at), "at %.1f s", at)
				}
				assert.Equal(t, c.is, r.e.State().Armed)
				if c.level == detect.None {
					return
				}
				assert.LessOrEqual(t, raises(r.events), 2, "the restart, and what has not come since")
				last := r.events[len(r.events)-1].Story
				assert.Contains(t, last.Text, c.stream)
				if c.level == detect.Low {
					assert.Contains(t, last.Action, "start the watch anew")
				}
				r.events = nil
				r.run(4, before(c.armed)...)
				assert.Equal(t, detect.None, up(r.events, 40), "it is over when they come again")
				assert.NotEmpty(t, r.events)
			})
		}
	}
}

// A pack is changed: the bridge is there at once, the craft takes a while to start.
// Nobody is called for that; a craft that stays away for longer is missed, and so is
// the state of one that says all else.
func TestCraftBootsAfterItsBridge(t *testing.T) {
	r := newRig(t, 20)
	r.run(6, usual(0)...)
	r.restart()
	r.run(10, tempFlow(), helloFlow(1))
	r.run(5, usual(0)...)
	for at := 6.0; at < 21; at += 0.1 {
		assert.LessOrEqual(t, up(r.events, at), detect.Low, "at %.1f s", at)
	}
	assert.Equal(t, detect.No, r.e.State().Armed)

	r = newRig(t, 20)
	r.run(6, usual(0)...)
	r.restart()
	r.run(20, tempFlow(), helloFlow(1))
	assert.LessOrEqual(t, up(r.events, 20), detect.Low)
	assert.Equal(t, detect.High, up(r.events, 22))
	assert.Equal(t, detect.Unknown, r.e.State().Armed)
}

// A bridge that restarts again and again, and whose vital streams never come.
func TestVitalStreamAfterRestarts(t *testing.T) {
	for _, every := range []float64{0.8, 2, 5} {
		r := newRig(t, 20)
		r.run(6, usual(1)...)
		for at := 0.0; at < 20; at += every {
			r.restart()
			r.run(every, tempFlow(), loadFlow(50))
		}
		for at := 6.1; at < 25; at += 0.1 {
			assert.Equal(t, detect.High, up(r.events, at), "each %.1f s, at %.1f s", every, at)
		}
		assert.LessOrEqual(t, raises(r.events), 2, "each %.1f s", every)
		assert.Equal(t, detect.Unknown, r.e.State().Armed)
	}
}

// The pack is changed: silence, a line or two, silence again. What is awaited has
// its time from the last of it on.
func TestPauseAfterARestart(t *testing.T) {
	r := newRig(t, 20)
	r.run(6, usual(0)...)
	r.pass(5e6)
	r.restart()
	r.send(decode.Hello, 1, 1)
	r.pass(8e6)
	r.send(decode.Hello, 1, 1)
	r.run(1, helloFlow(1))
	assert.Equal(t, detect.No, r.e.State().Armed)
	r.pass(8e6)
	r.restart()
	r.run(2, helloFlow(2))
	assert.Equal(t, detect.No, r.e.State().Armed)
	r.run(4, usual(0)...)
	for i := range r.events {
		if ev := &r.events[i]; ev.Kind == detect.StaleLink {
			assert.LessOrEqual(t, ev.Priority, detect.Low, ev.Story.Text)
		}
	}
}

// A bridge that restarts and dies at once is missed as soon as before.
func TestBridgeDiesAfterARestart(t *testing.T) {
	for _, armed := range []float64{0, 1} {
		for _, lives := range []float64{0.01, 0.05, 0.2} {
			r := newTwoBridges()
			r.armed = armed
			r.run(6, true, true)
			r.a = talker{n: 1, clock0: -r.host}
			r.run(lives, true, true)
			died := float64(r.e.Now()) / 1e6
			r.run(8, false, true)
			level := []detect.Priority{detect.Low, detect.High}[int(armed)]
			for at := died + 0.36; at < died+7.9; at += 0.05 {
				require.Equal(t, level, up(r.events, at), "armed %v, dies after %.2f s, at %.2f s", armed, lives, at)
			}
			last := r.events[len(r.events)-1]
			assert.Contains(t, last.Story.Text, "no good line from nose")
			assert.Less(t, float64(last.T)/1e6-died, 1.1)
			assert.LessOrEqual(t, raises(r.events), 2)
		}
	}
}
