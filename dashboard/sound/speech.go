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
	// wordsLimit is how long words wait for the tones they belong to. Older
	// ones would tell of something else.
	wordsLimit = 20 * time.Second
)

var errSpeechHangs = errors.New("it does not end")

// A speaker has texts spoken, one at a time, in a goroutine of its own. One
// text may wait; a newer one takes its place. The player's loop offers and
// stops.
type speaker struct {
	name  string // of the program; "" where there is none
	lack  string // why there is none
	utter func(ctx context.Context, text string) error
	fault atomic.Pointer[string] // why it could not speak at the last try

	next chan utterance // one place

	mu      sync.Mutex
	turn    uint64 // grows with every stop
	cancel  context.CancelFunc
	gossip  bool   // what was offered last is no alarm
	changed func() // wakes the player, whose status line has changed
}

type utterance struct {
	text string
	turn uint64
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
			s.speak(ctx, u)
		}
	}
}

func (s *speaker) speak(ctx context.Context, u utterance) {
	ctx, cancel := context.WithTimeout(ctx, speechLimit)
	defer cancel()
	s.mu.Lock()
	stale := u.turn != s.turn
	if !stale {
		s.cancel = cancel
	}
	s.mu.Unlock()
	if stale {
		return
	}
	// A program that cannot be killed holds this goroutine, not the truth.
	stuck := time.AfterFunc(speechLimit+time.Second, func() { s.judge(errSpeechHangs) })
	err := s.utter(ctx, u.text)
	stuck.Stop()
	s.mu.Lock()
	s.cancel = nil
	s.mu.Unlock()
	switch ctx.Err() {
	case nil:
		s.judge(err)
	case context.DeadlineExceeded:
		s.judge(errSpeechHangs)
	} // one that was cut off has shown nothing
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

// offer has a text spoken, in place of one that waits.
func (s *speaker) offer(text string, gossip bool) {
	if s.name == "" {
		return
	}
	s.mu.Lock()
	u := utterance{text, s.turn}
	s.gossip = gossip
	s.mu.Unlock()
	select {
	case <-s.next:
	default:
	}
	s.next <- u // there is a place: only the player's loop offers
}

// stop ends what is spoken, and forgets what waits.
func (s *speaker) stop() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.turn++
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
		s.stop()
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

// speak says what is due: words of an alarm once the tones that announce it
// have been heard, news where no alarm is. It returns when to come again.
func (p *Player) speak(now time.Time, want detect.Priority, news string) time.Time {
	if p.speaker == nil {
		return time.Time{}
	}
	quiet := p.sequence.end.Add(wordsAfter)
	sounding := now.Before(quiet)
	if news != "" && !sounding && want == detect.None && p.words.text == "" {
		p.speaker.offer(news, true)
	}
	w := &p.words
	if w.text == "" {
		return time.Time{}
	}
	switch {
	case sounding:
		return quiet
	case want == detect.None || now.Sub(w.at) > wordsLimit:
		*w = words{} // the alarm has gone, or its turn never came
	case p.sequence.last >= w.priority && !p.sequence.start.Before(w.at.Add(-settle)):
		p.speaker.offer(w.text, false)
		*w = words{}
	}
	return time.Time{}
}
