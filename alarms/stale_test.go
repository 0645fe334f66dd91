package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

func usual(armed float64) []flow {
	return []flow{axesFlow(400), outFlow(100), stateFlow(20, armed), tempFlow()}
}

func TestSilenceByTicks(t *testing.T) {
	for _, c := range []struct {
		name  string
		armed float64
		level string
	}{{"armed", 1, "high"}, {"disarmed", 0, "low"}} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(t, 20)
			r.run(12, usual(c.armed)...)
			require.Empty(t, r.story(detect.StaleLink))
			r.pass(2e6)
			r.run(3, usual(c.armed)...)
			assert.Equal(t, []string{"raised " + c.level + " cable, bridge or its supply", "cleared " + c.level + " cable, bridge or its supply"}, r.story(detect.StaleLink))
			assert.InDelta(t, 12.31, r.at(detect.StaleLink, Raised)[0], 0.03)
			assert.InDelta(t, 14.5, r.at(detect.StaleLink, Cleared)[0], 0.06)
		})
	}
}

// TestSilenceOfAFile: without ticks only jumps of bridge time are silence.
func TestSilenceOfAFile(t *testing.T) {
	for _, c := range []struct {
		name string
		hole int64 // microseconds between two lines
		want int
	}{{"short", 299_000, 0}, {"just as long", 300_000, 1}, {"longer", 900_000, 1}, {"nearly the longest", 9_900_000, 1}} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(t, 0)
			r.run(5, usual(1)...)
			last := (r.e.clock.line)
			r.bridge = last + c.hole
			r.run(2, usual(1)...)
			assert.Len(t, r.at(detect.StaleLink, Raised), c.want)
			for _, at := range r.at(detect.StaleLink, Raised) {
				assert.InDelta(t, float64(last)/1e6+0.3, at, 0.021)
			}
		})
	}
}

// TestTheLineAfterAHoleIsJudgedItself: without ticks a hole is lived through
// up to the line that ends it, and that line does not wait for the next.
func TestTheLineAfterAHoleIsJudgedItself(t *testing.T) {
	for _, hole := range []int64{5_000, 20_000, 25_000, 85_000, 109_000} {
		r := newRig(t, 0)
		r.run(1, stateFlow(50, 1))
		last := r.e.clock.line
		r.bridge = last + hole
		s := decode.Sample{Tag: decode.Set, Seq: r.seq, Time: uint32(r.bridge), Word: []byte("idle_ready")}
		s.Put(decode.SetValue, 0.8)
		r.e.Sample(&s, 30)
		r.take()
		if hole < 10_000 { // within the grid
			require.Empty(t, r.events)
			continue
		}
		require.Len(t, r.events, 1, "after %d us", hole)
		assert.Equal(t, last+hole, r.events[0].T)
	}
}

// TestLongLeapOfAFile: over ten seconds without a host clock is a restart.
func TestLongLeapOfAFile(t *testing.T) {
	r := newRig(t, 0)
	r.run(5, usual(1)...)
	r.bridge += 10_100_000
	r.run(2, usual(1)...)
	assert.Equal(t, []string{"raised high supply of the bridge", "cleared high supply of the bridge"}, r.story(detect.StaleLink))
	assert.InDelta(t, 7, float64(r.e.Summary().Duration)/1e6, 0.02, "the leap itself is no time")
}

func TestEndOfAFileIsNoSilence(t *testing.T) {
	r := newRig(t, 0)
	r.run(5, usual(1)...)
	for range 1000 {
		r.e.Bad(60)
	}
	r.e.Finish()
	r.take()
	assert.Empty(t, r.story(detect.StaleLink))
}

func TestStreamAway(t *testing.T) {
	all := usual(1)
	for _, c := range []struct {
		name string
		gone int
		wait float64
		want string
	}{{"axes", 0, 0.3, "high"}, {"out", 1, 0.3, "high"}, {"state", 2, 0.3, "high"}, {"temp", 3, 5.2, "medium"}} {
		for _, tick := range []int64{0, 20} {
			r := newRig(t, tick)
			r.run(15, all...)
			require.Empty(t, r.events)
			rest := append(append([]flow{}, all[:c.gone]...), all[c.gone+1:]...)
			r.run(8, rest...)
			r.run(3, all...)
			assert.Equal(t, []string{"raised " + c.want + " its sensor or the bridge", "cleared " + c.want + " its sensor or the bridge"}, r.story(detect.StaleLink), c.name)
			last := 15 - 1/all[c.gone].hz
			assert.InDelta(t, last+c.wait, r.at(detect.StaleLink, Raised)[0], 0.03, c.name)
		}
	}
}

// TestLossIsNoStaleStream: 5 % of the lines lost, at the slowest and quickest
// rates of the protocol.
func TestLossIsNoStaleStream(t *testing.T) {
	for _, tick := range []int64{0, 20} {
		for _, hz := range []float64{50, 2000} {
			r := newRig(t, tick)
			r.loss = 0.05
			r.run(min(600, 60000/hz), axesFlow(hz), outFlow(50), stateFlow(10, 1),
				flow{decode.Load, 10, []float64{0}}, flow{decode.Pack, 5, []float64{16, 1}}, tempFlow())
			assert.Empty(t, r.story(detect.StaleLink), "%v/s", hz)
		}
	}
}

