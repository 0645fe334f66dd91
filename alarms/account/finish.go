package account

import (
	"fmt"
	"reflect"

	"tetherbell/alarms"
	"tetherbell/alarms/runcard"
	"tetherbell/decode"
)

// An Ending is what the collector cannot know of a session.
type Ending struct {
	Session    Session
	NotWatched []alarms.Lack
	Card       *runcard.View // nil: no card was gone through
	BreaksOff  bool          // the recording has no end: what came after its last line is not known
}

// Finish closes the session and tells it. The collector is not to be used any
// more.
func (c *Collector) Finish(e Ending) *Account {
	b := c.bench
	now := b.Now
	if now > c.f.LastGood() && b.Link.Good > 0 {
		c.spans.quiet(c.f.LastGood(), now)
	}
	a := &Account{
		Session: e.Session, Craft: c.craft(), LengthS: seconds(now),
		Armed: c.spans.armed.until(now), Stopped: c.spans.stopped.until(now), Silent: c.spans.silent.until(now),
		Alarms: c.told.account(), Marks: append([]Mark{}, c.marks...), Settings: c.set.account(),
		NotWatched: []Lack{}, Disagree: append([]string{}, c.f.Disagree()...), Card: cardOf(e.Card),
	}
	a.Session.Remarks = append([]string{}, a.Session.Remarks...)
	a.Session.OtherCraft = append([]string{}, c.machines.said...)
	c.remarks(&a.Session)
	if n := b.WeightN(); n > 0 {
		a.WeightN = ptr(n)
	}
	a.Stick = c.stick.curve(0, "stick_throttle", "1", c.link.period(decode.State), 1)
	a.Lift = c.lift.grid.curve(0, "load_n", "N", c.link.period(decode.Load), 1)
	c.axes.account(c, a)
	c.motors.account(c, a)
	c.pack.account(c, &a.Pack)
	c.air.account(c, &a.Air)
	c.link.account(c, &a.Link)
	for _, l := range e.NotWatched {
		a.NotWatched = append(a.NotWatched, Lack{Name: l.Name, Why: l.Why, Unasked: l.Unasked()})
	}
	c.verdict(a, &e)
	round(reflect.ValueOf(a))
	return a
}

// remarks says what found no room.
func (c *Collector) remarks(s *Session) {
	for _, r := range []struct {
		n    int
		what string
	}{
		{c.told.more, "alarms"}, {c.dropped, "marks"}, {c.set.more, "settings"},
		{c.spans.count - maxSpans, "silences"},
	} {
		if r.n > 0 {
			s.Remarks = append(s.Remarks, fmt.Sprintf("%d more %s are not listed", r.n, r.what))
		}
	}
}

func (c *Collector) craft() Craft {
	k := &c.bench.Craft
	return Craft{
		Name: k.Name, Layout: k.Layout, Motors: c.bench.Motors, MassG: k.MassG, PropellerMM: k.DiameterMM, Blades: k.Blades,
		Poles: k.Poles, Cells: k.Cells, Hold: string(k.Hold), HoldRatedN: k.HoldRatedN, ArmMM: k.ArmMM,
	}
}

func cardOf(v *runcard.View) *Card {
	if v == nil {
		return nil
	}
	c := &Card{Title: v.Title, Outcome: v.Outcome, Passed: v.Lacking == "", Steps: []Step{}}
	for i := range v.Steps {
		s := &v.Steps[i]
		x := Step{Name: s.ID, Text: s.Say, State: s.State.String(), Reason: s.Text}
		if s.Do != "" {
			x.Reason += "; " + s.Do
		}
		c.Steps = append(c.Steps, x)
	}
	return c
}

// Lacking counts the kinds of alarm that were not watched, or not all the time,
// as every other count of them does.
func (a *Account) Lacking() int {
	all := make([]alarms.Lack, len(a.NotWatched))
	for i, l := range a.NotWatched {
		all[i] = alarms.Lack{Name: l.Name, Why: l.Why}
	}
	return alarms.LackingKinds(all)
}

// OfAll words the times in which no alarm at all was watched.
func (a *Account) OfAll() (out []string) {
	for _, l := range a.NotWatched {
		if text := (alarms.Lack{Name: l.Name, Why: l.Why}).OfAll(); text != "" {
			out = append(out, text)
		}
	}
	return out
}
