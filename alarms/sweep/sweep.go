// Package sweep shows, alarm by alarm, from which size on a cause is seen: it
// plays scenarios with a cause of growing size through decoder and engine, at
// several stream rates, with whole and with spoilt lines. Test code in all but
// name; the program does not use it.
package sweep

import (
	"bytes"
	"fmt"
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// A Case is one cause of one alarm.
type Case struct {
	Kind     detect.Kind
	Where    detect.Where    // any of these places
	Cause    string          // a part of the cause that must be told, "" any
	Least    detect.Priority // the least priority that counts; None: Low
	Scenario string          // an embedded scenario
	Craft    craft.Craft     // what the craft file says
	Fault    string          // what is swept, with its unit
	// Sizes of the fault, growing. The first is the run without it, which must
	// not raise the alarm; the last must raise it.
	Sizes []float64
	// Make gives the scenario a fault of that size.
	Make func(sc *simulator.Scenario, size float64) error
	// Whole says that spoilt lines are the fault itself: it is played without
	// others.
	Whole bool
	// Deaf are the rates (lines a second) at which the alarm cannot be watched,
	// and must say so.
	Deaf []float64
}

// Rates are the stream rates that the tables are for, lines a second.
var Rates = []float64{50, 200, 1000}

// BadShare is the share of lines with a bit turned over in the spoilt runs.
const BadShare = 0.05

// A Run is what one play of a case came to.
type Run struct {
	Seen       bool            // raised at the right place, with the right cause
	Priority   detect.Priority // the worst it had there
	Elsewhere  string          // the first event of the kind at another place, or with another cause
	NotWatched string          // what the summary says of the kind
	Events     []alarms.Event
}

// Prepare makes the scenario of a case at a size, a rate and a share of
// spoilt lines.
func (c *Case) Prepare(size, rate, bad float64) (simulator.Scenario, error) {
	sc, err := simulator.Load(c.Scenario)
	if err != nil {
		return sc, fmt.Errorf("load %s: %w", c.Scenario, err)
	}
	if err := c.Make(&sc, size); err != nil {
		return sc, fmt.Errorf("make %s of %g: %w", c.Fault, size, err)
	}
	SetRate(&sc, rate)
	sc.Link.Flipped = bad
	if err := sc.Check(); err != nil {
		return sc, fmt.Errorf("%s of %g at %g a second: %w", c.Fault, size, rate, err)
	}
	return sc, nil
}

// SetRate has every stream come rate times a second, or as often as it may.
// A stream that the scenario leaves out stays out.
func SetRate(sc *simulator.Scenario, rate float64) {
	r := &sc.Rates
	for _, s := range []struct {
		hz   *float64
		most float64
	}{{&r.Axes, 2000}, {&r.Out, 1000}, {&r.Accel, 2000}, {&r.ERPM, 200}, {&r.Load, 100}, {&r.Pack, 50}, {&r.Air, 50}, {&r.State, 50}} {
		if *s.hz > 0 {
			*s.hz = min(rate, s.most)
		}
	}
	sc.Link.Baud = 0
}

// Play runs a scenario through decoder and engine.
func Play(sc simulator.Scenario, c craft.Craft, seed uint64) ([]alarms.Event, alarms.Summary) {
	e := alarms.New(c, alarms.Options{})
	events := Feed(simulator.New(sc, seed), e)
	return events, e.Summary()
}

// Feed runs a bench to its end through a decoder into an engine, finishes it,
// and returns all that it said.
func Feed(sim *simulator.Bench, e *alarms.Engine) (events []alarms.Event) {
	FeedEach(sim, e, func(new []alarms.Event) { events = append(events, new...) })
	return events
}

// FeedEach is Feed for somebody who looks at the engine as it goes: each is
// called after every line, and once more at the end.
func FeedEach(sim *simulator.Bench, e *alarms.Engine, each func(events []alarms.Event)) {
	var dec decode.Decoder
	var s decode.Sample
	var out []byte
	for done := false; !done; {
		out, _, done = sim.Next(out[:0])
		for line := range bytes.Lines(out) {
			if err := dec.Decode(bytes.TrimSuffix(line, []byte("\n")), &s); err == nil {
				e.Sample(&s, len(line))
			} else {
				e.Bad(len(line))
			}
			each(e.Events())
		}
	}
	e.Finish()
	each(e.Events())
}

// Play plays a case once.
func (c *Case) Play(size, rate, bad float64, seed uint64) (Run, error) {
	sc, err := c.Prepare(size, rate, bad)
	if err != nil {
		return Run{}, err
	}
	events, sum := Play(sc, c.Craft, seed)
	r := Run{Events: events}
	least := max(c.Least, detect.Note)
	if c.Least == detect.None {
		least = detect.Low
	}
	for i := range events {
		ev := &events[i]
		if ev.Kind != c.Kind || ev.Change != alarms.Raised && ev.Change != alarms.Worsened || ev.Priority < least {
			continue
		}
		if ev.Where&c.Where == 0 || !strings.Contains(ev.Story.Cause, c.Cause) {
			if r.Elsewhere == "" {
				r.Elsewhere = ev.Plain()
			}
			continue
		}
		r.Seen = true
		r.Priority = max(r.Priority, ev.Priority)
	}
	for _, l := range sum.NotWatched {
		if l.Name == c.Kind.String() {
			r.NotWatched = l.Why
		}
	}
	return r, nil
}

// Cases are all causes that are swept.
func Cases() []Case {
	var all []Case
	for _, part := range [][]Case{powerCases, stickCases, rotorCases, lineCases, balanceCases, motionCases, settingsCases} {
		all = append(all, part...)
	}
	return all
}
