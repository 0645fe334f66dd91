package sound

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"tetherbell/alarms/detect"
)

const (
	// speechLimit ends a program that does not come back.
	speechLimit = 15 * time.Second
	// wordsAfter is the silence between tones and words: what devices hold back
	// has been played by then.
	wordsAfter = 200 * time.Millisecond
)

var errSpeechHangs = errors.New("it does not end")

// An outcome is how the words of an alarm came out.
type outcome uint8

const (
	notBegun outcome = iota // or cut off by a person's key for another alarm
	spokenWhole
	cutByBurst // another alarm began
	cutForGood // a person wants to hear no more of it
	failed     // the program cannot
)

// A speaker has texts spoken, one at a time, in a goroutine of its own. One
// text may wait; a newer one takes its place. The player's loop offers, stops
// and takes the outcomes.
type speaker struct {
	name  string // of the program; "" where there is none
	lack  string // why there is none
	utter func(ctx context.Context, text string) error
	fault atomic.Pointer[string] // why it could not speak at the last try

	next chan utterance // one place

	mu      sync.Mutex
	turn    uint64  // grows with every stop
	why     outcome // of the newest stop
	cancel  context.CancelFunc
	gossip  bool      // what was offered last is no alarm
	over    []outcome // of words of alarms, not taken yet; the player offers one at a time
	changed func()    // wakes the player, whose status line has changed
}

type utterance struct {
	text   string
	turn   uint64
	gossip bool
}

func newSpeaker(p program, lack string, utter func(context.Context, string) error, changed func()) *speaker {
	if utter == nil {
		utter = p.utter
	}
	return &speaker{name: p.name, lack: lack, utter: utter, changed: changed, next: make(chan utterance, 1)}
}

// run speaks until ctx ends; the player starts it and waits for it. The
// program that speaks is ended with ctx.
func (s *speaker) run(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case u := <-s.next:
			how := s.speak(ctx, u)
			if !u.gossip {
				s.mu.Lock()
				s.over = append(s.over, how)
				s.mu.Unlock()
				s.changed()
			}
		}
	}
}

func (s *speaker) speak(ctx context.Context, u utterance) outcome {
	ctx, cancel := context.WithTimeout(ctx, speechLimit)
	defer cancel()
	s.mu.Lock()
	stale := u.turn != s.turn
	if !stale {
		s.cancel = cancel
	}
	s.mu.Unlock()
	if stale {
		return notBegun
	}
	// A program that cannot be killed holds this goroutine, not the truth.
	stuck := time.AfterFunc(speechLimit+time.Second, func() { s.judge(errSpeechHangs) })
	err := s.utter(ctx, u.text)
	stuck.Stop()
	s.mu.Lock()
	s.cancel = nil
	why := s.why
	s.mu.Unlock()
	switch ctx.Err() {
	case nil:
	case context.DeadlineExceeded:
		err = errSpeechHangs
	default:
		return why // one that was cut off has shown nothing
	}
	s.judge(err)
	if err != nil {
		return failed
	}
	return spokenWhole
}

// judge notes how a try to speak came out.
func (s *speaker) judge(err error) {
	fault := ""
	if err != nil {
		fault = err.Error()
	}
	if old := s.fault.Swap(&fault); old == nil && fault != "" || old != nil && *old != fault {
		s.changed()
	}
}

// offer has a text spoken, in place of one that waits. It says whether an
// outcome will come.
func (s *speaker) offer(text string, gossip bool) bool {
	if s.name == "" {
		return false
	}
	s.mu.Lock()
	u := utterance{text, s.turn, gossip}
	s.gossip = gossip
	s.mu.Unlock()
	select {
	case old := <-s.next:
		if !old.gossip {
			s.mu.Lock()
			s.over = append(s.over, notBegun)
			s.mu.Unlock()
		}
	default:
	}
	s.next <- u // there is a place: only the player's loop offers
	return !gossip
}

// ends takes the outcomes.
func (s *speaker) ends() []outcome {
	s.mu.Lock()
	defer s.mu.Unlock()
	over := s.over
	s.over = nil
	return over
}

// stop ends what is spoken, and forgets what waits.
func (s *speaker) stop(why outcome) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.turn++
	s.why = why
	if s.cancel != nil {
		s.cancel()
	}
}

// yield makes room for a burst that begins: words of this very alarm may go
// on under its repetitions, everything else is cut short.
func (s *speaker) yield(again bool) {
	s.mu.Lock()
	gossip := s.gossip
	s.mu.Unlock()
	if gossip || !again {
		s.stop(cutByBurst)
	}
}

// line words the speaker for the status.
func (s *speaker) line() string {
	if s.name == "" {
		return ", no words: " + s.lack
	}
	if why := s.fault.Load(); why != nil && *why != "" {
		return ", no words: " + s.name + " fails (" + *why + ")"
	}
	return ", words: " + s.name
}

// speak says what is due: an alarm by its name once the tones that announce it
// have been heard, news where no alarm is. It returns when to come again.
func (p *Player) speak(now time.Time, want detect.Priority, news string) time.Time {
	if p.speaker == nil {
		return time.Time{}
	}
	if news != "" && want == detect.None && !now.Before(p.sequence.end.Add(wordsAfter)) {
		p.speaker.offer(news, true)
	}
	return p.name(now, want)
}
