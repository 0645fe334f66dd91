package dashboard

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// TestStrongestActionIsLarge: of alarms of one priority the large words are those of
// the strongest action, whoever is newest and whatever lasts; what was acknowledged
// hides nothing new, and yet the new one does not ask for less than it.
func TestStrongestActionIsLarge(t *testing.T) {
	up := func(k detect.Kind, p detect.Priority, since int64, action string) alarms.AlarmView {
		return alarms.AlarmView{Kind: k, Where: detect.Craft, Priority: p, Active: true, Since: since, Story: detect.Story{Text: "a text", Action: action}}
	}
	lift := up(detect.NearLift, detect.High, 1, "cut throttle")
	runaway := up(detect.Runaway, detect.High, 2, "press stop; keep clear")
	slip := up(detect.SettingsSlip, detect.High, 1, "press stop; keep clear")
	hold := up(detect.HoldLost, detect.High, 2, "cut throttle; keep clear")
	shake := up(detect.VibrationStep, detect.Medium, 1, "press stop; keep clear")
	known, over := runaway, runaway
	known.Acknowledged, over.Active = true, false
	first := up(detect.RisingOscillation, detect.High, 1, "cut throttle")
	first.Active = false
	require.Equal(t, 0, worst([]alarms.AlarmView{first, over}), "what asks for nothing more: the first")
	heldKnown := hold
	heldKnown.Acknowledged = true
	for name, c := range map[string]struct {
		list              []alarms.AlarmView
		head, order, more string
	}{
		"stop over cut":                {[]alarms.AlarmView{lift, runaway}, "HIGH RUNAWAY", "PRESS STOP", "first: press stop; keep clear"},
		"also what lasts":              {[]alarms.AlarmView{slip, lift}, "HIGH SETTING", "PRESS STOP", "first: press stop; keep clear"},
		"keep clear over none":         {[]alarms.AlarmView{lift, hold}, "HIGH HOLD", "CUT THROTTLE", "first: cut throttle; keep clear"},
		"priority comes first":         {[]alarms.AlarmView{lift, shake}, "HIGH LIFT", "CUT THROTTLE", "first: cut throttle"},
		"what holds comes first":       {[]alarms.AlarmView{over, lift}, "HIGH LIFT", "CUT THROTTLE", "first: cut throttle"},
		"a new one is seen":            {[]alarms.AlarmView{known, lift}, "HIGH LIFT", "PRESS STOP", "first: press stop; cut throttle"},
		"with its own order":           {[]alarms.AlarmView{heldKnown, lift}, "HIGH LIFT", "CUT THROTTLE", "first: cut throttle"},
		"a lesser one that was read":   {[]alarms.AlarmView{known, shake}, "HIGH RUNAWAY", "PRESS STOP", "first: press stop; keep clear"},
		"the new one asks for as much": {[]alarms.AlarmView{known, slip}, "HIGH SETTING", "PRESS STOP", "first: press stop; keep clear"},
	} {
		for range 2 {
			f := benchFrame()
			f.Snap.Alarms = c.list
			b := bulletinOf(f, newLook(256, false), 0)
			require.Equal(t, []string{c.head, c.order, c.more}, []string{b.head, fitting(b.order, 74), b.more}, name)
			require.Equal(t, "first: "+pressingAction(f), b.more, name)
			c.list = []alarms.AlarmView{c.list[1], c.list[0]}
		}
	}
}
