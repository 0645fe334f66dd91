package sound

import (
	"time"

	"tetherbell/alarms/detect"
)

// A Standin strikes the terminal's bell in the place of a player that stands still. The groups are those of the
// bell's own: three strokes for high, two for medium. That nothing is heard is
// itself said by two strokes now and then.
type Standin struct {
	next time.Time       // of a stroke; zero: the sound goes
	left int             // of the group under way
	at   time.Time       // of the last stroke
	last detect.Priority // that was asked for
}

// Strike says whether the bell is to be struck now, while down: for what should be heard.
// It is asked every few hundredths of a second. What is worse than before begins a group
// of its own: it waits for no pause of what was there.
func (s *Standin) Strike(now time.Time, down bool, sounding detect.Priority) bool {
	if !down {
		*s = Standin{}
		return false
	}
	if worse := sounding > s.last && !s.next.IsZero(); worse {
		s.left, s.next = 0, s.at.Add(stroke)
	}
	s.last = sounding
	if !s.next.IsZero() && now.Before(s.next) {
		return false
	}
	strokes, pause := 2, 10*time.Second
	switch sounding {
	case detect.High:
		strokes, pause = 3, 2*time.Second
	case detect.Medium:
		pause = 4 * time.Second
	}
	if s.left == 0 {
		s.left = strokes
	}
	s.left--
	s.at, s.next = now, now.Add(stroke)
	if s.left == 0 {
		s.next = now.Add(pause)
	}
	return true
}
