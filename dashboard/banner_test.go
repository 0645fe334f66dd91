package dashboard

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// TestBannerOrder: an alarm that presses is never hidden, a blind monitor is
// hidden by nothing less, and what is over comes last.
func TestBannerOrder(t *testing.T) {
	l := newLook(256, false)
	alarm := func(p detect.Priority, active bool) alarms.AlarmView {
		a := imbalance()
		a.Priority, a.Active = p, active
		return a
	}
	lost, ended := Status{Lost: true}, Status{Ended: true}
	disk := Status{RecordError: errTest.Error()}
	for name, c := range map[string]struct {
		status Status
		silent int64
		age    time.Duration
		alarms []alarms.AlarmView
		head   string
	}{
		"disk":                      {status: disk, head: "NOT RECORDED"},
		"disk, low":                 {status: disk, alarms: []alarms.AlarmView{alarm(detect.Low, true)}, head: "NOT RECORDED"},
		"disk, medium":              {status: disk, alarms: []alarms.AlarmView{alarm(detect.Medium, true)}, head: "MEDIUM M3"},
		"disk, lost":                {status: Status{Lost: true, RecordError: "full"}, head: "NO DATA"},
		"lost, high over":           {status: lost, alarms: []alarms.AlarmView{alarm(detect.High, false)}, head: "NO DATA"},
		"lost, low":                 {status: lost, alarms: []alarms.AlarmView{alarm(detect.Low, true)}, head: "NO DATA"},
		"lost, medium":              {status: lost, alarms: []alarms.AlarmView{alarm(detect.Medium, true)}, head: "MEDIUM M3"},
		"ended, high over":          {status: ended, alarms: []alarms.AlarmView{alarm(detect.High, false)}, head: "ENDED"},
		"ended, high":               {status: ended, alarms: []alarms.AlarmView{alarm(detect.High, true)}, head: "HIGH M3"},
		"silent, high over":         {silent: 2_100_000, alarms: []alarms.AlarmView{alarm(detect.High, false)}, head: "NO DATA"},
		"silent, high":              {silent: 2_100_000, alarms: []alarms.AlarmView{alarm(detect.High, true)}, head: "HIGH M3"},
		"old, high over":            {age: 2 * time.Second, alarms: []alarms.AlarmView{alarm(detect.High, false)}, head: "OLD PICTURE"},
		"old, what it shows is too": {age: 2 * time.Second, alarms: []alarms.AlarmView{alarm(detect.High, true)}, head: "OLD PICTURE"},
		"low before high over":      {alarms: []alarms.AlarmView{alarm(detect.High, false), alarm(detect.Low, true)}, head: "LOW M3"},
		"high over":                 {alarms: []alarms.AlarmView{alarm(detect.High, false)}, head: "ENDED M3"},
	} {
		f := benchFrame()
		f.Status, f.Snap.Alarms = c.status, c.alarms
		if c.silent > 0 {
			f.Snap.SilentUS = c.silent
		}
		b := bulletinOf(f, l, c.age)
		require.Equal(t, c.head, b.head, name)
		require.Equal(t, len(c.alarms) > 1 || len(c.alarms) == 1 && !b.isAlarm, len(b.others) > 0, "%s: no alarm is lost", name)
		if b.isAlarm && (c.status.Lost || c.status.Ended || c.status.RecordError != "") {
			require.NotEmpty(t, b.urgent, name)
		}
	}
}

// TestALineThatIsGone: while the craft was armed, or nobody knows, the first picture
// after the plug already stops the rotors; disarmed it tells of the plug.
func TestALineThatIsGone(t *testing.T) {
	l := newLook(256, false)
	for name, st := range map[string]Status{"lost": {Lost: true}, "silent": {}} {
		for armed, want := range map[detect.Tri]string{detect.Yes: "CUT THROTTLE", detect.Unknown: "CUT THROTTLE", detect.No: "CHECK"} {
			f := benchFrame()
			f.Status, f.Snap.Alarms, f.Snap.Armed, f.Snap.SilentUS = st, nil, armed, 2_100_000
			b := bulletinOf(f, l, 0)
			require.Equal(t, "NO DATA", b.head, name)
			require.True(t, strings.HasPrefix(b.order, want), "%s, %v: %s", name, armed, b.order)
			require.Equal(t, armed != detect.No, strings.Contains(b.more, "cut throttle"), "%s, %v: %s", name, armed, b.more)
		}
	}
}

