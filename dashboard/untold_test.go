package dashboard

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// TestWaitsForTheCraft: the large letters ask to wait while what the craft is may
// still come, and no longer; an alarm goes before. The row never calls data good
// beside what is not watched for want of that.
func TestWaitsForTheCraft(t *testing.T) {
	head := func(f *Frame) string { b := bulletinOf(f, newLook(256, false), 0); return b.head + " / " + b.order }
	row := func(f *Frame) string { return dataPart(f, newLook(256, false)).text }
	f := untoldFrame()
	assert.Equal(t, "WAIT / DO NOT ARM YET", head(f))
	assert.Equal(t, "NOT ALL WATCHED", row(f))
	f.Snap.Mute = []alarms.Lack{{Name: "/dev/ttyUSB1", Why: "nothing was ever heard from this bridge: nobody knows what it carries"}}
	assert.Equal(t, "/dev/ttyUSB1: nothing was ever heard from this bridge: nobody knows what it carries", bulletinOf(f, newLook(256, false), 0).text,
		"it may be the one that says so")
	f.Snap.Mute = nil
	f.Snap.Armed, f.Snap.Stopped = detect.Yes, detect.No
	assert.Equal(t, "NOT WATCHED / 3 KINDS", head(f))
	f.Snap.Alarms = []alarms.AlarmView{oscillation()}
	assert.Contains(t, head(f), "HIGH", "what rings goes before")
	assert.Equal(t, "NOT ALL WATCHED", row(f))
	f.Snap.Alarms[0].Active = false
	assert.Equal(t, "NOT ALL WATCHED", row(f), "beside what is over and kept too")
	f = untoldFrame()
	f.Snap.Awaited = false // it never comes, or a craft file speaks
	assert.Equal(t, "WATCHING / STOP, DISARMED", head(f))
	assert.Equal(t, "NOT ALL WATCHED", row(f))
	f.Snap.Untold = nil // a sensor that the bench has not
	assert.Equal(t, "data good", row(f))
}
