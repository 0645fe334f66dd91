package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
	"tetherbell/simulator/spoil"
)

// TestAlarmsOfTheLinkNameTheFault: who hears the alarm reads why. What the line shows
// and explains the alarm is its likely cause, and what mends that follows what is to
// be done at once; what does not explain it stands beside it.
func TestAlarmsOfTheLinkNameTheFault(t *testing.T) {
	for _, c := range []struct{ fault, alarm, cause, action, text string }{
		{"flipped-bits=3e-3@17-22", "bad-link", "flipped bits", "ease off; once rotors stand, look for noise on the cable", ""},
		{"wrong-baud@17-22", "stale-link", "wrong baud", "cut throttle: the monitor is blind; once rotors stand, set the monitor's --baud to the bridge's", ""},
		{"held-up=400@17-22", "stale-link", "held-up lines", "cut throttle: the monitor is blind; once rotors stand, take the adapter off the hub", ""},
		{"trickle@17-22", "stale-link", "trickle", "cut throttle: the monitor is blind; once rotors stand, look what keeps the bridge from sending", ""},
		{"restart=1@20", "stale-link", "supply of the bridge", "cut throttle: the monitor is blind", "; the line shows: bridge restarts"},
	} {
		got := ""
		sc, err := simulator.Load("calm")
		require.NoError(t, err)
		d := newDesk(craft.Craft{}, 0, nil, func(events []alarms.Event) {
			for i := range events {
				e := &events[i]
				if e.Kind.String() == c.alarm && e.Change != alarms.Acknowledged && (e.Story.Cause == c.cause || got == "") {
					got = e.Story.Text + "|" + e.Story.Cause + "|" + e.Story.Action
				}
			}
		})
		src := spoil.New(simulator.New(sc, 1), []spoil.Fault{parsed(t, c.fault)}, 1)
		for done := false; !done; {
			var buf []byte
			var until int64
			buf, until, done = src.Next(nil)
			d.feed(buf)
			d.tick(until / 1000)
		}
		assert.True(t, strings.HasSuffix(got, c.text+"|"+c.cause+"|"+c.action), "%s: %s", c.fault, got)
		assert.Equal(t, c.text != "", strings.Contains(got, "the line shows"), "%s: %s", c.fault, got)
	}
}

// TestWhatDoesNotExplainIsNoCause: bits that turned over keep no line away.
func TestWhatDoesNotExplainIsNoCause(t *testing.T) {
	s := detect.Story{Text: "no good line", Cause: "cable", Action: "cut throttle", Ails: detect.Ailing{What: detect.StaysAway}}
	got := s.Seen(detect.Seen{All: "flipped bits"})
	assert.Equal(t, "no good line; the line shows: flipped bits", got.Text)
	assert.Equal(t, "cable", got.Cause)
	assert.Equal(t, "cut throttle", got.Action)
	got = s.Seen(detect.Seen{All: "flipped bits, unplugged", Cause: "unplugged", Action: "fasten the plug at both ends"})
	assert.Equal(t, "no good line; the line shows: flipped bits, unplugged", got.Text)
	assert.Equal(t, "unplugged", got.Cause)
	assert.Equal(t, "cut throttle; fasten the plug at both ends", got.Action)
	assert.Equal(t, s, s.Seen(detect.Seen{}))
}

// TestFaultsOfTheLineKeepHandsOff: what mends a line waits for the rotors, also where
// it is told as it is seen; once the craft stands nothing has to wait.
func TestFaultsOfTheLineKeepHandsOff(t *testing.T) {
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	for _, fault := range []string{"wrong-baud@10-15", "lost-bytes=3e-3@10-15", "unplugged=2@10"} {
		d := newDesk(craft.Craft{}, 0, nil, nil)
		src := spoil.New(simulator.New(sc, 1), []spoil.Fault{parsed(t, fault)}, 1)
		told, off := 0, 0
		for done := false; !done; {
			var buf []byte
			var until int64
			buf, until, done = src.Next(nil)
			d.feed(buf)
			d.tick(until / 1000)
			for _, s := range d.cableSights() {
				told++
				if d.eng.State().Armed != detect.No {
					off++
					assert.True(t, strings.HasPrefix(s.Action, "disarm; "+alarms.OnceStill), "%s: %s", fault, s.Action)
				}
			}
		}
		for _, s := range d.cableSights() {
			assert.NotContains(t, s.Action, alarms.OnceStill, fault)
		}
		assert.Greater(t, off, 5, fault)
		assert.Greater(t, told, off, fault)
	}
}
