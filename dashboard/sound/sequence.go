package sound

import (
	"time"

	"tetherbell/alarms/detect"
)

const (
	// settle is how long after the start of a burst a further new alarm of
	// the same priority is taken as announced by it. One event often raises
	// several alarms within some ticks; restarting for each would stretch the
	// first pulse into noise. 300 ms is a little over one pulse.
	settle = 300 * time.Millisecond
	// aside is the silence between a burst and a following one of lower
	// priority: over the longest gap inside a burst, so they do not run
	// together.
	aside = time.Second
)

// A sequence decides when a burst begins. It reads no clock.
type sequence struct {
	last       detect.Priority // of the newest burst, None before the first
	start, end time.Time       // of the newest burst
	owed       detect.Priority // a new alarm that is not announced yet
}

// step says which burst begins now, None for none, and when to ask again;
// the zero time means not before something new is wanted.
func (s *sequence) step(now time.Time, want, owed detect.Priority) (detect.Priority, time.Time) {
	s.owed = max(s.owed, owed)
	if s.owed < want {
		s.owed = detect.None // drowned by something worse
	}
	if s.owed == s.last && now.Before(s.end) && now.Sub(s.start) < settle {
		s.owed = detect.None
	}
	p := max(want, s.owed)
	if p == detect.None {
		return detect.None, time.Time{}
	}
	if at := s.when(now, p); now.Before(at) {
		return detect.None, at
	}
	pat, _ := PatternOf(p)
	s.last, s.owed = p, detect.None
	s.start, s.end = now, now.Add(pat.Length())
	if want == detect.None {
		return p, time.Time{}
	}
	return p, s.when(now, want)
}

// when is the moment at which a burst of priority p may begin. A worse
// priority, or a new alarm as bad as the last, does not wait for the end of
// the burst that sounds; everything else lets it finish, so that an alarm is
// heard whole even when it was short.
func (s *sequence) when(now time.Time, p detect.Priority) time.Time {
	switch {
	case p > s.last, p == s.last && p == s.owed:
		return now
	case p < s.last:
		return s.end.Add(aside)
	}
	pat, _ := PatternOf(p)
	return s.end.Add(pat.Interval)
}

// cut ends the burst that sounds.
func (s *sequence) cut(now time.Time) {
	s.owed = detect.None
	if now.Before(s.end) {
		s.end = now
	}
}
