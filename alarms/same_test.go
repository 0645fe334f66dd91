package alarms

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tellAll feeds a session to a new engine and returns every event as a line.
// collect says after which inputs the events are fetched; nil: after each.
// look, where it is not nil, is called as often as the caller likes.
func tellAll(in []input, collect func() bool, look func(*Engine)) []byte {
	e := New(heron(), Options{Baud: 115200})
	var out []byte
	fetch := func() {
		for i := range e.Events() {
			out = append(e.events[i].AppendJSON(out, ""), '\n')
		}
	}
	for i := range in {
		in[i].feed(e)
		if look != nil {
			look(e)
		}
		if collect == nil || collect() {
			fetch()
		}
	}
	e.Finish()
	fetch()
	sum := e.Summary()
	return sum.AppendJSON(out, "x")
}

// TestSameInputsSameEvents: to the byte, however often anybody looks.
func TestSameInputsSameEvents(t *testing.T) {
	for seed := range uint64(3) {
		in := drawSession(seed, 60, seed != 1)
		want := tellAll(in, nil, nil)
		require.Greater(t, len(want), 5000)
		assert.Equal(t, string(want), string(tellAll(in, nil, nil)), "again")
		rng := rand.New(rand.NewPCG(seed, 1))
		assert.Equal(t, string(want), string(tellAll(in, func() bool { return rng.IntN(50) == 0 }, nil)), "events fetched now and then")
		assert.Equal(t, string(want), string(tellAll(in, func() bool { return false }, nil)), "events fetched at the end")
		var shot Snapshot
		assert.Equal(t, string(want), string(tellAll(in, nil, func(e *Engine) {
			if rng.IntN(20) == 0 {
				e.Snapshot(&shot)
				e.Unacknowledged()
				_ = e.Summary()
			}
		})), "snapshots change nothing")
	}
}

// TestEventsAreHandedOutOnce: and again to who asks twice before the next call.
func TestEventsAreHandedOutOnce(t *testing.T) {
	r := newRig(t, 0)
	r.run(1, stateFlow(50, 1))
	s := r.e.known.said // any sample of another time
	s.Time = uint32(r.bridge + 2_000_000)
	r.e.Sample(&s, 10)
	require.NotEmpty(t, r.e.Events())
	assert.Equal(t, len(r.e.Events()), len(r.e.Events()))
	r.e.Bad(10)
	assert.Empty(t, r.e.Events())
}
