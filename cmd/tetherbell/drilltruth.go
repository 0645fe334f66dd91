package main

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator/drill"
)

const (
	// visibleShare of its limit is the swing of an axis that a person can see on
	// the screen: twice what a sound craft shows in a calm hover.
	visibleShare = 0.2
	// swingGap: a swing that is smaller for so long, s, has been another one.
	swingGap = 0.5
	// lookUS is how often a recording's engine is looked at while the answer is
	// worked out: as often as the live desk ticks.
	lookUS = 20_000
)

// A sealedTruth is what a recording made for drills says of itself, out of a
// reader's sight: base64 keeps an eye that glances at the file from the answer,
// and is meant to keep nobody else.
type sealedTruth struct {
	Fault  bool    `json:"fault"`
	Cause  float64 `json:"cause_s"` // when it began, engine seconds; 0: not known, or from the beginning
	Lesson string  `json:"lesson"`
}

func openSeal(text []byte) (*sealedTruth, error) {
	raw, err := base64.StdEncoding.DecodeString(string(text))
	if err != nil {
		return nil, fmt.Errorf("read sealed answer: %w", err)
	}
	var s struct {
		sealedTruth
		Fault *bool `json:"fault"`
	}
	if err := json.Unmarshal(raw, &s); err != nil {
		return nil, fmt.Errorf("read sealed answer: %w", err)
	}
	if s.Fault == nil {
		return nil, errors.New("read sealed answer: it does not say whether there is a fault")
	}
	s.sealedTruth.Fault = *s.Fault
	return &s.sealedTruth, nil
}

// An answer is what was so in a recording, and what there is to say about it.
type answer struct {
	drill.Truth
	alarm  *alarms.Event // that called for a stop; nil: none did
	spent  string        // why no stop was possible any more; empty: one was
	lesson string
	err    error
}

// An examiner works out the answer to a recording by judging all of it:
//
//   - the alarm is the first event that brings one of medium or high priority;
//   - the limit is passed when an oscillation reaches its own, or when any other
//     alarm has high priority;
//   - the evidence begins, for an oscillation, where its swing last grew out of
//     what cannot be seen; for another alarm, when it was first raised in
//     whatever priority, or where the screen showed the value past its limit and
//     went on to: an alarm may wait for a steady hold. A sealed answer says when
//     the cause began, instead.
//
// There is a fault where there is an alarm, whatever a sealed answer says, and
// where a sealed answer says so.
type examiner struct {
	desk   *desk
	seal   *sealedTruth
	broken bool // there is a seal, and it cannot be read
	first  *alarms.Event
	up     map[alarmPlace]float64 // since when, of those that are up
	began  float64                // of the first, as raised
	limit  float64
	past   map[alarmPlace]pastSpan // values past their limits
	swings [3][]swing
	states []craftState // each that was another
	nextUS int64
	snap   alarms.Snapshot
}

type alarmPlace struct {
	kind  detect.Kind
	where detect.Where
}

// A pastSpan is from when to when something was so, in seconds.
type pastSpan struct{ from, last float64 }

// A craftState is what the craft said of itself from a time in seconds on.
type craftState struct {
	t float64
	alarms.State
}

// A swing is how far an axis swings, over its limit, at a time in seconds.
type swing struct{ t, share float64 }

// examine judges a recording. It is slow: a goroutine's work.
func examine(ctx context.Context, name string, about *outline, c craft.Craft) answer {
	f, err := openFile(ctx, name)
	if err != nil {
		return answer{err: err}
	}
	defer f.Close()
	x := &examiner{up: map[alarmPlace]float64{}, past: map[alarmPlace]pastSpan{}, began: drill.Never, limit: drill.Never}
	x.desk = deskOf(alarms.New(c, about.head.options()), nil, x.tell)
	s := link.NewSession(f)
	var it link.Item
	for n := 0; ; n++ {
		err := s.Next(&it)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return answer{err: readError(ctx, "recording", name, err)}
		}
		if it.Kind == link.Drill && x.seal == nil {
			x.seal, err = openSeal(it.Line)
			x.broken = err != nil // what rings is the answer then
		}
		x.desk.item(&it)
		x.look()
	}
	x.desk.finish()
	return x.answer()
}

// tell is called by the desk with what changed.
func (x *examiner) tell(events []alarms.Event) {
	for i := range events {
		e := &events[i]
		at, place := seconds(e.T), alarmPlace{e.Kind, e.Where}
		switch e.Change {
		case alarms.Cleared:
			delete(x.up, place)
			continue
		case alarms.Raised, alarms.Worsened:
		default:
			continue
		}
		if _, ok := x.up[place]; !ok && e.Priority >= detect.Low {
			x.up[place] = at
		}
		if x.first == nil && e.Priority >= detect.Medium {
			kept := *e
			x.first, x.began = &kept, min(x.up[place], x.shown(e))
		}
		if x.limit < 0 && e.Priority == detect.High && e.Kind != detect.RisingOscillation {
			x.limit = at
		}
	}
}

