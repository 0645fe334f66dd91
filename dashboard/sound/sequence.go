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
	hushed     bool            // the newest burst was cut for a person: what is wanted begins with free
	free       time.Time       // of a burst that was cut: when a pulse may begin again; else zero
	renewed    bool            // the newest burst cut short one of its own priority for a new alarm
	fresh      bool            // the newest burst announces a new alarm, it repeats none
	held       bool            // what is owed lets a renewed burst finish
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
	s.held = s.owed == s.last && (s.held || s.renewed && now.Before(s.end))
	p := max(want, s.owed)
	if p == detect.None {
		return detect.None, time.Time{}
	}
	if at := s.when(now, p); now.Before(at) {
		return detect.None, at
	}
	pat, _ := PatternOf(p)
	s.fresh = p == s.owed
	s.renewed = p == s.last && now.Before(s.end)
	s.last, s.owed, s.hushed, s.held, s.free = p, detect.None, false, false, time.Time{}
	s.start, s.end = now, now.Add(pat.Length())
	if want == detect.None {
		return p, time.Time{}
	}
	return p, s.when(now, want)
}

// when is the moment at which a burst of priority p may begin. A worse
// priority begins at once, a new alarm as bad as the last after the pulse that
// sounds; everything else lets the burst finish, so that an alarm is heard
// whole even when it was short. A burst that was begun anew is finished in any
// case: a volley of new alarms would leave nothing of the pattern by which the
// priority is known. After a hush nothing is left to finish.
func (s *sequence) when(now time.Time, p detect.Priority) time.Time {
	switch {
	case p > s.last:
		return now
	case s.hushed:
		return s.free
	case p == s.last && p == s.owed && !s.held:
		return s.clear(now)
	case p < s.last, p == s.owed:
		return s.end.Add(aside)
	}
	pat, _ := PatternOf(p)
	return s.end.Add(pat.Interval)
}

// cut ends the burst that sounds. With renew, whatever is wanted after it
// begins a burst as soon as the rhythm has room for a pulse.
func (s *sequence) cut(now time.Time, renew bool) {
	s.owed = detect.None
	if !now.Before(s.end) {
		return // nothing sounds, and what is wanted keeps its interval
	}
	pat, _ := PatternOf(s.last)
	s.free, s.hushed = later(s.clear(now), now.Add(pat.Gaps[0])), renew
	s.end = now
}

// replay begins the burst that sounds anew, where a device came into it, and
// says whether there is one: what follows waits for its end.
func (s *sequence) replay(now time.Time) bool {
	if !now.Before(s.end) {
		return false
	}
	s.start, s.end = now, now.Add(s.end.Sub(s.start))
	return true
}

// clear is the first moment from now on at which a pulse may begin: as long
// after the one before as two pulses of a group lie apart. Pulses of a burst
// that was begun anew never come faster than those of one that was not.
func (s *sequence) clear(now time.Time) time.Time {
	pat, ok := PatternOf(s.last)
	if !ok || !s.free.IsZero() {
		return later(now, s.free)
	}
	at := s.start
	for i := 0; at.Before(now); i++ {
		free := at.Add(pat.Pulse + pat.Gaps[0])
		if i == len(pat.Gaps) || now.Before(free) {
			return later(now, free)
		}
		at = at.Add(pat.Pulse + pat.Gaps[i])
	}
	return now
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
