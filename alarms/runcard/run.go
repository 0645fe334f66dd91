package runcard

import (
	"slices"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// A State is how far one step has got.
type State uint8

// The states of a step.
const (
	Waiting State = iota // not its turn yet
	Now                  // this is the one to do
	ByEye                // passed over for lack of evidence: a person ticks it after disarming
	Passed
	Failed
	Skipped
)

var stateNames = [...]string{"waiting", "now", "by-eye", "passed", "failed", "skipped"}

// String is the state as marks and views spell it.
func (s State) String() string { return stateNames[s] }

// lackTime is how long evidence must be missing before a step is left to a
// person: two lines of the slowest stream, temperatures (common practice, no
// source).
const lackTime = 2 * detect.Second

// lackEvery is how often evidence is asked for: words are made of what is
// missing, which is not for every judgement.
const lackEvery = detect.Second / 4

// A Run is one card being worked through. One goroutine owns it: the engine's.
type Run struct {
	card  *Card
	steps []progress
	cur   int   // the step that is judged; len(steps) when none is left
	begun int64 // engine time at which it became the current one
	now   int64
	ended bool

	armed   detect.Tri // as was known last
	live    bool       // a hand must stay away: armed, or a rotor turns
	movedAt int64      // engine time at which it was armed or moved last, -1 never
	unready unready
	reach   reach

	stopTold bool // the stop switch has been told in this session

	restart int64 // engine time of the bridge's last restart, as was seen

	lackAt int64 // since when evidence is missing; -1 it is not
	asked  int64 // when that was looked at last
	rang   rang  // during this step
	ev     evidence
	hint   hint // what keeps this step from going on
	news   []News
}

// progress is what has come of a step.
type progress struct {
	state State
	text  string
	at    int64
	alarm string // that failed it, "" none
	first string // what that alarm has to be done first
	fits  bool   // the card's own advice is about it
}

// News is one change of a card, for those who tell people.
type News struct {
	T    int64 // engine microseconds
	Step int   // -1: the whole card
	State
	Text string // of a step: what was measured, or why it failed
	Do   string // of a step that failed: what to do
	Mark string // as it goes into a recording
	Goes bool   // of a step that is over: news of the next one follows at once
}

// NewRun begins a card. Its first news tells so.
func NewRun(c *Card) *Run {
	r := &Run{card: c, steps: make([]progress, len(c.Steps)), cur: -1, lackAt: -1, restart: -1, movedAt: -1}
	r.tell(-1, Now, c.Title, "card begin "+c.Name+": "+c.Title)
	r.advance()
	return r
}

// Card is the card that is worked through.
func (r *Run) Card() *Card { return r.card }

// News hands out what has changed since it was last called.
func (r *Run) News() []News {
	out := r.news
	r.news = nil
	return out
}

func (r *Run) tell(step int, s State, text, mark string) {
	r.news = append(r.news, News{T: r.now, Step: step, State: s, Text: text, Mark: mark})
}

// Look takes one judgement of the engine.
func (r *Run) Look(l *alarms.Look) {
	b := l.Bench
	r.now = b.Now
	r.stopTold = r.stopTold || b.Stopped != detect.Unknown
	r.follow(b)
	r.followRotors(b)
	r.reach.follow(b)
	if r.cur >= len(r.steps) || r.steps[r.cur].state != Now {
		return
	}
	s := &r.card.Steps[r.cur]
	r.ev.speeds.look(b)
	underWay := s.Kind != Person && s.Kind.armed() == (b.Armed == detect.Yes) || r.ev.busy
	if underWay || s.Kind == Person && r.armed == detect.Yes {
		r.rang.look(l, r.begun)
	}
	// What only a person sees is not what a shake, a hot motor or a torn line rings
	// for: what rang in a craft that was armed too early stands beside the tick. One
	// whose motor turns by itself is nobody's to look at.
	a := wakes(l)
	if s.Kind != Person {
		a = failing(l, s.Kind, underWay)
	}
	if a != nil {
		r.failBy(a)
		return
	}
	if s.Kind == Person {
		return
	}
	if r.broken(b) || r.lacks(l, s) {
		return
	}
	r.judge(l, s)
}

// broken sees whether the lines were interrupted: what lay before a silence or a
// restart of the bridge is not joined with what comes after, and a stop that
// nobody saw the end of is for a person to judge.
func (r *Run) broken(b *detect.Bench) bool {
	silent := float64(b.Silent) >= b.Limits.StaleSeconds*float64(detect.Second)
	if !silent && b.RestartAt == r.restart {
		return false
	}
	r.restart = b.RestartAt
	if r.ev.busy {
		r.byEye("the lines broke off during the stop: did all rotors stand soon?")
		return true
	}
	r.begun, r.lackAt = r.now, -1
	r.ev.begin()
	r.ev.speeds = speedRing{}
	return true
}

// judge asks the step's own evidence.
func (r *Run) judge(l *alarms.Look, s *Step) {
	switch s.Kind {
	case AtRest:
		r.atRest(l.Bench, s)
	case ArmedIdle:
		r.armedIdle(l.Bench, s)
	case StopTest:
		r.stopTest(l.Bench, s)
	case LeastOutput:
		r.leastOutput(l.Bench)
	case ThrottleTo:
		r.throttleTo(l, s)
	case Sticks:
		r.sticks(l, s)
	case Temperatures:
		r.temperatures(l.Bench, s)
	}
}

// lacks sees whether the bench has what the step needs, and leaves the step to
// a person where it has not. What is told only while armed is missed only then.
func (r *Run) lacks(l *alarms.Look, s *Step) bool {
	if s.Kind.armed() && armedNow(l.Bench) == detect.No {
		r.lackAt = -1
		return false
	}
	if r.now < r.asked+lackEvery {
		return r.lackAt >= 0 && !r.ev.busy
	}
	r.asked = r.now
	why := lackOf(l, s)
	switch {
	case why == "":
		r.lackAt = -1
	case r.lackAt < 0:
		r.lackAt = r.now
	case r.now-r.lackAt >= lackTime && !r.ev.busy:
		r.byEye(why)
		return true
	}
	if r.lackAt < 0 || r.ev.busy {
		return false
	}
	r.ev.since = -1 // nothing passes, and nothing holds, on what is not measured
	return true
}

// advance goes to the next step that is open.
func (r *Run) advance() {
	r.cur = max(r.cur, 0)
	for i := range r.steps {
		if st := r.steps[i].state; st == Waiting || st == Now || st == Failed {
			r.begin(i)
			return
		}
	}
	r.cur = len(r.steps)
	r.end()
}

// begin makes a step the current one. One that has failed stays so: it is the
// person who does it again.
func (r *Run) begin(i int) {
	if i == r.cur && r.steps[i].state == Now {
		return
	}
	r.cur, r.begun = i, r.now
	r.unready.rest = false
	r.lackAt, r.hint, r.rang = -1, hint{}, rang{}
	r.asked = r.now - lackEvery
	r.ev.begin()
	if r.steps[i].state == Failed {
		return
	}
	r.steps[i] = progress{state: Now, at: r.now}
	r.tell(i, Now, r.say(i), "")
}

// close ends the current step, or one that was left to a person.
func (r *Run) close(i int, s State, text string) {
	if s == Passed && i == r.cur {
		text += r.rang.remark()
	}
	r.steps[i] = progress{state: s, text: text, at: r.now}
	r.tellClosed(i)
	if s == Failed && i == r.cur {
		r.hint = hint{}
		return // the card stands here until it is done again or left out
	}
	if told := len(r.news); i == r.cur {
		r.advance()
		r.news[told-1].Goes = len(r.news) > told && r.news[told].Step >= 0
	} else if r.cur >= len(r.steps) {
		r.end()
	}
}

func (r *Run) pass(text string) { r.close(r.cur, Passed, text) }
func (r *Run) fail(text string) { r.close(r.cur, Failed, text) }

// failBy fails the current step for an alarm.
func (r *Run) failBy(a *alarms.Up) {
	p := &r.steps[r.cur]
	*p = progress{
		state: Failed, text: a.Kind.String() + " " + a.Where.String() + ": " + a.Text, at: r.now,
		alarm: a.Kind.String(), first: a.Action, fits: slices.Contains(fits[r.card.Steps[r.cur].Kind], a.Kind),
	}
	r.hint = hint{}
	r.tellClosed(r.cur)
}

// tellClosed tells what has become of a step.
func (r *Run) tellClosed(i int) {
	p := &r.steps[i]
	n := News{T: r.now, Step: i, State: p.state, Text: p.text, Do: r.toDo(i)}
	n.Mark = "card " + p.state.String() + " " + r.card.Steps[i].ID + ": " + p.text
	if n.Do != "" {
		n.Mark += "; " + n.Do
	}
	r.news = append(r.news, n)
}

func (r *Run) byEye(text string) { r.close(r.cur, ByEye, text) }

// end sums up once nothing is left to do.
func (r *Run) end() {
	for i := range r.steps {
		if st := r.steps[i].state; st == ByEye || st == Waiting || st == Now {
			return
		}
	}
	r.sumUp()
}

// Finish says that the session is over.
func (r *Run) Finish() {
	if !r.ended {
		r.sumUp()
	}
}
