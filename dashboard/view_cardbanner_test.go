package dashboard

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
)

// early is a card whose craft was armed too soon.
func early(t testing.TB) *runcard.View {
	v := cardView(t, 2)
	v.Warning = "armed, but 4 steps are not done: straps, leads, area-clear, hands-off"
	v.WarningDo = "disarm"
	v.TickID, v.TickWaits = "", "disarm first: rotors turn"
	return v
}

// raised is a card whose throttle was raised too soon.
func raised(t testing.TB) *runcard.View {
	v := cardView(t, 7)
	v.Warning, v.WarningDo = "throttle up, but a step is not done: stop", "cut throttle"
	return v
}

// TestArmedTooSoonIsInTheBanner: in its big letters, but never before an alarm
// that presses, nor before what makes the monitor blind.
func TestArmedTooSoonIsInTheBanner(t *testing.T) {
	l := newLook(256, false)
	alarm := func(p detect.Priority, active bool) []alarms.AlarmView {
		a := imbalance()
		a.Priority, a.Active = p, active
		return []alarms.AlarmView{a}
	}
	for name, c := range map[string]struct {
		card        *runcard.View
		status      Status
		alarms      []alarms.AlarmView
		head, order string
		tag         string
	}{
		"throttle":       {card: raised(t), head: "CARD NOT DONE", order: "CUT THROTTLE", tag: "THROTTLE TOO EARLY"},
		"calm":           {card: early(t), head: "CARD NOT DONE", order: "DISARM", tag: "ARMED TOO EARLY"},
		"low":            {card: early(t), alarms: alarm(detect.Low, true), head: "CARD NOT DONE", order: "DISARM"},
		"high over":      {card: early(t), alarms: alarm(detect.High, false), head: "CARD NOT DONE", order: "DISARM"},
		"disk":           {card: early(t), status: Status{RecordError: "full"}, head: "CARD NOT DONE", order: "DISARM"},
		"medium":         {card: early(t), alarms: alarm(detect.Medium, true), head: "MEDIUM M3", order: "LAND, THEN LOOK AT M3"},
		"high":           {card: early(t), alarms: alarm(detect.High, true), head: "HIGH M3", order: "LAND, THEN LOOK AT M3"},
		"lost":           {card: early(t), status: Status{Lost: true}, head: "NO DATA", order: "CUT THROTTLE"},
		"as it should":   {card: cardView(t, 7), status: Status{Lost: true}, head: "NO DATA", order: "CUT THROTTLE"},
		"no card at all": {status: Status{Lost: true}, head: "NO DATA", order: "CUT THROTTLE"},
	} {
		f := benchFrame()
		f.Card, f.Status, f.Snap.Alarms = c.card, c.status, c.alarms
		b := bulletinOf(f, l, 0)
		require.Equal(t, c.head, b.head, name)
		require.Equal(t, c.order, b.order, name)
		if b.head == "CARD NOT DONE" {
			require.True(t, b.filled && b.level == detect.Medium, name)
			require.True(t, c.tag == "" || c.tag == b.tag, "%s: %s", name, b.tag)
			require.Equal(t, len(c.alarms), len(b.others), "%s: no alarm is lost", name)
		}
	}
}

// TestArmedTooSoonIsOnTheCard: what to do stands first, in whole.
func TestArmedTooSoonIsOnTheCard(t *testing.T) {
	for open, want := range map[bool]string{
		false: "card: DISARM: armed, but 4 steps are not done: straps",
		true:  "DISARM: armed, but 4 steps are not done: straps, leads, area-clear, hands-off",
	} {
		s := newStrict(t, 80, 24)
		f := benchFrame()
		f.Card = early(t)
		b := still(f)
		b.card = open
		b.Draw(s)
		got := strings.Join(strings.Fields(picture(s)), " ")
		require.Contains(t, got, want, "card open: %v", open)
		s.Fini()
	}
}

// TestCardGivesNoOtherAdvice: while an alarm presses, the card says what the
// banner says, on its view and in its line, and nothing of its own.
func TestCardGivesNoOtherAdvice(t *testing.T) {
	failed := cardStates(t)["failed"]
	for name, c := range map[string]struct {
		card     *runcard.View
		pressing bool
		want     string
		never    []string
	}{
		"failed, and it rings":     {failed, true, "do: land, then look at m3", []string{"cut throttle", "gains"}},
		"failed, and over":         {failed, false, "do: cut throttle, disarm, keep clear until all rotors stand. Then: Lower the gains", nil},
		"under way, and it rings":  {cardView(t, 10), true, "why: ", []string{"if not", "cut throttle"}},
		"under way, nothing rings": {cardView(t, 10), false, "if not: cut throttle, disarm", nil},
	} {
		for _, open := range []bool{true, false} {
			s := newStrict(t, 140, 45)
			f := benchFrame()
			f.Card = c.card
			if c.pressing {
				f.Snap.Alarms = []alarms.AlarmView{imbalance()}
			}
			b := still(f)
			b.card = open
			b.Draw(s)
			got := strings.Join(strings.Fields(picture(s)), " ")
			if open {
				require.Contains(t, got, c.want, name)
			} else if c.card == failed && c.pressing {
				require.Contains(t, got, "higher FAILED: land, then look at m3", name)
			}
			for _, w := range c.never {
				require.NotContains(t, got, w, "%s, card open: %v", name, open)
			}
			s.Fini()
		}
	}
}

