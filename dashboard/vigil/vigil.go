// Package vigil lets the parts of a live monitor look after each other.
//
// In come beats: each part says, from the very goroutine that must not stand
// still, that it has got round once more. Out goes who stands still, to each
// part that looks. A part that stalls cannot say so itself, so whoever is left
// says it: the screen in big letters, the sound by a pattern, the desk in the
// journal, a sentry on standard error.
//
// It knows nothing of what a part does, starts no goroutine and reads no clock.
// A beat is one atomic addition; a look is a few loads, and neither waits.
package vigil

import (
	"sync/atomic"
	"time"
)

// A Member is a part of the monitor that may stall.
type Member uint8

// The members.
const (
	Desk   Member = iota // judges: without it nothing is watched
	Sound                // plays
	Screen               // draws and gives it to the terminal; without a screen: standard output
	Beacon               // holds a line of a serial port
	Sentry               // does nothing but look; the others know by it whether they stood still alone
	members
)

var memberNames = [members]string{"engine", "sound", "screen", "beacon", "sentry"}

// String returns the word that people are told.
func (m Member) String() string { return memberNames[m] }

const (
	// Every is how often to look, by time; Look may be called oftener.
	Every = 50 * time.Millisecond
	// most is what one look counts for at most. Where the looker itself was held
	// up, others were too: what it did not see counts against nobody.
	most = 2 * Every
	// Pause is the least time between two looks that counts as a pause of the
	// looker itself, and is told.
	Pause = time.Second
)

// limits are how long each member may stand still. A machine that is busy was
// seen to hold up a goroutine for some tenths of a second, and a person must know
// within one, of which looks, a picture and the sound's own way take a part. Desk
// and sound beat every 20 and 50 ms; a screen beats with every picture, ten times
// a second, or with the answer to it, a tenth of a second later at most where its
// terminal is near.
var limits = [members]time.Duration{
	Desk: 600 * time.Millisecond, Sound: 600 * time.Millisecond,
	Screen: 650 * time.Millisecond, Beacon: 700 * time.Millisecond, Sentry: time.Second,
}

// A Watch holds the pulses of all members. Nobody is watched before the first
// beat. Its zero value is ready, its methods are safe for concurrent use, and
// those of a nil Watch do nothing.
type Watch struct {
	pulses [members]pulse
	over   atomic.Bool

	// OnBeat is called with every round, by the member's own goroutine, for
	// tests that make it stall. It is set before the first beat.
	OnBeat func(Member)
	// OnAnswer is called with every beat that counts, for tests that measure.
	OnAnswer func(Member)
}

type pulse struct {
	n     atomic.Uint64
	awake atomic.Bool
	gone  atomic.Bool
	_     [40]byte // each beats on a line of the cache of its own
}

// Beat says that a member has got round once more.
func (w *Watch) Beat(m Member) {
	w.Round(m)
	w.Answered(m)
}

// Round says that a member has got round, and waits for an answer to what it did
// before that counts: the beat is then Answered's.
func (w *Watch) Round(m Member) {
	if w != nil && w.OnBeat != nil {
		w.OnBeat(m)
	}
}

// Answered is the beat of a member whose round somebody has answered. It comes
// from whatever goroutine hears that.
func (w *Watch) Answered(m Member) {
	if w == nil {
		return
	}
	if w.OnAnswer != nil {
		w.OnAnswer(m)
	}
	p := &w.pulses[m]
	p.n.Add(1)
	if !p.awake.Load() {
		p.awake.Store(true)
	}
}

// Rest says that a member may stand still on purpose, until its next beat.
func (w *Watch) Rest(m Member) {
	if w != nil {
		w.pulses[m].awake.Store(false)
	}
}

// Fall says that a member has broken down and will never beat again.
func (w *Watch) Fall(m Member) {
	if w != nil {
		w.pulses[m].gone.Store(true)
	}
}

// End says that the monitor ends in order: nobody is missed from now on.
func (w *Watch) End() {
	if w != nil {
		w.over.Store(true)
	}
}

// A Kind is what a looker found.
type Kind uint8

