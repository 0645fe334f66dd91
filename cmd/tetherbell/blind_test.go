package main

import (
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
)

// watchedUntil is a live watch of the scenario calm, on a screen, up to a time.
func watchedUntil(t *testing.T, seconds float64) *live {
	t.Helper()
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	b := simulator.New(sc, 1)
	l := &live{con: &console{err: io.Discard}, name: "-", file: "-", aud: audience{form: asScreen}}
	l.desk = newDesk(craft.Craft{}, 0, nil, l.tell)
	var until int64
	for until < int64(seconds*1e6) {
		var out []byte
		out, until, _ = b.Next(nil)
		l.desk.feed(out)
		l.desk.tick(until / 1000)
	}
	return l
}

// TestLinesThatEndArmedRing: where the lines end with an armed craft, silence
// would be taken for a calm one: it sounds until somebody takes note, whatever
// ends them, and the verdict does not call it a good run.
func TestLinesThatEndArmedRing(t *testing.T) {
	for _, c := range []struct {
		name    string
		seconds float64
		paused  bool
		why     error
		blind   bool
	}{
		{"armed", 15, false, nil, true},
		{"armed, the sound is paused", 15, true, nil, true},
		{"armed, the source fails", 15, false, errors.New("it broke"), true},
		{"disarmed", 6, false, nil, false},
		{"disarmed in the end", 39.9, false, nil, false},
	} {
		l := watchedUntil(t, c.seconds)
		if c.paused {
			l.desk.pause(60_000)
		}
		l.showNow()
		before := l.aud.latest().Snap.SoundSeq
		l.inputEnded(c.why)
		f := l.aud.latest()
		assert.Equal(t, c.blind, f.Status.Blind, c.name)
		want := detect.None
		if c.blind {
			want = detect.High
			assert.Greater(t, f.Snap.SoundSeq, before, "%s: it is new", c.name)
		}
		assert.Equal(t, want, f.Snap.Sounding, c.name)
		sum := l.desk.eng.Summary()
		assert.Equal(t, c.blind, sum.Last.Armed == detect.Yes, c.name)
		first := verdictLines("x", &sum, l.desk.rings, &notes{}, nil)[0]
		assert.Equal(t, c.blind, lastWord(&sum, &notes{}) != "" && assert.Contains(t, first, "ENDS WITH THE CRAFT ARMED"), c.name)

		l.act(dashboard.Act{Kind: dashboard.PauseSound, Seconds: 60})
		f = l.aud.latest()
		assert.Equal(t, detect.None, f.Snap.Sounding, "%s: noted", c.name)
		assert.False(t, f.Status.Blind, c.name)
		l.showNow()
		assert.Equal(t, detect.None, l.aud.latest().Snap.Sounding, "%s: for good", c.name)
	}
	off := lastWord(&alarms.Summary{Lines: 9, Last: alarms.State{Armed: detect.Yes}}, &notes{headed: true})
	assert.Equal(t, "THE RECORDING BREAKS OFF WITH THE CRAFT ARMED: what came then is not in it; ", off, "somebody may have seen it")
	assert.Empty(t, lastWord(&alarms.Summary{Lines: 9, Last: alarms.State{Armed: detect.Yes}}, &notes{headed: true, left: true}))
	assert.Empty(t, lastWord(&alarms.Summary{Last: alarms.State{Armed: detect.Yes}}, &notes{}), "not one good line")
}

// A stuck disk takes nothing before it is let go.
type stuckDisk struct{ free chan struct{} }

func (d *stuckDisk) Write(p []byte) (int, error) { <-d.free; return len(p), nil }
func (d *stuckDisk) Sync() error                 { return nil }
func (d *stuckDisk) Close() error                { return nil }

// The alarm that the lines ended with an armed craft waits for no disk. That the
// recording could not be closed is told after it, with the next step.
func TestBlindAlarmWaitsForNoDisk(t *testing.T) {
	l := watchedUntil(t, 15)
	synctest.Test(t, func(t *testing.T) {
		disk := &stuckDisk{make(chan struct{})}
		defer close(disk.free)
		rec, err := link.NewRecorder(disk, "x.bell", link.SessionHeader{})
		require.NoError(t, err)
		l.rec, l.desk.rec = rec, rec
		ended := make(chan struct{})
		begun := time.Now()
		go func() { l.inputEnded(nil); close(ended) }()
		time.Sleep(recordPatience / 2)
		synctest.Wait()
		f := l.aud.latest()
		require.NotNil(t, f)
		assert.True(t, f.Status.Blind && f.Snap.Sounding == detect.High, "it is shown and asked to sound before the disk answers")
		select {
		case <-ended:
			t.Fatal("nobody waited for the disk")
		default:
		}
		<-ended
		assert.Equal(t, recordPatience, time.Since(begun))
		f = l.aud.latest()
		assert.Contains(t, f.Status.RecordError, "finish recording x.bell: the disk does not answer")
		assert.True(t, f.Status.Blind)
		assert.Contains(t, hintOf(l.recErr), "tetherbell check x.bell")
	})
}

// Who ends the watch is told nothing of an end that surprises.
func TestLeavingIsNoBlindAlarm(t *testing.T) {
	l := watchedUntil(t, 15)
	var notes safeBuffer
	l.notes = newPrinter(&notes)
	l.left = true
	l.inputEnded(nil)
	l.notes.close(nil, time.Second)
	assert.Empty(t, notes.String())
}
