// Package drill scores how people call a stop.
//
// In come plain times: when the evidence of a fault began, when the alarm rang,
// when the limit was passed, when the person pressed stop. Out go a verdict,
// reaction times, rows of attempts as lines of JSON, and a table of them. All
// times are seconds of the recording's own clock, Never where a thing did not
// happen.
//
// It knows nothing of recordings, alarms or screens, and looks at no clock.
package drill

// Never stands for the time of what did not happen.
const Never = -1

// Grace is what a person gets from an alarm to the stop, seconds, where the
// limit leaves less: to take in what nobody expected, and to move a hand to a
// switch. Most drivers brake within it for an obstacle that they did not expect
// (from memory, of studies of brake reaction: a median of about 1.1 s, nine in
// ten within 1.6 s); who stands with the hand on the switch is not slower.
const Grace = 1.5

// A Truth is what was so in a recording.
type Truth struct {
	Fault bool    // something was wrong: a stop is right
	Began float64 // when it first could be seen
	Alarm float64 // when an alarm of medium or high priority first rang for it
	Limit float64 // when it was past its limit
	End   float64 // of the recording
	Spent bool    // no stop was possible any more when it could be seen: it was pressed, or the craft disarmed
}

// Deadline is the last moment of a stop in time, or Never where nothing is too
// late, or a stop does nothing any more. It is the limit, but never less than Grace after the alarm: where the
// limit comes with the alarm nobody could be in time.
func (t Truth) Deadline() float64 {
	switch {
	case t.Limit < 0, t.Spent:
		return Never
	case t.Alarm >= 0:
		return max(t.Limit, t.Alarm+Grace)
	case t.Began >= 0:
		return max(t.Limit, t.Began+Grace)
	}
	return t.Limit
}

// A Verdict says what an attempt was worth.
type Verdict uint8

// The verdicts.
const (
	LetRun  Verdict = iota // nothing was wrong, and nobody stopped
	InTime                 // stopped after the evidence began and by the deadline
	Late                   // stopped after the deadline
	NoCause                // stopped before there was any evidence, or where nothing was wrong
	Missed                 // not stopped, and something was wrong
	Clear                  // not stopped, and no stop was possible any more: to keep clear was all there was to do
)

var verdictNames = [...]string{"let run", "in time", "late", "no cause", "missed", "keep clear"}

// String returns the word that tables and files carry.
func (v Verdict) String() string { return verdictNames[v] }

// Right reports whether the person did what was to be done.
func (v Verdict) Right() bool { return v == LetRun || v == InTime || v == Clear }

// Judge weighs a stop against the truth; stop is Never where nobody stopped.
func Judge(t Truth, stop float64) Verdict {
	switch {
	case stop < 0 && t.Fault && t.Spent:
		return Clear
	case stop < 0 && t.Fault:
		return Missed
	case stop < 0:
		return LetRun
	case !t.Fault, t.Began >= 0 && stop < t.Began:
		return NoCause
	case t.Deadline() >= 0 && stop > t.Deadline():
		return Late
	}
	return InTime
}

// Since is how long after a moment the stop came, negative for before it; ok is
// false where either did not happen.
func Since(moment, stop float64) (seconds float64, ok bool) {
	return stop - moment, moment >= 0 && stop >= 0
}