// TestUsualOrdersAreBig: the first actions of the detectors stand in block
// letters at 80 columns, in short forms where they must.
func TestUsualOrdersAreBig(t *testing.T) {
	const room = 80 - 2*(edgeWide+1)
	for action, want := range map[string]string{
		"ease the throttle":                                             "EASE OFF",
		"ease the throttle; check m3":                                   "EASE OFF",
		"ease off; check cable, ground and baud":                        "EASE OFF",
		"look at the bridge and its cable":                              "CHECK CABLE",
		"do not arm; correct idle_ready":                                "DO NOT ARM",
		"press stop; keep clear":                                        "PRESS STOP",
		"keep clear; cut power only from outside the propellers' reach": "KEEP CLEAR",
		"cut throttle: the monitor is blind":                            "CUT THROTTLE",
		"cut throttle; check m3":                                        "CUT THROTTLE",
		"lower the gains before you go on":                              "LOWER GAINS",
		"raise the baud or lower the stream rates":                      "RAISE BAUD",
		"look for a tilted motor":                                       "CHECK MOTORS",
		"check propeller and motor m3, then move weight ":               "CHECK MOTOR",
		"slack the hold-down, or throttle up in one go":                 "SLACK TETHER",
		"move weight forward and to the left":                           "MOVE WEIGHT",
		"check m3":                                                      "CHECK M3",
	} {
		got := fitting(bigOrder(action), room)
		require.Equal(t, want, got, action)
	}
	for _, big := range []string{"NO GOOD LINE", "WRONG BAUD?", "WRONG INPUT?", "WATCHING", "NOT WATCHING", "LISTENING",
		"CRAFT ARMED", "DISARMED", "STOP, DISARMED", "STOP, ARMED", "STILL ARMED", "OLD PICTURE", "START AGAIN", "ENDED", "END OF REPLAY", "CHECK BRIDGE",
		"CUT THROTTLE", "EASE OFF", "CHECK CABLE", "CHECK MOTORS", "SLACK TETHER", "UNPLUG PACK", "LOWER GAINS",
		"MEDIUM PITCH", "MEDIUM SETTING", "MEDIUM IDLE", "HIGH VIBRATION", "HIGH CONTROL", "LOW THROTTLE", "MEDIUM MOTORS", "MEDIUM M1+M3"} {
		rows, ok := dots(big)
		require.True(t, ok, big)
		require.LessOrEqual(t, len(rows[0]), room, big)
	}
}

// TestHintStandsInFull: who talks at the wrong speed reads all of the hint.
func TestHintStandsInFull(t *testing.T) {
	s := newStrict(t, 80, 24)
	defer s.Fini()
	still(&Frame{Snap: &alarms.Snapshot{Boot: -1, Bad: 143}, Status: Status{Baud: 57600, Hint: wrongBaud}}).Draw(s)
	rows := strings.Split(picture(s), "\n")
	edge := func(r rune) bool { return r == ' ' || r == '▒' }
	got := strings.TrimFunc(rows[6], edge) + " " + strings.TrimFunc(rows[7], edge)
	require.Equal(t, wrongBaud, got)
}

// TestOneTimeToTheLimit: while an alarm tells of an axis, its gauge does not.
func TestOneTimeToTheLimit(t *testing.T) {
	v := alarms.AxisView{Limit: 0.1, Amplitude: 0.05, FrequencyHz: 9, GrowthPerS: 0.5, TimeToLimitS: 1.4}
	require.Contains(t, paceWord(&v, false), "limit 1.4 s")
	require.NotContains(t, paceWord(&v, true), "limit")
	require.Contains(t, paceWord(&v, true), "grows 0.5/s")
	v.Amplitude = 0.0049
	require.Equal(t, "quiet", strings.TrimSpace(paceWord(&v, true)))
	v.Amplitude = 0.11
	require.Contains(t, paceWord(&v, true), "OVER")
}

