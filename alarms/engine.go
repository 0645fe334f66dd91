package alarms

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

const (
	judgeStep  = 10_000            // engine microseconds between judgements
	coverStep  = detect.Second / 2 // between looks at what is not watched
	silentStep = 20_000            // between judgements in a silence of bridge time alone
	maxSilence = 10 * detect.Second
)

// Options are what the engine cannot learn from the lines.
type Options struct {
	Baud int // of the serial port; 0 when not known (a pipe, a pseudo-terminal, a file)
	// Start is the engine time of the first good line, microseconds. It is not
	// nought where a recording is taken up in its midst: what is said then has
	// the times that it has when all of it is judged.
	Start int64
	// Sources names the bridges where several are heard together, the first is
	// bridge 1; Bauds are those of their ports. Fewer than two name none.
	Sources []string
	Bauds   []int
}

// Engine turns samples and ticks into alarm events. It is not safe for
// concurrent use: one goroutine owns it.
type Engine struct {
	course
	life  life
	cover coverage

	events  []Event
	handed  bool // events were handed out: the next call starts afresh
	link    *detect.BadLinkDetector
	osc     swinger
	lines   *detect.RotorLineDetector
	trails  trails
	idles   idling
	scouted []*standIn                      // nil: all detectors are run here
	watcher Watcher                         // nil: nobody looks on
	look    Look                            // scratch
	seen    func(detect.Ailing) detect.Seen // what the line shows of that; nil: nobody looks
}

// A swinger tells how an axis swings: the detector of rising-oscillation, or who
// stands in for it.
type swinger interface {
	Now(axis int) detect.OscillationNow
}

// New returns an engine for a craft as its file tells; the bridge's craft and
// set lines fill what the file leaves out.
func New(c craft.Craft, o Options) *Engine {
	osc := detect.NewOscillation()
	return newEngine(c, o, osc, osc, detect.NewLowMargin())
}

func newEngine(c craft.Craft, o Options, now swinger, osc, margin detect.Detector) *Engine {
	e := &Engine{
		life: newLife(), events: make([]Event, 0, 64),
		link: detect.NewBadLink(), osc: now, lines: detect.NewRotorLine(),
		trails: newTrails(), idles: idling{since: -1},
	}
	e.course.start(c, o, []detect.Detector{ // causes before what they explain, see rules
		detect.NewStaleLink(), e.link, detect.NewControlLost(), detect.NewFrozenSensor(),
		detect.NewSettingsSlip(), detect.NewStickHigh(), detect.NewIdleGap(),
		detect.NewGroundThrust(), detect.NewTipOver(),
		osc, margin, detect.NewReversedResponse(), detect.NewRunaway(),
		detect.NewNearLift(), detect.NewHoldLost(), detect.NewLateStop(), detect.NewSpinDisarmed(),
		detect.NewRotorLost(), detect.NewVibrationStep(), e.lines,
		detect.NewWindup(), detect.NewOutputImbalance(),
		detect.NewMotorHeat(), detect.NewOverCurrent(), detect.NewPackSag(),
		detect.NewThrottleMismatch(), detect.NewPressureDip(),
	}, e.judge)
	e.cover = newCoverage(e.detectors)
	return e
}

// Sample takes one good line, of any tag; size is its length on the wire with
// its line end, in bytes.
func (e *Engine) Sample(s *decode.Sample, size int) {
	e.begin()
	e.observe(s, size)
	if e.scouted == nil {
		e.trails.take(e.bench.Now, e.osc, s)
	}
	e.due()
}

// Recall takes a line of before the engine's beginning, for what it tells of the
// bridge, the craft and its settings: they hold until another line says
// otherwise. Lines of other kinds tell of a moment that has passed, and are not
// taken. It counts as no line and moves no clock.
func (e *Engine) Recall(s *decode.Sample) {
	switch s.Tag {
	case decode.Hello, decode.Craft, decode.Set:
	default:
		return
	}
	e.begin()
	e.known.learn(&e.bench, s, e.clock.now)
	e.in = detect.Input{S: s, At: e.clock.now}
	for _, d := range e.detectors {
		d.Observe(&e.bench, &e.in)
	}
}

