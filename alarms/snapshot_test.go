package alarms

import (
	"encoding/json"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// TestSnapshotSharesNothing: old snapshots are read, all of them, while the
// engine runs on. The race detector sees what is shared; the text shows what
// was changed.
func TestSnapshotSharesNothing(t *testing.T) {
	in := drawSession(2, 40, true)
	e := New(heron(), Options{})
	text := func(s *Snapshot) string {
		out, err := json.Marshal(s)
		assert.NoError(t, err)
		return string(out)
	}
	var readers sync.WaitGroup
	alarms := 0
	for i := range in {
		in[i].feed(e)
		e.Events()
		if i%500 != 0 {
			continue
		}
		shot := new(Snapshot)
		e.Snapshot(shot)
		alarms += len(shot.Alarms)
		was := text(shot)
		readers.Go(func() { assert.Equal(t, was, text(shot)) })
	}
	readers.Wait()
	require.Positive(t, alarms)
}

// TestSnapshotOfAnAlarm: worst first, latched ones stay, sound and pause are
// shown.
func TestSnapshotOfAnAlarm(t *testing.T) {
	r := newRig(t, 20)
	var s Snapshot
	r.e.PauseSound(30)
	r.e.Snapshot(&s)
	assert.Zero(t, s.PausedUS, "before the first good line engine time stands still: no pause")
	r.run(3, usual(1)...)
	r.e.PauseSound(3600)
	r.e.Snapshot(&s)
	assert.EqualValues(t, 60*detect.Second, s.PausedUS, "a minute at most")
	assert.Empty(t, s.Alarms)
	r.pass(1e6)
	r.e.Snapshot(&s)
	require.Len(t, s.Alarms, 1)
	assert.Equal(t, detect.High, s.Sounding, "a new high alarm ends the pause")
	assert.Zero(t, s.PausedUS)
	assert.True(t, s.Alarms[0].First && s.Alarms[0].Active)
	assert.InDelta(t, 1e6, float64(s.SilentUS), 30_000)
	r.e.PauseSound(5)
	r.e.Snapshot(&s)
	assert.Equal(t, detect.None, s.Sounding)
	r.pass(5e6)
	r.e.Snapshot(&s)
	assert.Equal(t, detect.High, s.Sounding, "the pause is over")
	r.e.PauseSound(5)
	r.e.PauseSound(0)
	r.e.Snapshot(&s)
	assert.Equal(t, detect.High, s.Sounding, "a pause can be ended")
	r.run(2, usual(1)...)
	r.e.Snapshot(&s)
	require.Len(t, s.Alarms, 1)
	assert.False(t, s.Alarms[0].Active, "latched")
	assert.Equal(t, detect.None, s.Sounding)
	assert.False(t, r.e.Acknowledge(detect.StaleLink, detect.Pack), "nothing there")
	assert.True(t, r.e.Acknowledge(detect.StaleLink, detect.Link))
	assert.False(t, r.e.Acknowledge(detect.StaleLink, detect.Link))
	r.e.Snapshot(&s)
	assert.Empty(t, s.Alarms)
}

// TestLacking: the streams that the alarms live on must come, and lately; that
// lines come is not enough.
func TestLacking(t *testing.T) {
	full := func() *Snapshot {
		s := &Snapshot{T: 10 * detect.Second, Lines: 1000}
		for _, tag := range []decode.Tag{decode.State, decode.Axes, decode.Out} {
			s.Streams[tag] = detect.Stream{Count: 100, Last: s.T - detect.Second/100}
		}
		return s
	}
	_, lacks := full().Lacking()
	assert.False(t, lacks)
	s := &Snapshot{T: 10 * detect.Second, Lines: 1000}
	s.Streams[decode.Hello] = detect.Stream{Count: 1000, Last: s.T}
	tag, lacks := s.Lacking()
	assert.True(t, lacks, "a bridge that only says hello")
	assert.Equal(t, decode.State, tag)
	for _, tag := range []decode.Tag{decode.State, decode.Axes, decode.Out} {
		s := full()
		s.Streams[tag].Last = s.T - StreamOld
		_, lacks := s.Lacking()
		assert.False(t, lacks, "%s is just new enough", tag)
		s.Streams[tag].Last--
		got, lacks := s.Lacking()
		assert.True(t, lacks, "%s is old", tag)
		assert.Equal(t, tag, got)
	}
}
