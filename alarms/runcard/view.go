package runcard

import "fmt"

// A View is a copy of all that a person is shown of a card.
type View struct {
	Name, Title string
	Steps       []StepView
	Current     int    // index of the step that is judged, len(Steps) when none is left
	Warning     string // armed, or throttle up, before what had to be done first; "" nothing
	WarningDo   string // and what to do: "disarm", "cut throttle"
	Early       string // what of that there was in the whole run; "" nothing
	Ended       bool
	Summary     string // "7 of 9 passed, 1 failed, 1 not done"
	Lacking     string // what keeps the card from being passed, "failed higher; left out sticks"; "" nothing
	Outcome     string // that in a sentence, or that it is passed

	// The steps that a person's acts are for now, "" none.
	TickID, NoID, SkipID, AgainID string
	TickWaits                     string // why nothing is ticked now, "disarm first: rotors turn"; "" it may be
	StopFirst                     bool   // that is because hands go to a craft that may start
}

// A StepView is one step.
type StepView struct {
	ID, Say, Why, IfFailed string // Say and IfFailed as things stand: no hand is led to rotors that turn
	Kind                   Kind
	State                  State
	Text                   string // what was measured, why it failed, or what it waits for
	At                     int64  // engine time of the last change
	Do                     string // what to do about one that failed, else ""
}

// View copies what is to be shown.
func (r *Run) View() *View {
	v := &View{
		Name: r.card.Name, Title: r.card.Title, Current: r.cur,
		Warning: r.unready.text, WarningDo: r.unready.do, Early: r.unready.remark(r),
		Ended: r.ended, Summary: r.summary(), Lacking: r.lacking(), Outcome: r.Outcome(), TickWaits: r.tickWaits(r.looksPerson()), Steps: make([]StepView, len(r.steps)),
	}
	for i := range r.steps {
		s, p := &r.card.Steps[i], &r.steps[i]
		v.Steps[i] = StepView{s.ID, r.say(i), s.Why, r.ifNot(i), s.Kind, p.state, p.text, p.at, r.toDo(i)}
		if i == r.cur && p.state == Now {
			v.Steps[i].Text = r.going()
		}
	}
	v.StopFirst = v.TickWaits != "" && !r.live
	if i := r.asksPerson(); i >= 0 {
		v.TickID = r.card.Steps[i].ID
		v.NoID, v.SkipID = v.TickID, v.TickID
	}
	if r.cur < len(r.steps) {
		id, st := r.card.Steps[r.cur].ID, r.steps[r.cur].state
		if st == Now {
			v.NoID = id
		} else {
			v.AgainID = id
		}
		v.SkipID = id
	}
	if r.live {
		v.SkipID = ""
	}
	if v.AgainID == "" {
		v.AgainID = r.lastDone()
	}
	return v
}

// lastDone is the step that was closed last.
func (r *Run) lastDone() string {
	id, at := "", int64(-1)
	for i := range r.steps {
		switch r.steps[i].state {
		case Passed, Failed, Skipped:
			if r.steps[i].at >= at {
				id, at = r.card.Steps[i].ID, r.steps[i].at
			}
		}
	}
	return id
}

// going says how far the current step has got.
func (r *Run) going() string {
	s := &r.card.Steps[r.cur]
	if h := r.hint.String(); h != "" {
		return h
	}
	switch {
	case s.Kind == Person && r.tickWaits(r.cur) != "":
		return r.tickWaits(r.cur)
	case s.Kind == Person:
		return "tick it when it is so"
	case r.ev.busy:
		return "stopping"
	case r.ev.since >= 0 && s.Kind != LeastOutput && s.Kind != Sticks:
		return fmt.Sprintf("%.1f of %.1f s", float64(r.now-r.ev.since)/1e6, s.seconds())
	}
	return ""
}
