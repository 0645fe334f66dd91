package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// TestStrongestActionIsTheOne: where a craft raises its own throttle until it lifts,
// picture, words and verdict all ask for the stop button, from then on and to its end.
func TestStrongestActionIsTheOne(t *testing.T) {
	sc, err := simulator.Load("height-kept")
	require.NoError(t, err)
	d := newDesk(craft.Craft{}, 0, nil, nil)
	both := 0
	var spoken aids
	for src, done := simulator.New(sc, 1), false; !done; {
		var buf []byte
		var until int64
		buf, until, done = src.Next(nil)
		d.feed(buf)
		d.tick(until / 1000)
		var s alarms.Snapshot
		d.eng.Snapshot(&s)
		if len(s.Alarms) < 2 || s.Alarms[1].Priority < detect.High || !s.Alarms[1].Active {
			continue
		}
		both++
		assert.Equal(t, detect.Runaway, s.Alarms[0].Kind)
		list, _ := spoken.namings(&s)
		assert.Equal(t, "runaway. press stop", list[0].Text)
	}
	assert.Greater(t, both, 50)
	sum := d.eng.Summary()
	assert.Contains(t, verdict(&sum, d.rings), "HIGH priority: runaway at craft")
	later := alarms.Event{Priority: detect.High, Kind: detect.NearLift, Story: detect.Story{Action: "cut throttle"}}
	d.rings.keep([]alarms.Event{later})
	assert.Equal(t, detect.Runaway, d.rings.worst.kind)
	var r rings
	stronger := alarms.Event{Priority: detect.High, Kind: detect.Runaway, Story: detect.Story{Action: "press stop; keep clear"}}
	r.keep([]alarms.Event{later, stronger})
	assert.Equal(t, detect.Runaway, r.worst.kind)
	assert.Equal(t, detect.NearLift, r.first.kind)
}

// TestWordsAskForWhatTheBannerDoes: a new alarm asks for no less than one that was
// read.
func TestWordsAskForWhatTheBannerDoes(t *testing.T) {
	s := alarms.Snapshot{Alarms: []alarms.AlarmView{
		{Kind: detect.Runaway, Where: detect.Craft, Priority: detect.High, Active: true, Acknowledged: true, Story: detect.Story{Action: "press stop; keep clear"}},
		{Kind: detect.NearLift, Where: detect.Craft, Priority: detect.High, Active: true, Story: detect.Story{Action: "cut throttle"}},
	}}
	var spoken aids
	list, _ := spoken.namings(&s)
	require.Len(t, list, 1)
	assert.Equal(t, "near lift. press stop", list[0].Text)
}
