package dashboard

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// swappedFrame is two bridges whose cables were swapped, with what is said of it.
func swappedFrame(text, action string) *Frame {
	f := bridgesFrame(2)
	f.Snap.Bridges[0].Tags = 1<<decode.Load | 1<<decode.Temp | 1<<decode.Pack
	f.Snap.Bridges[1].Name = "/dev/ttyACM0"
	f.Snap.Bridges[1].Tags = 1<<decode.Axes | 1<<decode.Out | 1<<decode.ERPM | 1<<decode.Accel | 1<<decode.State
	f.Snap.Alarms = []alarms.AlarmView{{
		Kind: detect.StaleLink, Where: detect.Link, Priority: detect.High, Active: true, Since: f.Snap.T - 400_000,
		Story: detect.Story{Text: text, Action: action, Cause: "the cables of two bridges were swapped", Unit: "s"},
	}}
	return f
}

// The smallest usual screen says that cables were swapped in its first words, and what
// to do; once it is over, whether to go on, and which port carries what.
func TestSwappedCablesAreSaid(t *testing.T) {
	const (
		moved = "cables swapped, what /dev/ttyUSB0 carried is on /dev/ttyACM0 now: axes, out, erpm, accel, state, used from there"
		seems = "cables swapped, it seems: axes, out, erpm, accel, state come from /dev/ttyACM0 now, not from /dev/ttyUSB0 for 1.5 s, and are not used yet"
		cut   = "cut throttle and disarm; once rotors stand, look at both cables"
		not   = "do not arm; look at both cables"
	)
	screen := func(f *Frame) string {
		s := newStrict(t, 80, 24)
		defer s.Fini()
		still(f).Draw(s)
		return picture(s)
	}
	for _, c := range []struct {
		f    *Frame
		want []string
	}{
		{swappedFrame(moved, cut), []string{"cables swapped, what /dev/ttyUSB0 carried is on /dev/ttyACM0 now", "cut throttle and disarm; once rotors stand, look at both cables",
			"/dev/ttyUSB0 640/s load temp pack  /dev/ttyACM0 640/s axes out erpm +2"}},
		{swappedFrame(seems, cut), []string{"cables swapped, it seems", "cut throttle and disarm; once rotors", "look at both cables"}},
		{swappedFrame(seems, not), []string{"cables swapped, it seems", "first: do not arm; look at both cables"}},
	} {
		text := screen(c.f)
		for _, want := range c.want {
			assert.Contains(t, text, want)
		}
		assert.NotContains(t, text, "likely", "which would say it again")
		assert.NotContains(t, text, "DATA POOR")
		assert.NotContains(t, text, "...")
	}
	for _, c := range []struct {
		armed detect.Tri
		blind bool
		lacks []alarms.Lack
		want  string
	}{
		{detect.Yes, false, nil, "ports stay exchanged, all is watched as before"},
		{detect.No, false, nil, "ports stay exchanged, all is watched as before: seat plugs before you arm"},
		{detect.No, false, []alarms.Lack{{Name: "near-lift", Why: "mass of the craft not known"}}, "what is not watched stands below: read it first"},
		{detect.Yes, true, nil, "not all is watched again: do not go on"},
	} {
		f := swappedFrame(moved, cut)
		f.Snap.Alarms[0].Active, f.Snap.Armed, f.Snap.NotWatched = false, c.armed, c.lacks
		if c.blind {
			f.Snap.Streams[decode.Axes].Last -= 2_000_000
		}
		text := screen(f)
		assert.Contains(t, text, "it was: cables swapped ")
		assert.Contains(t, text, c.want)
		assert.NotContains(t, text, "...")
	}
}

// Where each port has a row of its own, that says what it carries too.
func TestPortRowsSayWhatTheyCarry(t *testing.T) {
	s := newStrict(t, 200, 60)
	defer s.Fini()
	still(swappedFrame("cables swapped", "do not arm")).Draw(s)
	assert.Regexp(t, `port 1 /dev/ttyUSB0 640/s  bad\+lost 0.0 %  load temp pack  its clock counts`, picture(s))
	assert.Regexp(t, `port 2 /dev/ttyACM0 640/s  bad\+lost 0.0 %  axes out erpm \+2  clock`, picture(s))
}

// What has ended keeps its words, however long they are.
func TestItWasKeepsItsWords(t *testing.T) {
	assert.Equal(t, "it was: no good line from b for 0.4 s, while others talk", firstClause("it was: no good line from b for 0.4 s, while others talk: axes stay away"))
	assert.Equal(t, "cables swapped, it seems", firstClause("cables swapped, it seems: axes come from b"))
}

// While the state of the craft is not known, it is not shown as known: its bridge began
// anew and has not said it since, or it comes from another bridge and is not used.
func TestStateThatIsNotUsedIsOld(t *testing.T) {
	text := func(st detect.Stream) (all string) {
		f := benchFrame()
		f.Snap.Streams[decode.State] = st
		for _, p := range stateParts(f, newLook(256, false)) {
			all += p.text + "|"
		}
		return all + armedWord(f.Snap)
	}
	now := benchFrame().Snap.T
	for _, st := range []detect.Stream{
		{Awaited: true, Last: now - 400_000},
		{Count: 90, Last: now - 400_000, Aside: now - 10_000, AsideOf: 1},
		{Count: 90, Last: now - 1_100_000},
	} {
		assert.Regexp(t, `was ARMED 0:21\|was not stopped\|.*\|ARMED\?$`, text(st), "%+v", st)
	}
	for _, st := range []detect.Stream{
		{Awaited: true, Last: now - 100_000},
		{Count: 90, Last: now - 400_000},
		{Count: 90, Last: now - 100_000, Aside: now - 10_000},
	} {
		assert.Regexp(t, `ARMED 0:21\|not stopped\|.*\|CRAFT ARMED$`, text(st), "%+v", st)
	}
}