// TestCardInTheCalmBanner: from across the room the step that is due can be read,
// and in the end what the card came to, in big letters that fit 80 columns.
func TestCardInTheCalmBanner(t *testing.T) {
	ended := func(lacking string) *runcard.View {
		v := cardView(t, 16)
		v.Ended, v.Lacking = true, lacking
		return v
	}
	long := cardView(t, 2)
	long.Steps[2].ID = "all-straps-and-leads"
	look := cardView(t, 16)
	look.Steps[14].State = runcard.ByEye
	coasts := cardView(t, 16)
	coasts.Steps[14].State, coasts.TickWaits = runcard.ByEye, "keep clear: rotors turn, or may still turn"
	stop := cardView(t, 2)
	stop.TickID, stop.TickWaits, stop.StopFirst = "", "press stop first: the pack is in, 16.3 V", true
	lookStop := cardView(t, 16)
	lookStop.Steps[14].State, lookStop.TickWaits, lookStop.StopFirst = runcard.ByEye, stop.TickWaits, true
	for name, c := range map[string]struct {
		card  *runcard.View
		armed detect.Tri
		set   func(f *Frame)
		head  string
		order string
	}{
		"a step":                  {card: cardView(t, 2), armed: detect.No, head: "3 STRAPS?", order: "DISARMED"},
		"a step, stop first":      {card: stop, armed: detect.No, head: "3 STRAPS?", order: "PRESS STOP"},
		"a look, stop first":      {card: lookStop, armed: detect.No, head: "LOOK AT CARD", order: "PRESS STOP"},
		"one that is measured":    {card: cardView(t, 5), armed: detect.No, head: "6 HANDS-OFF", order: "DISARMED"},
		"a step, armed":           {card: cardView(t, 10), armed: detect.Yes, head: "11 HIGHER", order: "CRAFT ARMED"},
		"a long name":             {card: long, armed: detect.No, head: "STEP 3?", order: "DISARMED"},
		"failed":                  {card: cardStates(t)["failed"], armed: detect.No, head: "11 HIGHER FAILED", order: "DISARMED"},
		"to be looked at":         {card: look, armed: detect.No, head: "LOOK AT CARD", order: "DISARMED"},
		"to be looked at, armed":  {card: look, armed: detect.Yes, head: "WATCHING", order: "CRAFT ARMED"},
		"to be looked at, coasts": {card: coasts, armed: detect.No, head: "WATCHING", order: "DISARMED"},
		"passed":                  {card: ended(""), armed: detect.No, head: "CARD PASSED", order: "DISARMED"},
		"not passed":              {card: ended("left out sticks"), armed: detect.No, head: "CARD NOT PASSED", order: "DISARMED"},
		"passed, armed again":     {card: ended(""), armed: detect.Yes, head: "WATCHING", order: "CRAFT ARMED"},
		"no card":                 {armed: detect.No, head: "WATCHING", order: "DISARMED"},
		"passed, an alarm is on":  {card: ended(""), armed: detect.No, set: func(f *Frame) { f.Snap.Alarms = []alarms.AlarmView{imbalance()} }, head: "MEDIUM M3", order: "LAND, THEN LOOK AT M3"},
		"passed, one is kept":     {card: ended(""), armed: detect.No, set: func(f *Frame) { a := imbalance(); a.Active = false; f.Snap.Alarms = []alarms.AlarmView{a} }, head: "ENDED M3", order: "DISARMED"},
		"a step, nothing watched": {card: cardView(t, 2), armed: detect.No, set: func(f *Frame) { f.Snap.NotWatched = make([]alarms.Lack, detect.KindCount) }, head: "NOT WATCHING", order: "DISARMED"},
	} {
		f := benchFrame()
		f.Card, f.Snap.Armed = c.card, c.armed
		if c.set != nil {
			c.set(f)
		}
		b := bulletinOf(f, newLook(256, false), 0)
		require.Equal(t, c.head, b.head, name)
		require.Equal(t, c.order, b.order, name)
		if rows, ok := dots(b.head); c.set == nil {
			require.True(t, ok && len(rows[0]) <= 78, name)
		}
	}
	b := bulletin{head: "WATCHING"}
	f := benchFrame()
	f.Card, f.Snap.Armed = ended("failed higher; left out sticks"), detect.No
	headCard(&b, f)
	require.Equal(t, "failed higher; left out sticks", b.more, "and which")
}

// TestBuiltInCardsAreReadAtOnce: the id of each step stands in the big letters of
// 80 columns, and what to do is not cut in the rows of as many.
func TestBuiltInCardsAreReadAtOnce(t *testing.T) {
	for _, c := range runcard.List() {
		v := &runcard.View{Name: c.Name, Title: c.Title}
		for _, s := range c.Steps {
			v.Steps = append(v.Steps, runcard.StepView{ID: s.ID, Say: s.Say, Kind: s.Kind})
		}
		f := benchFrame()
		f.Card, f.Snap.Armed = v, detect.No
		for i := range c.Steps {
			id := c.Steps[i].ID
			v.Current, v.Steps[i].State = i, runcard.Now
			want := strconv.Itoa(i+1) + " " + strings.ToUpper(id)
			if c.Steps[i].Kind == runcard.Person {
				want += "?"
			}
			require.Equal(t, want, bulletinOf(f, newLook(256, false), 0).head, c.Name)
			require.LessOrEqual(t, len(id), 10, id)
			line := cardLine(f, newLook(256, false))
			require.Equal(t, line, cutTo(line, 78), "%s of %s", id, c.Name)
			v.Steps[i].State = runcard.Waiting
			rows, _, _ := cardRows(v, "", 80, 0)
			for _, r := range rows {
				require.NotContains(t, r.text, "...", "%s of %s", id, c.Name)
			}
		}
	}
}