// TestMarksNameTheirValue: an alarm on the whole craft marks the value it is
// about, and no other.
func TestMarksNameTheirValue(t *testing.T) {
	draw := func(a alarms.AlarmView, w, h int) string {
		f := benchFrame()
		f.Snap.Alarms = []alarms.AlarmView{a}
		s := newStrict(t, w, h)
		defer s.Fini()
		still(f).Draw(s)
		return picture(s)
	}
	for _, size := range [][2]int{{80, 24}, {140, 45}} {
		p := draw(slip(), size[0], size[1])
		require.Contains(t, p, "!idle")
		require.NotContains(t, p, "!lift")
		p = draw(thrust(), size[0], size[1])
		require.Contains(t, p, "!lift")
		require.Contains(t, p, "!stick")
		require.NotContains(t, p, "!idle")
	}
}

// TestBarKeepsWords: a key on the bar always has its word, and the weightiest
// keys are there.
func TestBarKeepsWords(t *testing.T) {
	for _, replay := range []bool{false, true} {
		for w := 40; w <= 140; w += 5 {
			keys := barKeys(shownKeys(replay), w)
			have := map[string]bool{}
			for _, k := range keys {
				require.NotEmpty(t, k.short)
				have[firstName(k.names)] = true
			}
			require.LessOrEqual(t, barWidth(keys), w)
			for _, name := range []string{"a", "?", "q"} {
				require.True(t, have[name], "%s at %d", name, w)
			}
			require.True(t, !replay || have["Space"])
		}
	}
}

// TestCalmTagCountsWhatIsMissed: a current without a limit of its own is no
// reason for a word in the banner, which stands there always; anything else is.
func TestCalmTagCountsWhatIsMissed(t *testing.T) {
	l := &look{}
	current := alarms.Lack{Name: "over-current", Why: "no rated current in the craft file (rated_a)"}
	stream := alarms.Lack{Name: "over-current", Why: "the pack stream has stopped"}
	mass := alarms.Lack{Name: "near-lift", Why: "take-off mass not known"}
	for _, c := range []struct {
		lacks []alarms.Lack
		tag   string
	}{
		{nil, ""}, {[]alarms.Lack{current}, ""}, {[]alarms.Lack{stream}, "1 KIND NOT WATCHED"},
		{[]alarms.Lack{current, mass}, "2 KINDS NOT WATCHED"}, {[]alarms.Lack{stream, mass}, "2 KINDS NOT WATCHED"},
	} {
		f := benchFrame()
		f.Snap.NotWatched = c.lacks
		b := calmBulletin(f.Snap, &f.Status, l)
		require.Equal(t, c.tag, b.tag, "%v", c.lacks)
		require.Equal(t, len(c.lacks) > 0, strings.Contains(b.text, "of 27"), "the sentence counts all of them")
	}
}

// TestStickIsUpBeforeArming: a stick that would ring with the arming is in the
// big letters before it.
func TestStickIsUpBeforeArming(t *testing.T) {
	l := &look{}
	for _, c := range []struct {
		armed detect.Tri
		share float64
		want  string
	}{{detect.No, 1, "STICK IS UP"}, {detect.No, 0.99, "WATCHING"}, {detect.Yes, 1, "WATCHING"}, {detect.Unknown, 1, "WATCHING"}} {
		f := benchFrame()
		f.Snap.Armed = c.armed
		f.Snap.Reaches = append(f.Snap.Reaches, detect.Reach{Kind: detect.StickHigh, Where: detect.Craft, Share: c.share, Limit: 0.05})
		require.Equal(t, c.want, calmBulletin(f.Snap, &f.Status, l).head, "%+v", c)
	}
}

// TestTagsOfAnAlarm: what can still be done about it, and what is known of it.
func TestTagsOfAnAlarm(t *testing.T) {
	for _, c := range []struct {
		st            Status
		active, acked bool
		want          string
	}{
		{Status{}, true, false, "NOT ACKNOWLEDGED (a)"},
		{Status{}, true, true, "acknowledged, STILL ON"},
		{Status{}, false, false, "HIGH, ENDED, kept: a clears"},
		{Status{Ended: true}, true, true, "acknowledged, ON AT THE END"},
		{Status{Ended: true}, true, false, "NOT ACKNOWLEDGED (a)"},
		{Status{Replay: true}, true, false, "NOT ACKNOWLEDGED"},
		{Status{Replay: true}, false, false, "HIGH, ENDED, kept"},
	} {
		a := oscillation()
		a.Active, a.Acknowledged = c.active, c.acked
		s := benchFrame().Snap
		s.Alarms = []alarms.AlarmView{a}
		require.Equal(t, c.want, alarmBulletin(s, 0, &c.st).tag, "%+v", c)
	}
}