// TestChangeOfPace: a stream that becomes slower is told once and then
// believed; one that becomes quicker is not told at all.
func TestChangeOfPace(t *testing.T) {
	r := newRig(t, 20)
	r.run(5, axesFlow(400), stateFlow(20, 1), flow{decode.Pack, 5, []float64{16, 1}})
	r.run(60, axesFlow(100), stateFlow(50, 1), flow{decode.Pack, 50, []float64{16, 1}})
	assert.Empty(t, r.story(detect.StaleLink))
	pace := func(tag decode.Tag) float64 { return r.e.bench.Streams[tag].Rate() }
	assert.InDelta(t, 100, pace(decode.Axes), 1)
	assert.InDelta(t, 50, pace(decode.State), 1)
	assert.InDelta(t, 50, pace(decode.Pack), 1)
	r.run(60, axesFlow(100), stateFlow(50, 1), flow{decode.Pack, 1, []float64{16, 1}})
	assert.Len(t, r.at(detect.StaleLink, Raised), 1)
	assert.InDelta(t, 1, pace(decode.Pack), 0.02)
	n := len(r.events)
	assert.Equal(t, Cleared, r.events[n-1].Change)
}

func TestRestartOfTheBridge(t *testing.T) {
	for _, c := range []struct {
		name    string
		before  float64 // armed before
		after   float64 // and after
		silence int64
		want    []string
	}{
		{"armed, at once", 1, 1, 2500, []string{"raised high supply of the bridge", "cleared high supply of the bridge"}},
		{"armed, disarmed after it", 1, 0, 2500, []string{"raised high supply of the bridge", "cleared high supply of the bridge"}},
		{"armed, with silence", 1, 0, 2e6, []string{"raised high cable, bridge or its supply", "cleared high cable, bridge or its supply", "raised high supply of the bridge", "cleared high supply of the bridge"}},
		{"disarmed", 0, 0, 2500, nil},
		{"disarmed, with silence", 0, 1, 2e6, []string{"raised low cable, bridge or its supply", "cleared low cable, bridge or its supply"}},
	} {
		for _, tick := range []int64{0, 20} {
			if tick == 0 && c.silence > 1e6 {
				continue // without a host clock there is no silence before a restart
			}
			r := newRig(t, tick)
			r.run(5, usual(c.before)...)
			r.pass(c.silence)
			r.restart()
			was := r.e.clock.now
			// The first line of the new run is the state itself.
			r.run(4, stateFlow(20, c.after), axesFlow(400), outFlow(100), tempFlow())
			assert.Equal(t, c.want, r.story(detect.StaleLink), c.name)
			assert.Equal(t, 1, r.e.restarts)
			assert.InDelta(t, float64(was)/1e6+4, float64(r.e.clock.now)/1e6, 0.03, "engine time runs on")
			if c.before == 1 {
				raised := r.at(detect.StaleLink, Raised)
				assert.InDelta(t, float64(was)/1e6, raised[len(raised)-1], 0.011, "told with the first line")
			}
		}
	}
}

// TestNewBootNumberIsARestart: time need not step for it.
func TestNewBootNumberIsARestart(t *testing.T) {
	r := newRig(t, 20)
	r.run(5, usual(1)...)
	r.send(decode.Hello, 1, 41)
	r.run(1, usual(1)...)
	require.Zero(t, r.e.restarts)
	r.send(decode.Hello, 1, 42)
	r.run(3, usual(1)...)
	assert.Equal(t, 1, r.e.restarts)
	assert.Equal(t, []string{"raised high supply of the bridge", "cleared high supply of the bridge"}, r.story(detect.StaleLink))
}

// TestTheNextStreamThatStaysAwayIsHeard: what was acknowledged was one stream;
// another one is another happening, and more urgent ones are told so.
func TestTheNextStreamThatStaysAwayIsHeard(t *testing.T) {
	r := newRig(t, 20)
	flows := []flow{axesFlow(200), outFlow(100), stateFlow(20, 1), {decode.Temp, 2, []float64{20, 20, 20, 20}}, {decode.Pack, 10, []float64{16, 3}}}
	r.run(10, flows...)
	r.run(6, flows[0], flows[1], flows[2], flows[4]) // no temp
	require.True(t, r.e.Acknowledge(detect.StaleLink, detect.Link))
	r.run(4, flows[:3]...) // nor pack
	r.run(2, flows[1:3]...)
	assert.Equal(t, []string{"raised medium its sensor or the bridge", "acknowledged medium its sensor or the bridge", "cleared medium its sensor or the bridge", "raised medium its sensor or the bridge",
		"cleared medium its sensor or the bridge", "raised high its sensor or the bridge"}, r.story(detect.StaleLink))
	last := r.events[len(r.events)-1].Story.Text
	assert.Contains(t, last, "stream axes stays away")
	assert.Contains(t, last, "so do temp, pack")
}
