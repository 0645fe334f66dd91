package alarms

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

func (r *rig) craftLine(name, layout string, v ...float64) {
	s := decode.Sample{Tag: decode.Craft, Seq: r.seq, Time: uint32(r.bridge), Text: []byte(name), Word: []byte(layout)}
	r.seq++
	for i, x := range v {
		s.Put(i, x)
	}
	r.e.Sample(&s, 80)
	r.take()
}

func (r *rig) setLine(name string, v ...float64) {
	s := decode.Sample{Tag: decode.Set, Seq: r.seq, Time: uint32(r.bridge), Word: []byte(name)}
	r.seq++
	for i, x := range v {
		s.Put(i, x)
	}
	r.e.Sample(&s, 30)
	r.take()
}

func (r *rig) disagree() []string {
	var s Snapshot
	r.e.Snapshot(&s)
	assert.Equal(r.t, s.Disagree, r.e.Summary().Disagree)
	return s.Disagree
}

// Where craft file and bridge both speak and differ, it is said; the file is
// used. What only one of them says is no disagreement.
func TestCraftFileAgainstBridge(t *testing.T) {
	r := newRig(t, 20)
	r.e = New(craft.Craft{Name: "Marsh Heron", Layout: "quad-x", Motors: 4, Poles: 14, DiameterMM: 178, MassG: 655, IdleReady: 0.08}, Options{})
	r.craftLine("Marsh Heron", "quad-x", 4, 14, 3, 177.8, 660, 4)
	r.setLine("idle_ready", 0.08)
	r.setLine("idle_least", 0.5)
	assert.Empty(t, r.disagree(), "alike, within a hundredth of mass and diameter")
	r.craftLine("Marsh Heron", "quad-x", 4, 12, 3, 178, 655, 4)
	assert.Equal(t, []string{"craft file says 14 magnet poles, the bridge 12: the file is used"}, r.disagree())
	assert.Equal(t, 14, r.e.bench.Craft.Poles)
	r.craftLine("Fen, Rail", "hex-x", 6, 12, 3, 203, 900, 4)
	r.setLine("idle_ready", 0.8)
	r.setLine("limit_oscillation", 0.3)
	assert.Equal(t, []string{
		`craft file says name "Marsh Heron", the bridge "Fen, Rail": the file is used`,
		`craft file says layout "quad-x", the bridge "hex-x": the file is used`,
		"craft file says 4 motors, the bridge 6: the file is used",
		"craft file says 14 magnet poles, the bridge 12: the file is used",
		"craft file says propeller 178 mm, the bridge 203 mm: the file is used",
		"craft file says mass 655 g, the bridge 900 g: the file is used",
		"craft file says idle_ready 0.08, the bridge 0.8: the file is used",
	}, r.disagree())
	r.craftLine("", "", 4)
	r.setLine("idle_ready")
	assert.Empty(t, r.disagree(), "what the bridge does not say is no disagreement")
}

// The journal has it once, as a note that makes no sound, however often the
// bridge says it again.
func TestDisagreementIsNoted(t *testing.T) {
	r := newRig(t, 20)
	r.e = New(craft.Craft{Poles: 14}, Options{})
	for range 4 {
		r.craftLine("Marsh Heron", "quad-x", 4, 12, 3, 178, 655, 4)
		r.setLine("idle_ready", 0.05)
		r.run(10, stateFlow(20, 0))
	}
	var told []Event
	for _, ev := range r.events {
		if ev.Kind == detect.SettingsSlip {
			told = append(told, ev)
		}
	}
	require.Len(t, told, 2)
	assert.Equal(t, []Change{Raised, Cleared}, []Change{told[0].Change, told[1].Change})
	assert.Equal(t, detect.Note, told[0].Priority)
	assert.InDelta(t, 1.0, float64(told[0].T)/1e6, 0.05, "a second after the last word of it")
	assert.Equal(t, "craft file says 14 magnet poles, the bridge 12: the file is used", told[0].Story.Text)
	assert.InDelta(t, 12.0/14, told[0].Value, 1e-9)
	var s Snapshot
	r.e.Snapshot(&s)
	assert.Zero(t, s.SoundSeq)
	assert.Len(t, s.Disagree, 1, "the lists have it for as long as it is so")
}

// A stream that the craft file promises is missed after 3 s; one that it does
// not name is not, and what came once has come, whatever the bridge does after.
func TestPromisedStreams(t *testing.T) {
	absent := func(r *rig) []Lack {
		var s Snapshot
		r.e.Snapshot(&s)
		return slices.DeleteFunc(s.Absent, func(l Lack) bool { return l.Name == "hello" }) // the rig says none
	}
	r := newRig(t, 20)
	r.e = New(craft.Craft{Sensors: craft.ListOf("temp", "out", "state", "load")}, Options{})
	r.run(2.5, stateFlow(20, 0), outFlow(50))
	assert.Empty(t, absent(r), "too early to tell")
	r.run(1.5, stateFlow(20, 0), outFlow(50))
	want := []Lack{{"temp", "the craft file promises temp lines, none came"}, {"load", "the craft file promises load lines, none came"}}
	assert.Equal(t, want, absent(r))
	assert.Subset(t, r.e.Summary().NotWatched, want)
	r.run(2, stateFlow(20, 0), outFlow(50), tempFlow())
	assert.Equal(t, want[1:], absent(r))
	r.restart()
	r.run(5, stateFlow(20, 0), outFlow(50))
	assert.Equal(t, want[1:], absent(r), "it has come before the restart")

	r = newRig(t, 20)
	r.run(5, stateFlow(20, 0))
	assert.Empty(t, absent(r), "nothing is promised")
}

// TestStreamsOfACraftFileAreTags: craft cannot ask decode, so that the two
// lists are held together here.
func TestStreamsOfACraftFileAreTags(t *testing.T) {
	for _, name := range craft.Streams {
		_, ok := decode.TagNamed(name)
		assert.True(t, ok, name)
	}
	assert.Len(t, craft.Streams, int(decode.TagCount)-4, "all but unknown, hello, craft and note")
}