// TestLowAlarmOfAnArmedCraftOnStop: whoever pressed stop walks up next.
func TestLowAlarmOfAnArmedCraftOnStop(t *testing.T) {
	for _, c := range []struct {
		priority       detect.Priority
		armed, stopped detect.Tri
		want           string
	}{
		{detect.Low, detect.Yes, detect.Yes, "STOP, ARMED"}, {detect.Low, detect.Yes, detect.No, "LOWER GAINS"},
		{detect.Low, detect.No, detect.Yes, "LOWER GAINS"}, {detect.Medium, detect.Yes, detect.Yes, "LOWER GAINS"},
	} {
		s := benchFrame().Snap
		s.Armed, s.Stopped = c.armed, c.stopped
		s.Alarms = []alarms.AlarmView{{Kind: detect.LowMargin, Where: detect.Pitch, Priority: c.priority, Active: true,
			Story: detect.Story{Action: "lower the gains before you go on"}}}
		require.Equal(t, c.want, alarmBulletin(s, 0, &Status{}).order, "%+v", c)
	}
}

// TestEndOfTheInput: what matters most where nobody watches any more.
func TestEndOfTheInput(t *testing.T) {
	wake := alarms.AlarmView{Kind: detect.SpinDisarmed, Where: detect.M3, Priority: detect.High}
	shake := alarms.AlarmView{Kind: detect.RisingOscillation, Where: detect.Roll, Priority: detect.High}
	for name, c := range map[string]struct {
		armed       detect.Tri
		blind       bool
		alarms      []alarms.AlarmView
		head, order string
	}{
		"disarmed":          {detect.No, false, nil, "ENDED", "NOT WATCHING"},
		"armed":             {detect.Yes, true, []alarms.AlarmView{shake}, "NOT WATCHED", "CUT THROTTLE"},
		"armed, noted":      {detect.Yes, false, nil, "ENDED", "WAS ARMED"},
		"a motor had woken": {detect.No, false, []alarms.AlarmView{wake}, "ENDED M3", "HANDS OFF"},
		"something rang":    {detect.No, false, []alarms.AlarmView{shake}, "ENDED", "NOT WATCHING"},
	} {
		f := benchFrame()
		f.Status.Ended, f.Status.Blind, f.Snap.Armed, f.Snap.Alarms = true, c.blind, c.armed, c.alarms
		b := bulletinOf(f, &look{}, 0)
		require.Equal(t, []string{c.head, c.order}, []string{b.head, b.order}, name)
	}
}

// TestOrdersOfTheMoment: what has been done is not asked for again, and what is
// over says whether the craft is armed; a motor that turned unasked is never
// called over.
func TestOrdersOfTheMoment(t *testing.T) {
	for name, c := range map[string]struct {
		kind           detect.Kind
		action         string
		active         bool
		armed, stopped detect.Tri
		head, order    string
	}{
		"armed":                      {detect.RisingOscillation, "cut throttle", true, detect.Yes, detect.No, "HIGH M3", "CUT THROTTLE"},
		"not known":                  {detect.RisingOscillation, "cut throttle", true, detect.Unknown, detect.No, "HIGH M3", "CUT THROTTLE"},
		"disarmed":                   {detect.RisingOscillation, "cut throttle", true, detect.No, detect.No, "HIGH M3", "DISARMED"},
		"disarmed and stopped":       {detect.RisingOscillation, "ease off; check it", true, detect.No, detect.Yes, "HIGH M3", "STOP, DISARMED"},
		"turns while disarmed":       {detect.SpinDisarmed, "keep clear", true, detect.No, detect.Yes, "HIGH M3", "KEEP CLEAR"},
		"disarmed, another order":    {detect.MotorHeat, "check m3", true, detect.No, detect.No, "HIGH M3", "CHECK M3"},
		"over, armed":                {detect.RisingOscillation, "cut throttle", false, detect.Yes, detect.No, "ENDED M3", "STILL ARMED"},
		"over, not known":            {detect.RisingOscillation, "cut throttle", false, detect.Unknown, detect.No, "ENDED M3", "STILL ARMED"},
		"over, disarmed":             {detect.RisingOscillation, "cut throttle", false, detect.No, detect.No, "ENDED M3", "DISARMED"},
		"over, on stop":              {detect.RisingOscillation, "cut throttle", false, detect.No, detect.Yes, "ENDED M3", "STOP, DISARMED"},
		"late, and stands at last":   {detect.LateStop, "keep clear", false, detect.No, detect.Yes, "ENDED M3", "HANDS OFF"},
		"turned, and stands at last": {detect.SpinDisarmed, "keep clear", false, detect.No, detect.Yes, "ENDED M3", "HANDS OFF"},
	} {
		s := benchFrame().Snap
		s.Armed, s.Stopped = c.armed, c.stopped
		s.Alarms = []alarms.AlarmView{{Kind: c.kind, Where: detect.M3, Priority: detect.High, Active: c.active,
			Story: detect.Story{Action: c.action}}}
		b := alarmBulletin(s, 0, &Status{})
		require.Equal(t, []string{c.head, c.order}, []string{b.head, b.order}, name)
	}
}