// shown is since when the screen has shown the value of an alarm that is raised past
// its limit; where it has not, when it is raised.
func (x *examiner) shown(e *alarms.Event) float64 {
	at := seconds(e.T)
	since := at
	for place, s := range x.past {
		if place.kind == e.Kind && place.where&e.Where != 0 && at-s.last <= swingGap {
			since = min(since, s.from)
		}
	}
	return since
}

// look notes how far the axes swing, and whether there is anything to stop.
func (x *examiner) look() {
	now, state := x.desk.eng.Now(), x.desk.eng.State()
	if n := len(x.states); n == 0 || x.states[n-1].State != state {
		x.states = append(x.states, craftState{seconds(now), state})
	}
	if now < x.nextUS {
		return
	}
	x.nextUS = now + lookUS
	x.desk.eng.Snapshot(&x.snap)
	for i := range x.snap.Reaches {
		r := &x.snap.Reaches[i]
		if r.Share < 1 {
			continue
		}
		place := alarmPlace{r.Kind, r.Where}
		s, ok := x.past[place]
		if !ok || seconds(now)-s.last > swingGap {
			s.from = seconds(now)
		}
		s.last = seconds(now)
		x.past[place] = s
	}
	for i := range x.snap.Axes {
		if a := &x.snap.Axes[i]; a.Watched && a.Limit > 0 {
			x.swings[i] = append(x.swings[i], swing{seconds(now), a.Amplitude / a.Limit})
		}
	}
}

func (x *examiner) answer() answer {
	a := answer{alarm: x.first, Truth: drill.Truth{
		Began: drill.Never, Alarm: drill.Never, Limit: drill.Never, End: seconds(x.desk.eng.Now()),
	}}
	a.Fault = x.first != nil // a seal never takes away what rings
	switch {
	case x.seal != nil && x.seal.Fault:
		a.lesson, a.Fault = x.seal.Lesson, true
	case x.seal != nil && !a.Fault:
		a.lesson = x.seal.Lesson
	case x.seal != nil:
		a.lesson = "its sealed answer calls it sound, but it rang: what rang counts"
	case x.broken:
		a.lesson = "its sealed answer is damaged: what rang counts"
	}
	if !a.Fault {
		return a
	}
	a.Limit = x.limit
	if x.first != nil {
		a.Alarm, a.Began = seconds(x.first.T), x.began
		if x.first.Kind == detect.RisingOscillation {
			for i := range x.swings {
				if x.first.Where == detect.Axis(i) {
					a.Began = beganSwing(x.swings[i], a.Alarm)
					a.Limit = sooner(a.Limit, reached(x.swings[i], a.Began))
				}
			}
		}
	}
	if x.seal != nil && x.seal.Fault && x.seal.Cause > 0 {
		a.Began = x.seal.Cause
	}
	if a.Alarm >= 0 {
		a.Began = min(a.Began, a.Alarm) // it rang: there was something to be seen
	}
	a.spent = spentBy(x.states, a.Began)
	a.Spent = a.spent != ""
	return a
}

// spentBy says why no stop was possible from a moment on: the craft was on its
// stop, or disarmed, and stayed so. It is empty where one was, or nobody knows.
func spentBy(states []craftState, began float64) (why string) {
	if began < 0 {
		return ""
	}
	for i, s := range states {
		if i+1 < len(states) && states[i+1].t <= began {
			continue // over by then
		}
		switch {
		case s.Stopped != detect.Yes && s.Armed != detect.No:
			return ""
		case why != "":
		case s.Stopped == detect.Yes:
			why = "the stop was pressed already: keep clear"
		default:
			why = "the craft was disarmed already: keep clear"
		}
	}
	return why
}

// beganSwing is where the swing that rang at a time began to be seen.
func beganSwing(s []swing, alarm float64) float64 {
	began, seen := alarm, alarm
	for i := len(s) - 1; i >= 0; i-- {
		switch {
		case s[i].t > alarm:
		case s[i].share >= visibleShare:
			if seen-s[i].t > swingGap {
				return began
			}
			began, seen = s[i].t, s[i].t
		}
	}
	return began
}

// reached is when a swing first was at its limit, from a time on.
func reached(s []swing, from float64) float64 {
	for _, w := range s {
		if w.t >= from && w.share >= 1 {
			return w.t
		}
	}
	return drill.Never
}

// sooner is the earlier of two moments, of which either may be never.
func sooner(a, b float64) float64 {
	if a < 0 || b >= 0 && b < a {
		return b
	}
	return a
}

func seconds(us int64) float64 { return float64(us) / 1e6 }
