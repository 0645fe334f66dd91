package detect

import "tetherbell/decode"

// lasting tells whether something has been so, line after line, for a time.
type lasting struct {
	since, last int64
	count       int
}

// lastingGap: a hole longer than so many periods, and than half a second, is
// not bridged: nobody knows what was in it. Five periods are what stale-link
// takes for a stream that stays away.
const lastingGap = 5

// see takes what one line says.
func (l *lasting) see(so bool, at int64, s *Stream) {
	if !so {
		*l = lasting{}
		return
	}
	if l.count == 0 || at-l.last > max(Second/2, int64(lastingGap*s.Period)) {
		*l = lasting{since: at}
	}
	l.last = at
	l.count++
}

// met reports whether it has been so for need seconds, by two lines at least:
// what began between two lines began half a period before the first, on
// average, so that so much may be missing.
func (l *lasting) met(need float64, s *Stream) bool {
	return l.count >= 2 && float64(l.last-l.since) >= need*float64(Second)-s.Period/2
}

// Late reports whether a stream has not come again for long after its bridge
// restarted: what it said before the restart is no more true for that.
func (s *Stream) Late(now int64) bool { return s.Awaited && s.gone(now) }

// bootTime is how long a craft may take to be there again after its pack was changed
// (common practice, no source: controllers that calibrate at start take 3 to 10 s).
const bootTime = 15 * Second

// Boots reports whether the bridge restarted beside a disarmed craft that has not
// said a word since, as where both were without their pack: that is no news for so
// long as a craft takes to start.
func (b *Bench) Boots() bool {
	s := &b.Streams[decode.State]
	if !s.Awaited || b.RestartArmed || b.Now-s.Last > bootTime {
		return false
	}
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if Vital(tag) && b.Streams[tag].Count > 0 {
			return false
		}
	}
	return true
}

// gone reports whether a stream that used to come has stayed away for so long
// that its last value says nothing of now.
func (s *Stream) gone(now int64) bool {
	limit := max(Second, int64(lastingGap*s.Period))
	if s.Period == 0 { // not learned yet: a stream of one line a second is not gone after one
		limit = unlearned
	}
	return (s.Count > 0 || s.Awaited) && now-s.Last > limit
}

// Missed reports whether a stream that came has stayed away for long.
func (s *Stream) Missed(now int64) bool { return s.gone(now) }

// unlearned is how long a stream whose pace is not known yet may stay away:
// three periods of the slowest that a bench may have, one line a second.
const unlearned = 3 * Second
