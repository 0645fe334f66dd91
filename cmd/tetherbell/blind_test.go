package main

import (
	"errors"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard"
	"tetherbell/decode/craft"
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
		first := verdictLines("x", &sum, l.desk.rings)[0]
		assert.Equal(t, c.blind, lastWord(&sum) != "" && assert.Contains(t, first, "ENDS WITH THE CRAFT ARMED"), c.name)

		l.act(dashboard.Act{Kind: dashboard.PauseSound, Seconds: 60})
		f = l.aud.latest()
		assert.Equal(t, detect.None, f.Snap.Sounding, "%s: noted", c.name)
		assert.False(t, f.Status.Blind, c.name)
		l.showNow()
		assert.Equal(t, detect.None, l.aud.latest().Snap.Sounding, "%s: for good", c.name)
	}
	assert.Empty(t, lastWord(&alarms.Summary{Last: alarms.State{Armed: detect.Yes}}), "not one good line")
}
