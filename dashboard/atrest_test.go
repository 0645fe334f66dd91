package dashboard

import (
	"strings"
	"testing"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// restFrame is a bench on which nothing turns, with an alarm that is still up.
func restFrame(kind detect.Kind, action string) *Frame {
	f := benchFrame()
	s := f.Snap
	s.Armed, s.Stopped = detect.Yes, detect.Yes
	now := func(v float64) detect.Reading { return detect.Reading{V: v, OK: true, At: s.T - 50_000} }
	for i := range s.Motors {
		s.Motors[i].Out, s.Motors[i].RPM = now(0), now(0)
	}
	s.LiftN, s.LiftShare = now(0.1), now(0.02)
	s.Alarms = []alarms.AlarmView{{Kind: kind, Where: detect.Roll, Priority: detect.High, Active: true, Since: s.T - 4_000_000,
		Story: detect.Story{Text: "roll oscillates at 13.6 Hz, 0.262 of full output: over the limit", Action: action}}}
	return f
}

// TestDoneIsNotAskedForAgain: with stop pressed and nothing turning the banner
// says what is next; whatever leaves a doubt whether anything turns, and it asks
// for the first action on.
func TestDoneIsNotAskedForAgain(t *testing.T) {
	const cut = "cut throttle"
	for name, c := range map[string]struct {
		kind        detect.Kind
		action      string
		change      func(f *Frame)
		order, more string
	}{
		"stopped":               {change: func(*Frame) {}, order: "STOP, ARMED", more: "next: disarm, do not arm again; find out why"},
		"disarmed":              {change: func(f *Frame) { f.Snap.Armed = detect.No }, order: "STOP, DISARMED", more: "next: do not arm again; find out why"},
		"disarmed, stop let go": {change: func(f *Frame) { f.Snap.Armed, f.Snap.Stopped = detect.No, detect.No }, order: "DISARMED", more: "next: do not arm again; find out why"},
		"the rest of an action stays": {action: "cut throttle; keep clear of m3", change: func(*Frame) {}, order: "STOP, ARMED",
			more: "next: disarm, do not arm again; find out why; keep clear of m3"},
		"stop was the action":       {action: "press stop; keep clear", change: func(*Frame) {}, order: "STOP, ARMED", more: "next: disarm, do not arm again; find out why; keep clear"},
		"not stopped":               {change: func(f *Frame) { f.Snap.Stopped = detect.No }},
		"one is told to turn":       {change: func(f *Frame) { f.Snap.Motors[2].Out.V = 0.01 }},
		"one turns":                 {change: func(f *Frame) { f.Snap.Motors[2].RPM.V = 40 }},
		"one speed is not known":    {change: func(f *Frame) { f.Snap.Motors[2].RPM.OK = false }},
		"one output is not known":   {change: func(f *Frame) { f.Snap.Motors[2].Out.OK = false }},
		"speeds are old":            {change: func(f *Frame) { f.Snap.Motors[0].RPM.At -= restFresh }},
		"outputs are old":           {change: func(f *Frame) { f.Snap.Motors[0].Out.At -= restFresh }},
		"lift is old":               {change: func(f *Frame) { f.Snap.LiftN.At -= restFresh }},
		"lift is not known":         {change: func(f *Frame) { f.Snap.LiftN = detect.Reading{} }},
		"it lifts":                  {change: func(f *Frame) { f.Snap.LiftShare.V = 0.11 }},
		"cells show less than none": {change: func(f *Frame) { f.Snap.LiftShare.V = -0.11 }},
		"it lifts, no weight known": {change: func(f *Frame) { f.Snap.LiftShare, f.Snap.LiftN.V = detect.Reading{}, 1.1 }},
		"state is old":              {change: func(f *Frame) { f.Snap.Streams[decode.State].Last -= restFresh + 1 }},
		"speeds are in doubt":       {change: func(f *Frame) { f.Snap.Doubted = []decode.Tag{decode.ERPM} }},
		"lines are lost":            {change: func(f *Frame) { f.Snap.BadShare = 0.1 }},
		"a sensor is frozen": {change: func(f *Frame) {
			f.Snap.Alarms = append(f.Snap.Alarms, alarms.AlarmView{Kind: detect.FrozenSensor, Priority: detect.Low, Active: true})
		}},
		"no motor is known": {change: func(f *Frame) { f.Snap.Motors = nil }},
		"the input ended":   {change: func(f *Frame) { f.Status.Ended = true }},
		"the port is lost":  {change: func(f *Frame) { f.Status.Lost = true }},
		"it turned unasked": {kind: detect.LateStop, action: "cut throttle; keep clear", change: func(*Frame) {}, more: "first: cut throttle; keep clear"},
	} {
		if c.kind == 0 {
			c.kind = detect.RisingOscillation
		}
		if c.action == "" {
			c.action = cut
		}
		if c.order == "" {
			c.order = "CUT THROTTLE"
		}
		if c.more == "" {
			c.more = "first: " + c.action
		}
		f := restFrame(c.kind, c.action)
		c.change(f)
		b := alarmBulletin(f.Snap, 0, &f.Status)
		require.Equal(t, c.more, b.more, name)
		require.Equal(t, c.order, fitting(b.order, 74), name)
		require.Equal(t, strings.HasPrefix(c.more, "next: "), strings.HasPrefix(b.text, itWas), name)
	}
}

// TestOverIsNotCutToNothing: what an alarm said that is over keeps its sense where
// the room is small.
func TestOverIsNotCutToNothing(t *testing.T) {
	f := restFrame(detect.RisingOscillation, "cut throttle")
	f.Snap.Alarms[0].Story.Cause = "loop gain too high, or the craft rocks on its feet"
	s := newStrict(t, 80, 24)
	defer s.Fini()
	still(f).Draw(s)
	got := picture(s)
	require.NotContains(t, got, "it was ·")
	require.Contains(t, got, "it was: roll oscillates at 13.6 Hz")
	require.Contains(t, got, "do not arm again; find out why")
}

// TestEndedAlarmIsTakenAtTheEnd: an alarm that is named beside the end of the input
// is acknowledged by the key that the bar offers; beside a picture that is old it
// is not, for nobody knows what is now.
func TestEndedAlarmIsTakenAtTheEnd(t *testing.T) {
	for name, c := range map[string]struct {
		change func(f *Frame)
		taken  bool
	}{
		"ended":       {func(f *Frame) { f.Status.Ended, f.Snap.Armed = true, detect.No }, true},
		"port lost":   {func(f *Frame) { f.Status.Lost = true }, true},
		"old picture": {func(*Frame) {}, false},
	} {
		f := benchFrame()
		a := oscillation()
		a.Active = false
		f.Snap.Alarms = []alarms.AlarmView{a}
		c.change(f)
		b := still(f)
		var acts []Act
		b.act = func(a Act) { acts = append(acts, a) }
		s := newStrict(t, 200, 60)
		if !c.taken {
			later(b, 2*oldPicture)
		}
		b.Draw(s)
		require.Contains(t, picture(s), "ended HIGH pitch rising-oscillation", name)
		later(b, seenAfter)
		b.press(tcell.NewEventKey(tcell.KeyRune, 'a', tcell.ModNone))
		s.Fini()
		if !c.taken {
			require.Empty(t, acts, name)
			continue
		}
		require.Equal(t, []Act{{Kind: Acknowledge, Alarm: detect.RisingOscillation, Where: detect.Pitch}}, acts, name)
	}
}

// TestGaugeOfAnAlarmSaysNow: the words of an alarm are as old as it was told; the
// gauge beside them says that it is of now.
func TestGaugeOfAnAlarmSaysNow(t *testing.T) {
	f := restFrame(detect.RisingOscillation, "cut throttle")
	for i := range f.Snap.Reaches {
		if r := &f.Snap.Reaches[i]; r.Kind == detect.RisingOscillation {
			r.Where, r.Value, r.Limit, r.Share = detect.Roll, 0.212, 0.1, 2.12
		}
	}
	s := newStrict(t, 80, 24)
	defer s.Fini()
	still(f).Draw(s)
	require.Contains(t, picture(s), "now 0.212 of 0.100")
	require.Contains(t, picture(s), "rising-oscillation, 4.0 s ago")
}

// TestDoubtSaysWhyAndWhat: values that cannot be so blind alarms; the banner says
// which, why and what to do, and nothing calls such data good.
func TestDoubtSaysWhyAndWhat(t *testing.T) {
	for _, armed := range []detect.Tri{detect.Yes, detect.No} {
		f := doubtFrame()
		f.Snap.Armed = armed
		s := newStrict(t, 80, 24)
		still(f).Draw(s)
		got := picture(s)
		s.Fini()
		b := calmBulletin(f.Snap, &f.Status, &look{})
		want := []string{"near-lift, hold-lost", "lift falls as the rotors turn faster", "LOAD IN DOUBT", "check load's"}
		order := "EASE OFF"
		if armed == detect.No {
			order = "DO NOT ARM"
		} else {
			want = append(want, "first: ease off, disarm; once rotors")
		}
		require.Equal(t, []string{"NOT WATCHED", order}, []string{b.head, fitting(b.order, 74)})
		for _, w := range want {
			require.Contains(t, got, w)
		}
		require.NotContains(t, got, "data good")
	}
}

// TestCraftInDoubtIsLarge: a craft that is not the file's keeps from arming, in the
// large letters, and so does a lift that cannot be right.
func TestCraftInDoubtIsLarge(t *testing.T) {
	const why = "craft file says 4 motors, the bridge 6" + detect.OtherFile
	for _, c := range []struct {
		armed       detect.Tri
		order, more string
	}{
		{detect.No, "DO NOT ARM", "first: name this craft's file, or correct it"},
		{detect.Yes, "EASE OFF", "first: ease off, disarm; name this craft's file, or correct it"},
	} {
		f := benchFrame()
		f.Snap.Armed = c.armed
		f.Snap.Keeps, f.Snap.Doubted = []alarms.Lack{{Name: "craft", Why: why}}, []decode.Tag{decode.Craft}
		f.Snap.NotWatched = []alarms.Lack{{Name: "near-lift", Why: why}}
		b := calmBulletin(f.Snap, &f.Status, &look{})
		require.Equal(t, []string{"CRAFT IN DOUBT", c.order, c.more, why}, []string{b.head, fitting(b.order, 74), b.more, b.text})
		require.Equal(t, detect.Medium, b.level)
		s := newStrict(t, 80, 24)
		still(f).Draw(s)
		got := picture(s)
		s.Fini()
		require.Contains(t, got, " CRAFT IN DOUBT │")
		require.Contains(t, got, "craft file says 4 motors, the bridge 6")
		require.Contains(t, got, c.more)
		require.NotContains(t, got, "data good")
	}
}

// TestLeavingIsLarge: a watch that is about to end says so above all that it shows.
func TestLeavingIsLarge(t *testing.T) {
	f := benchFrame()
	f.Status.Leaving = "ended by a signal (hangup) while the craft may be ARMED: the watch ends"
	for _, list := range [][]alarms.AlarmView{nil, {oscillation()}} {
		f.Snap.Alarms = list
		b := bulletinOf(f, newLook(256, false), 0)
		require.Equal(t, []string{"WATCH ENDS", "CUT THROTTLE"}, []string{b.head, b.order})
		require.Len(t, b.others, len(list))
		require.Equal(t, "WATCH ENDS", stateParts(f, newLook(256, false))[0].text)
	}
}

// TestObeyedIsNotAskedForAgain: with the throttle cut and the outputs behind it the
// banner says what is next; where they do not follow the stick, or nobody knows, it
// asks for the first action on.
func TestObeyedIsNotAskedForAgain(t *testing.T) {
	for name, c := range map[string]struct {
		kind        detect.Kind
		action      string
		change      func(f *Frame)
		order, more string
	}{
		"obeyed":            {order: "DISARM", more: "next: disarm, do not arm again; find out why"},
		"with a cause":      {change: func(f *Frame) { f.Snap.Alarms[0].Story.Cause = "gains" }, order: "DISARM", more: "next: disarm, find why"},
		"the rest stays":    {action: "cut throttle; disarm; keep clear of m3", order: "DISARM", more: "next: disarm, do not arm again; find out why; keep clear of m3"},
		"eased":             {action: "ease off; once rotors stand, check m3", order: "DISARM", more: "next: disarm, do not arm again; find out why; once rotors stand, check m3"},
		"not for long":      {change: func(f *Frame) { f.Snap.IdlesUS = idleLeast - 1 }},
		"it does not idle":  {change: func(f *Frame) { f.Snap.IdlesUS = 0 }},
		"state is old":      {change: func(f *Frame) { f.Snap.Streams[decode.State].Last -= restFresh + 1 }},
		"no control link":   {change: func(f *Frame) { f.Snap.ControlOK = detect.No }},
		"lines are lost":    {change: func(f *Frame) { f.Snap.BadShare = 0.1 }},
		"values in doubt":   {change: func(f *Frame) { f.Snap.Doubted = []decode.Tag{decode.ERPM} }},
		"the input ended":   {change: func(f *Frame) { f.Status.Ended = true }},
		"it asks for stop":  {action: "press stop; keep clear", order: "PRESS STOP", more: "first: press stop; keep clear"},
		"it turned unasked": {kind: detect.LateStop},
		"stop was read": {order: "PRESS STOP", more: "first: press stop; cut throttle", change: func(f *Frame) {
			f.Snap.Alarms = append(f.Snap.Alarms, alarms.AlarmView{Kind: detect.Runaway, Priority: detect.High, Active: true, Acknowledged: true,
				Story: detect.Story{Action: "press stop; keep clear"}})
		}},
	} {
		if c.kind == 0 {
			c.kind = detect.RisingOscillation
		}
		if c.action == "" {
			c.action = "cut throttle"
		}
		if c.order == "" {
			c.order, c.more = "CUT THROTTLE", "first: "+c.action
		}
		f := restFrame(c.kind, c.action)
		f.Snap.Stopped, f.Snap.IdlesUS = detect.No, idleLeast
		f.Snap.Motors[0].Out.V, f.Snap.Motors[0].RPM.V = 0.08, 2000
		if c.change != nil {
			c.change(f)
		}
		b := alarmBulletin(f.Snap, 0, &f.Status)
		require.Equal(t, []string{c.order, c.more}, []string{fitting(b.order, 74), b.more}, name)
	}
}

// TestEndedSaysWhatIsNext: what has ended is not mended.
func TestEndedSaysWhatIsNext(t *testing.T) {
	for _, c := range []struct {
		armed       detect.Tri
		p           detect.Priority
		cause, more string
	}{
		{detect.Yes, detect.High, "", "next: disarm, do not arm again; find out why; once rotors stand, check m3"},
		{detect.Yes, detect.High, "gains", "next: disarm, find why; once rotors stand, check m3"},
		{detect.Yes, detect.Medium, "gains", "next: find why before you go on; once rotors stand, check m3"},
		{detect.Yes, detect.Medium, "", "next: find out why before you go on; once rotors stand, check m3"},
		{detect.No, detect.High, "", "next: do not arm again; find out why; once rotors stand, check m3"},
		{detect.No, detect.High, "gains", "next: find why before you arm; once rotors stand, check m3"},
	} {
		f := restFrame(detect.RisingOscillation, "cut throttle; once rotors stand, check m3")
		a := &f.Snap.Alarms[0]
		a.Active, a.Priority, a.Story.Cause, f.Snap.Armed = false, c.p, c.cause, c.armed
		require.Equal(t, c.more, alarmBulletin(f.Snap, 0, &f.Status).more)
	}
}
