package alarms

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// skips has a recording lack so many seconds, ticks and lines.
func (r *rig) skips(seconds float64) {
	us := int64(seconds * 1e6)
	r.host, r.bridge, r.next, r.seq = r.host+us, r.bridge+us, r.next+us, r.seq+uint16(seconds*400)
	r.e.Misses()
}

// Lines that the recording lacks are no restart, no silence, no loss and no
// standstill, and engine time goes on as the day's did.
func TestHoleInTheRecording(t *testing.T) {
	for _, tick := range []int64{0, 20} {
		for _, seconds := range []float64{1, 9, 12, 100} {
			t.Run(fmt.Sprintf("%d ms, %v s", tick, seconds), func(t *testing.T) {
				r := newRig(t, tick)
				flows := []flow{axesFlow(200), outFlow(100), stateFlow(10, 1), tempFlow()}
				r.run(5.005, flows...)
				r.pass(20_000) // a tick begins to count a silence
				r.skips(seconds)
				r.run(5, flows...)
				for i := range r.events {
					assert.Less(t, r.events[i].Priority, detect.Low, r.events[i].Story.Text)
				}
				assert.InDelta(t, 10.02+seconds, float64(r.e.Now())/1e6, 0.03)
				s := r.e.Summary()
				assert.Zero(t, s.Lost)
				for _, lack := range s.NotWatched {
					assert.NotEqual(t, AllAlarms, lack.Name, lack.Why)
				}
			})
		}
	}
}

// A bridge that began anew behind a hole is told, and so are the next leap, the
// next silence and the next loss.
func TestHoleHidesNothingBehindIt(t *testing.T) {
	flows := []flow{axesFlow(200), outFlow(100), stateFlow(10, 1)}
	for name, then := range map[string]func(r *rig){
		"restart in it":  func(r *rig) { r.restart() },
		"leap behind it": func(r *rig) { r.run(0.5, flows...); r.bridge += 20_000_000 },
		"silence":        func(r *rig) { r.run(0.5, flows...); r.pass(2_000_000) },
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t, 20)
			r.run(5, flows...)
			r.skips(12)
			then(r)
			r.run(2, flows...)
			assert.Contains(t, fmt.Sprint(r.story(detect.StaleLink)), "raised high")
		})
	}
	r := newRig(t, 20)
	r.run(5, flows...)
	r.skips(12)
	r.run(0.5, flows...)
	r.seq += 7
	r.run(0.5, flows...)
	assert.EqualValues(t, 7, r.e.Summary().Lost)
}

// So with two bridges, whichever is heard first behind it.
func TestHoleOfTwoBridges(t *testing.T) {
	for _, first := range []int{1, 2} {
		r := newTwoBridges()
		r.armed = 1
		r.run(5, true, true)
		r.host += 12_000_000
		r.a.seq, r.b.seq = r.a.seq+2400, r.b.seq+600
		r.e.Misses()
		if first == 2 {
			r.e.From(2, r.host+2000)
			r.e.Sample(r.b.line(decode.Load, r.host), 30)
		}
		r.run(5, true, true)
		require.Empty(t, r.links(), "bridge %d first", first)
		assert.InDelta(t, 22, float64(r.e.Now())/1e6, 0.05)
		assert.Zero(t, r.e.Summary().Lost)
	}
}

// Who begins in the midst of a recording cannot know that a bridge was never heard.
func TestBridgeThatIsAwayWhereTheEngineBegins(t *testing.T) {
	r := newTwoBridges()
	r.e = New(craft.Craft{MassG: 655}, Options{Sources: []string{"nose", "stand"}, Bauds: []int{921600, 0}, Start: 54_000_000})
	r.armed = 1
	r.run(8, true, false)
	assert.Empty(t, r.links())
	assert.Empty(t, r.e.mute())
	r.run(2, true, true)
	r.run(1, true, false)
	got := r.links()
	require.NotEmpty(t, got)
	assert.Contains(t, got[0].Story.Text, "no good line from stand", "once it was heard it is missed")
}