// Bad takes one rejected line of size bytes. No value of it is ever seen.
func (e *Engine) Bad(size int) {
	e.begin()
	e.bad(size)
}

// Tick takes the host's clock: milliseconds since any fixed start.
func (e *Engine) Tick(hostMS int64) {
	e.begin()
	if e.tick(hostMS) {
		e.trails.pass(e.bench.Now)
		e.due()
	}
}

// judge asks every detector, and lets the alarms live on.
func (e *Engine) judge() {
	now := e.bench.Now
	e.idles.look(&e.bench)
	for _, d := range e.detectors {
		e.found = d.Judge(&e.bench, e.found[:0])
		e.life.judge(now, d.Kind(), e.found, e)
	}
	if e.judged() {
		e.cover.look(&e.bench)
	}
	e.watch()
}

// SeeLine has alarms of the link tell what ails the line just then.
func (e *Engine) SeeLine(seen func(detect.Ailing) detect.Seen) { e.seen = seen }

// Baud is that of the port, 0 where none is known.
func (e *Engine) Baud() int { return e.bench.Baud }

// BaudOf is that of one of several ports, from 0 on, 0 where none is known.
func (e *Engine) BaudOf(bridge int) int {
	if bridge < len(e.bench.Bridges) {
		return e.bench.Bridges[bridge].Baud
	}
	return 0
}

// Now is the engine's time, microseconds since the first good line.
func (e *Engine) Now() int64 { return e.bench.Now }

// Acknowledge stops the sound of one alarm and, where its condition is gone,
// lets go of it. It reports whether there was anything to acknowledge.
func (e *Engine) Acknowledge(k detect.Kind, w detect.Where) bool {
	e.begin()
	return e.life.acknowledge(e.clock.now, k, w, e)
}

// Unacknowledged lists the alarms that Acknowledge would act on, worst first.
func (e *Engine) Unacknowledged() []AlarmView {
	var out []AlarmView
	for _, v := range e.alarmViews() {
		if !v.Acknowledged {
			out = append(out, v)
		}
	}
	return out
}

// PauseSound silences the alarms for a time, at most MaxPause seconds; a new
// high alarm ends the pause. Zero or less ends it.
func (e *Engine) PauseSound(seconds float64) {
	e.begin()
	if !(seconds > 0) || !e.clock.started {
		// Before the first good line nothing sounds and engine time stands
		// still: a pause would outlive its minute.
		e.life.pausedTo = 0
		return
	}
	seconds = min(seconds, MaxPause)
	e.life.pausedTo = e.clock.now + int64(seconds*float64(detect.Second))
}

// Finish says that the input has ended, which is no silence: what the windows
// hold is judged once more.
func (e *Engine) Finish() {
	e.begin()
	if e.clock.started {
		e.judge()
	}
	e.cover.look(&e.bench) // a session without one good line watched nothing
}

// Events returns what changed since it was last called. The slice is valid
// until the engine's next call.
func (e *Engine) Events() []Event {
	e.handed = true
	return e.events
}

// begin starts a call of the engine: events that were handed out are gone.
func (e *Engine) begin() {
	if e.handed {
		e.events, e.handed = e.events[:0], false
	}
}

// tell and emit make the engine the teller of the alarms' lives.
func (e *Engine) tell(f detect.Finding, k detect.Kind) detect.Story {
	for _, d := range e.detectors {
		if d.Kind() == k {
			s := d.Describe(&e.bench, f)
			if e.seen != nil && s.Ails.What != detect.NoAilment {
				s = s.Seen(e.seen(s.Ails))
			}
			s.Action = e.KeepOff(s.Action)
			return s
		}
	}
	return detect.Story{}
}

func (e *Engine) emit(ev Event) {
	ev.Story.Action = e.KeepOff(ev.Story.Action) // it may be of before the rotors turned
	// Both alike, so that none is shorter than nothing.
	ev.T, ev.Since = (ev.T+500)/1000*1000, (ev.Since+500)/1000*1000
	e.events = append(e.events, ev)
}
