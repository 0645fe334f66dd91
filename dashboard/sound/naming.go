package sound

import (
	"time"

	"tetherbell/alarms/detect"
)

// A Naming is an alarm as words tell of it.
type Naming struct {
	ID       uint64 // tells alarms apart; another where it should be told anew
	Priority detect.Priority
	Text     string // where, and what to do first
	// Gone says that the condition has passed: it is not spoken now, but not
	// forgotten either, so it is not told anew if it comes back as the same.
	Gone bool
}

const (
	// maxNamings bounds what is kept, far over what can ring at a time.
	maxNamings = 64
	// enoughCuts is how often the words of an alarm are begun again after
	// others cut them off; then they count as said.
	enoughCuts = 2
	// onTime is how long after the end of the tones words may begin without
	// being measured against the silence that is left: long ones fit into none.
	onTime = 500 * time.Millisecond
	// A letter takes letterTime, and a program wakes in wakeTime: rough, for
	// 175 words a minute, the usual pace of such programs (from memory).
	letterTime = 70 * time.Millisecond
	wakeTime   = 300 * time.Millisecond
)

// A naming is one that waits for its words or has had them.
type naming struct {
	Naming
	at   time.Time // when it was asked for: its tones begin no earlier
	cuts int
	said bool
}

// namings are the alarms that words tell of, the most important first. An
// alarm counts as said when a program has spoken its words, not before.
type namings struct {
	all     []naming
	giving  uint64    // the ID of the words that the speaker has, if busy
	busy    bool      // the speaker has words of an alarm
	after   time.Time // start of the burst after which words were given last
	notTill time.Time // after a fault, and after a person's key
}

// take replaces the list and keeps what is known of those that stay.
func (q *namings) take(list []Naming, now time.Time) {
	old := q.all
	q.all = nil
	for _, n := range list {
		if q.find(n.ID) != nil || len(q.all) == maxNamings {
			continue
		}
		fresh := naming{at: now}
		for i := range old {
			if old[i].ID == n.ID {
				fresh = old[i]
			}
		}
		fresh.Naming = n
		q.all = append(q.all, fresh)
	}
}

// rest keeps words back for a moment, so that a person hears the key that
// ended others.
func (q *namings) rest(now time.Time) {
	q.notTill = later(q.notTill, now.Add(onTime))
}

func (q *namings) find(id uint64) *naming {
	for i := range q.all {
		if q.all[i].ID == id {
			return &q.all[i]
		}
	}
	return nil
}

// ended notes how the words that were given came out.
func (q *namings) ended(how outcome, now time.Time) {
	if how == failed {
		q.notTill = now.Add(retry)
	}
	if n := q.find(q.giving); n != nil && q.busy {
		if how == cutByBurst {
			n.cuts++
		}
		n.said = how == spokenWhole || how == cutForGood || n.cuts >= enoughCuts
	}
	q.busy = false
}

// next is the first that is due: not said, and announced by the burst of a
// priority that began at start. owing says whether any waits at all.
func (q *namings) next(burst detect.Priority, start time.Time) (n *naming, owing bool) {
	for i := range q.all {
		n := &q.all[i]
		if n.said || n.Gone {
			continue
		}
		owing = true
		if burst >= n.Priority && !start.Before(n.at.Add(-settle)) {
			return n, true
		}
	}
	return nil, owing
}

// name has the next alarm named in the silence after the tones, and returns
// when to come again. Words begin right after a burst, or later if they will
// probably end before the next: they never begin under tones.
func (p *Player) name(now time.Time, want detect.Priority) time.Time {
	for _, how := range p.speaker.ends() {
		p.names.ended(how, now)
	}
	n, owing := p.names.next(p.sequence.last, p.sequence.start)
	quiet := p.sequence.end.Add(wordsAfter)
	switch {
	case p.names.busy, want == detect.None, !owing:
		return time.Time{} // the end of the words, or a wish, wakes the player
	case now.Before(quiet):
		return quiet
	case now.Before(p.names.notTill):
		return p.names.notTill
	case n == nil:
		return time.Time{} // its tones are still to come
	}
	first := !p.names.after.Equal(p.sequence.start) && now.Before(quiet.Add(onTime))
	length := wakeTime + time.Duration(len([]rune(n.Text)))*letterTime
	if !first && now.Add(length).After(p.sequence.when(now, want)) {
		return time.Time{}
	}
	if p.speaker.offer(n.Text, false) {
		p.names.giving, p.names.busy, p.names.after = n.ID, true, p.sequence.start
	}
	return time.Time{}
}