// The kinds.
const (
	Stalled Kind = iota // a member stands still
	Broken              // a member has broken down
	Back                // a member goes on; For is how long it stood still
	Alone               // the looker itself stood still for so long, others went on
	Whole               // all of the monitor was stopped for so long
	Slept               // the clock of the wall went further than ours: the computer slept
)

// A Finding is what has changed since the look before.
type Finding struct {
	Kind   Kind
	Member Member        // the looker itself for Alone and Whole
	For    time.Duration // how long it has stood still
}

// A Looker is the eyes of one member. It belongs to one goroutine.
type Looker struct {
	watch *Watch
	self  Member
	at    time.Time // of the last look; zero: none yet
	of    [members]sight
	found [members + 1]Finding
}

type sight struct {
	n     uint64
	still time.Duration // as looks count it
	since time.Time     // when it was last seen to beat
	down  Kind          // Stalled or Broken; Back: it goes
}

// Looker makes the eyes of a member. The looker of a nil Watch finds nothing.
func (w *Watch) Looker(self Member) *Looker {
	l := &Looker{watch: w, self: self}
	for m := range l.of {
		l.of[m].down = Back
	}
	return l
}

// Look looks at all others, and tells what has changed; a look that comes
// sooner than Every after the last one sees nothing. What it returns is valid
// until the next one.
func (l *Looker) Look(now time.Time) []Finding {
	if l.watch == nil {
		return nil
	}
	step, whole := now.Sub(l.at), now.Round(0).Sub(l.at.Round(0))
	first := l.at.IsZero()
	if !first && step < Every && whole < Pause {
		return nil
	}
	l.at = now
	found := l.found[:0]
	paused := !first && max(step, whole) >= Pause
	if paused && !l.watch.over.Load() {
		found = append(found, l.pause(step, whole))
	}
	for m := range members {
		if m == l.self {
			continue
		}
		if f, ok := l.see(m, now, min(step, most), first || paused); ok && m != Sentry {
			found = append(found, f)
		}
	}
	return found
}

// pause words that the looker itself has not looked for a while: alone, where
// the sentry went on meanwhile. A clock of the wall that went much further than
// the other tells of a computer that slept.
func (l *Looker) pause(step, whole time.Duration) Finding {
	beats := l.watch.pulses[Sentry].n.Load() - l.of[Sentry].n
	if l.self != Sentry && beats > uint64(step/(2*Every)) && step >= Pause {
		return Finding{Alone, l.self, step}
	}
	if whole-step >= Pause {
		return Finding{Slept, l.self, whole}
	}
	return Finding{Whole, l.self, step}
}

// see looks at one member. afresh: whatever it did not do meanwhile is forgiven.
func (l *Looker) see(m Member, now time.Time, step time.Duration, afresh bool) (Finding, bool) {
	p, s := &l.watch.pulses[m], &l.of[m]
	n := p.n.Load()
	goes := n != s.n || !p.awake.Load()
	if p.gone.Load() && !l.watch.over.Load() {
		if s.down == Broken {
			return Finding{}, false
		}
		if s.down = Broken; s.since.IsZero() { // before the first look
			s.since = now
		}
		return Finding{Broken, m, 0}, true
	}
	if goes || l.watch.over.Load() {
		stood := now.Sub(s.since)
		back := s.down == Stalled
		s.n, s.still, s.since, s.down = n, 0, now, Back
		return Finding{Back, m, stood}, back
	}
	if afresh && s.down == Back {
		s.still = 0
		return Finding{}, false
	}
	s.still += step
	if s.still < limits[m] || s.down != Back {
		return Finding{}, false
	}
	s.down = Stalled
	return Finding{Stalled, m, now.Sub(s.since)}, true
}

// Down says whether a member stands still or has broken down, as of the last
// look, and since when.
func (l *Looker) Down(m Member) (since time.Time, down bool) {
	s := &l.of[m]
	return s.since, s.down != Back
}

// Awake says whether a member is to be missed: it has begun, and does not rest.
func (l *Looker) Awake(m Member) bool {
	return l.watch != nil && l.watch.pulses[m].awake.Load()
}

// Broken says whether a member has broken down for good.
func (l *Looker) Broken(m Member) bool { return l.of[m].down == Broken }