// TestOldStateIsNotNow: what the craft said of itself some time ago is not said
// as if it were so now, neither big nor in the row.
func TestOldStateIsNotNow(t *testing.T) {
	l := &look{}
	row := func(f *Frame) (out []string) {
		for _, p := range stateParts(f, l) {
			out = append(out, p.text)
		}
		return out
	}
	for _, c := range []struct {
		name           string
		armed, stopped detect.Tri
		change         func(f *Frame)
		big            string
		has, hasNot    []string
	}{
		{"now", detect.No, detect.No, func(*Frame) {}, "DISARMED", []string{"disarmed", "not stopped"}, nil},
		{"state is old, disarmed", detect.No, detect.Yes, func(f *Frame) { f.Snap.Streams[decode.State].Last -= 1_100_000 }, "ARMED?",
			[]string{"was disarmed", "stop was pressed"}, []string{"disarmed", "STOP PRESSED"}},
		{"state is old, armed", detect.Yes, detect.No, func(f *Frame) { f.Snap.Streams[decode.State].Last -= 1_100_000 }, "ARMED?",
			[]string{"was not stopped"}, []string{"ARMED 0:21"}},
		{"silence", detect.No, detect.No, func(f *Frame) { f.Snap.SilentUS = 1_100_000 }, "ARMED?", []string{"was disarmed"}, []string{"disarmed"}},
		{"port lost", detect.No, detect.No, func(f *Frame) { f.Status.Lost = true }, "DISARMED", []string{"was disarmed"}, []string{"disarmed"}},
	} {
		f := benchFrame()
		f.Snap.Armed, f.Snap.Stopped = c.armed, c.stopped
		c.change(f)
		require.Equal(t, c.big, armedWord(f.Snap), c.name)
		require.Subset(t, row(f), c.has, c.name)
		for _, no := range c.hasNot {
			require.NotContains(t, row(f), no, c.name)
		}
	}
}

// TestWhatLeftTheWatchIsLarge: a calm screen would say that it is still watched;
// what speaks of the craft as it is built stands in the list alone.
func TestWhatLeftTheWatchIsLarge(t *testing.T) {
	lift := alarms.Lack{Name: "near-lift", Why: "the load stream has stopped"}
	hold := alarms.Lack{Name: "hold-lost", Why: "the load stream has stopped"}
	line := alarms.Lack{Name: "rotor-line", Why: "no rotor speeds"}
	for _, c := range []struct {
		left        []alarms.Lack
		head, order string
	}{
		{nil, "WATCHING", "CRAFT ARMED"}, {[]alarms.Lack{line}, "WATCHING", "CRAFT ARMED"},
		{[]alarms.Lack{lift}, "NOT WATCHED", "NEAR-LIFT"}, {[]alarms.Lack{line, lift, hold}, "NOT WATCHED", "2 KINDS"},
	} {
		f := benchFrame()
		f.Snap.NotWatched, f.Snap.Left = c.left, c.left
		b := calmBulletin(f.Snap, &f.Status, &look{})
		require.Equal(t, c.head, b.head)
		require.Equal(t, c.order, b.order)
	}
}
