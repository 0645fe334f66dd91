package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// told is an event without its times and its words, which name times too.
type told struct {
	t, since int64
	kind     detect.Kind
	where    detect.Where
	change   Change
	priority detect.Priority
	value    float32 // times of another size round otherwise
}

func toldFrom(in []input, start int64) (out []told, last int64) {
	e := New(heron(), Options{Baud: 115200, Start: start})
	fetch := func() {
		for _, ev := range e.Events() {
			out = append(out, told{ev.T - start, ev.Since - start, ev.Kind, ev.Where, ev.Change, ev.Priority, float32(ev.Value)})
		}
	}
	for i := range in {
		in[i].feed(e)
		fetch()
	}
	e.Finish()
	fetch()
	return out, e.Now()
}

// TestStart: an engine that begins later says the same, later by as much. The
// starts lie on the grids of judgement, coverage and trails.
func TestStart(t *testing.T) {
	for seed := range uint64(4) {
		in := drawSession(seed, 60, seed%2 == 0)
		want, end := toldFrom(in, 0)
		require.Greater(t, len(want), 20)
		for _, start := range []int64{10 * detect.Second, 1770 * detect.Second, 36_000 * detect.Second} {
			got, last := toldFrom(in, start)
			assert.Equal(t, want, got, "seed %d from %d", seed, start)
			assert.Equal(t, end+start, last)
		}
	}
	e := New(heron(), Options{Start: -5})
	assert.Zero(t, e.Now(), "no time before the first line")
}

// TestRecall: what a bridge said at its start holds, and nothing else of it.
func TestRecall(t *testing.T) {
	line := func(body string) *decode.Sample {
		var d decode.Decoder
		s := new(decode.Sample)
		text := decode.AppendChecksum([]byte(body), 0)
		require.NoError(t, d.Decode(text[:len(text)-1], s))
		return s
	}
	e := New(craft.Craft{}, Options{Start: 60 * detect.Second})
	e.Recall(line("hello,0,0,1,bench-1,42"))
	e.Recall(line("craft,1,12,Marsh Heron,quad-x,4,14,3,178,655,4"))
	e.Recall(line("set,2,20,idle_ready,0.07"))
	e.Recall(line("state,3,30,1,0,1,0.5,0,0,0,1"))
	var s Snapshot
	e.Snapshot(&s)
	assert.Equal(t, "bench-1", s.Bridge)
	assert.Equal(t, int64(42), s.Boot)
	assert.Equal(t, "Marsh Heron", s.CraftName)
	assert.Equal(t, 0.07, s.IdleReady.V)
	assert.Equal(t, detect.Unknown, s.Armed, "that was then")
	assert.Zero(t, s.Lines)
	assert.Equal(t, 60*detect.Second, e.Now())
	e.Sample(line("state,900,50000000,0,0,1,0,0,0,0,1"), 50)
	assert.Equal(t, 60*detect.Second, e.Now(), "the first line is at the start, whatever the bridge's clock says")
	e.Snapshot(&s)
	assert.Zero(t, s.Lost)
	assert.Zero(t, s.Restarts)
}
