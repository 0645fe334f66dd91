package sound

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"tetherbell/alarms/detect"
	"tetherbell/dashboard/vigil"
)

// A Mode is what the person allows to be used.
type Mode uint8

const (
	// Auto uses the system's audio where it works, else the bell.
	Auto Mode = iota
	// Bell uses the terminal's bell alone.
	Bell
	// Off makes no sound.
	Off
)

var modeNames = [...]string{"auto", "bell", "off"}

// String returns the word for the mode that ModeNamed reads.
func (m Mode) String() string { return modeNames[m] }

// ModeNamed finds a mode by its word: auto, bell or off.
func ModeNamed(name string) (Mode, error) {
	for m, n := range modeNames {
		if n == name {
			return Mode(m), nil
		}
	}
	return Auto, fmt.Errorf("sound %q: want auto, bell or off", name)
}

// Options say how a player makes itself heard.
type Options struct {
	Mode Mode
	// Bell strikes the terminal's bell once. It is called from a goroutine of
	// its own and may block; nil where there is no bell.
	Bell func()
	// Life is the time from one life sign to the next while Alive is called;
	// 0 for none. It and ticks are for audio alone: a bell would be an alarm.
	Life time.Duration
	// Rotors and Blades are what Rotors says, from the start.
	Rotors []float64
	Blades int
	// Speak has alarms named in words, by a program of this system.
	Speak bool
	// Watch is where the player beats, and looks after the others: a desk that
	// stands still is heard as the high pattern, a screen as a notice of its
	// own. While the desk beats, audio that was heard and is lost is told by the
	// bell: else it would be missed with the next alarm only. nil: nobody looks
	// after anybody.
	Watch *vigil.Watch

	open  opener                              // of this system when nil; tests put their own
	voice *program                            // that speaks; looked for when nil
	utter func(context.Context, string) error // speaks; the program itself when nil
}

// closeWait bounds Close: a blocked terminal or a frozen server may not hold
// up the end of the program.
const closeWait = time.Second

// A Player sounds the priority that is wanted until told otherwise. Its
// methods are safe for concurrent use, and none but Close ever waits.
type Player struct {
	opts    Options
	wish    wish
	wake    chan struct{} // one place: a wake-up that waits serves them all
	state   atomic.Pointer[State]
	status  atomic.Pointer[string]
	settled chan struct{} // closed when the first attempt to open has ended
	cancel  context.CancelFunc
	work    sync.WaitGroup // the loop, the bell, speech, synthesis, attempts to open, closings
	under   *under
	speaker *speaker      // nil: nothing is spoken
	library chan *library // one place: the bursts at all pitches, once they are made

	// Owned by the loop.
	sequence  sequence
	tuner     tuner
	burst     []int16 // of the sequence's newest burst
	names     namings
	bell      *bell
	device    *device // nil while there is none
	problem   string  // why there is none
	opening   bool
	openBy    time.Time   // when the attempt under way has taken too long
	known     bool        // settled is closed
	relied    bool        // audio has been heard
	opened    chan opened // one place: at most one attempt is under way
	retryAt   time.Time
	wasSilent bool // the device was unheard at the last look
	out       outlook
}

// opened is the result of an attempt to open a device.
type opened struct {
	device *device
	err    error
}

// New starts a player. It opens the audio at once, off the alarm path, and
// keeps it open with silence: opening may take seconds. The player's
// goroutines end when ctx does or with Close.
func New(ctx context.Context, opts Options) *Player {
	if opts.open == nil {
		opts.open = openSystem
	}
	ctx, cancel := context.WithCancel(ctx)
	p := &Player{
		opts: opts, wake: make(chan struct{}, 1), settled: make(chan struct{}),
		cancel: cancel, bell: newBell(opts.Bell), opened: make(chan opened, 1),
		under: newUnder(opts.Life), library: make(chan *library, 1),
		tuner: tuner{last: make(map[detect.Priority]int, len(patterns))},
		out:   outlook{eyes: opts.Watch.Looker(vigil.Sound)},
	}
	p.Rotors(opts.Rotors, opts.Blades)
	if opts.Speak && opts.Mode != Off {
		p.speaker = opts.speaker(p.nudge)
		p.work.Go(func() { p.speaker.guarded(ctx) })
	}
	switch opts.Mode {
	case Auto:
		p.problem = "opening the audio"
		bursts()
		chimes()
		notice()
		p.work.Go(func() { p.library <- pitched() })
	case Bell:
		p.problem = "chosen"
	case Off:
		p.problem, p.bell.strike = "chosen", nil
	}
	if p.say(time.Now()); opts.Mode != Auto {
		p.settle(time.Now())
	}
	if p.bell.strike != nil {
		p.work.Go(func() { p.bell.guarded(ctx, p.nudge) })
	}
	p.work.Go(func() { p.run(ctx) })
	return p
}

// Want sets the priority that should be heard from now on; None and Note are
// silence. The newest call wins. seq grows with every new alarm: it starts a
// burst at once unless something worse sounds. What was started is played to
// its end, also when the priority drops meanwhile, and so is a new alarm that
// was wanted only for an instant. A seq that falls back, as after a jump in a
// replay, is taken as the new starting point and announces nothing.
func (p *Player) Want(priority detect.Priority, seq uint64) {
	p.wish.put(priority, seq)
	p.nudge()
}

// Rotors says at which speeds the rotors turn, in turns a second, and how many
// blades a propeller has, 0 where that is not known. The next burst takes a
// pitch that they do not mask. The newest call wins; none, or a call without
// speeds, leaves the usual pitch. hz is not kept.
func (p *Player) Rotors(hz []float64, blades int) { p.wish.rotors(hz, blades) }

// Tick lets the growing tick sound as TickOf says, until half a second after
// the last call: a caller comes again at least every 100 ms. It pauses under a
// burst.
func (p *Player) Tick(share, growth float64) { p.under.tick(share, growth) }

// Alive says that good lines come just now. While it is called at least every
// 100 ms, a life sign is heard once in Options.Life; 0.3 s after the last call
// there is no new one.
func (p *Player) Alive() { p.under.alive.Add(1) }

// Name says which alarms words should tell of: all that nobody acknowledged,
// the most important first, at most 64. Call it after Want, and whenever the
// list has changed; the newest list wins, and who is left out is forgotten.
// Each is spoken once, one after the other, in the silence after tones that
// announce it, and counts as spoken when the speech program has said it: what
// was cut off by another alarm is said again once, what a broken program or a
// sound pause kept back is said later. Nothing happens without Options.Speak.
func (p *Player) Name(alarms []Naming) {
	if p.speaker == nil {
		return
	}
	list := make([]Naming, 0, len(alarms)) // not nil: an empty list forgets all
	for _, n := range alarms {
		if n.Text = spoken(n.Text); n.Text != "" && n.Priority >= detect.Low {
			list = append(list, n)
		}
	}
	p.wish.name(list)
	p.nudge()
}

// Say has short good news spoken, unless an alarm sounds or is about to; an
// alarm that begins cuts it off, and newer news takes its place: what belongs
// together is handed over together. Nothing happens without Options.Speak.
func (p *Player) Say(texts ...string) {
	if p.speaker == nil {
		return
	}
	news := ""
	for _, text := range texts {
		if text = spoken(text); text != "" {
			news = strings.TrimSpace(news + " " + text)
		}
	}
	if news != "" {
		p.wish.tellNews(news)
		p.nudge()
	}
}

// Chime plays two soft notes, rising when ok, else falling. It is not played
// beside an alarm. A bell tells the falling one alone, by a stroke.
func (p *Player) Chime(ok bool) {
	way := int8(-1)
	if ok {
		way = 1
	}
	p.wish.ringChime(way)
	p.nudge()
}

// Hush ends the burst and the words that sound, for a person who acknowledged
// or paused it and must not listen to its end. Call it after the Want that
// tells what is left: a burst of that begins as soon as the rhythm has room,
// a quarter of a second (high) or 0.4 s after the last pulse began.
func (p *Player) Hush() {
	p.wish.quiet(true)
	p.nudge()
}

// Cut ends the burst and the words that sound. What is wanted stays wanted and
// is heard again when it is due, as after a burst that was heard whole.
func (p *Player) Cut() {
	p.wish.quiet(false)
	p.nudge()
}

func (p *Player) nudge() {
	select {
	case p.wake <- struct{}{}:
	default:
	}
}

// Status says in one line what the player sounds through, or why it cannot,
// and what of speech; State says it for programs.
func (p *Player) Status() string { return *p.status.Load() }

// Settled is closed as soon as the player knows what it sounds through; until
// then the bell stands in for an audio device that is being opened.
func (p *Player) Settled() <-chan struct{} { return p.settled }

// Close stops the sound and waits for the player's goroutines, a second at
// most: a terminal that blocks the bell can hold one of them for ever.
func (p *Player) Close() error {
	p.cancel()
	done := make(chan struct{})
	go func() { // ends with the work; left behind if that never ends
		p.work.Wait()
		close(done)
	}()
	limit := time.NewTimer(closeWait)
	defer limit.Stop()
	select {
	case <-done:
		return nil
	case <-limit.C:
		return errors.New("close sound: the terminal's bell or the sound server does not return")
	}
}

// run is the player's goroutine: New starts it, ctx ends it, Close waits.
func (p *Player) run(ctx context.Context) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	defer func() {
		if r := recover(); r != nil {
			p.fell(r)
		}
	}()
	defer p.release()
	for {
		now := time.Now()
		look := p.glance(now)
		p.tend(ctx, now)
		next := p.sound(now)
		if stroke := p.bell.ring(now); earlier(stroke, next) {
			next = stroke
		}
		if chore := p.chore(now); earlier(chore, next) {
			next = chore
		}
		if earlier(look, next) {
			next = look
		}
		timer.Stop()
		if !next.IsZero() {
			timer.Reset(next.Sub(now))
		}
		var gone <-chan error
		if p.device != nil {
			gone = p.device.gone
		}
		select {
		case <-ctx.Done():
			return
		case <-p.wake:
		case <-timer.C:
		case o := <-p.opened:
			p.take(o)
		case p.tuner.lib = <-p.library:
		case err := <-gone:
			p.lose(err)
		}
	}
}

// earlier compares two moments of which the zero time means never.
func earlier(a, b time.Time) bool { return !a.IsZero() && (b.IsZero() || a.Before(b)) }

// sound begins what is due and returns when to come again.
func (p *Player) sound(now time.Time) time.Time {
	want, once := p.wish.take()
	want, once = p.instead(now, want, once)
	if once.hush {
		p.sequence.cut(now, once.renew)
		p.bell.due = nil
		if p.device != nil {
			p.device.voice.stop()
		}
		if p.speaker != nil {
			why := cutForGood
			if once.renew {
				why = notBegun // the words may be those of another alarm
			}
			p.speaker.stop(why)
			p.names.rest(now)
		}
	}
	last, ended := p.sequence.last, p.sequence.end
	begin, next := p.sequence.step(now, want, once.owed)
	if begin != detect.None {
		again := begin == last && now.Sub(ended) < patternAt(begin).Interval+aside
		p.begin(now, begin, again)
	}
	if once.names != nil {
		p.names.take(once.names, now)
	}
	if spare := now.After(p.sequence.end) && want == detect.None; spare && once.chime != 0 {
		if p.device != nil {
			p.device.voice.chime(chimes()[(once.chime+1)/2])
		}
		if once.chime < 0 && !p.audible() {
			p.bell.once(now)
		}
	}
	p.notify(now, want)
	p.mourn(now)
	if speech := p.speak(now, want, once.news); earlier(speech, next) {
		next = speech
	}
	return next
}

// audible says whether what the device plays is heard now.
func (p *Player) audible() bool {
	return p.device != nil && p.device.flows() && p.device.unheard() == ""
}

// begin starts a burst on whatever can be heard.
func (p *Player) begin(now time.Time, priority detect.Priority, again bool) {
	if p.opts.Mode == Auto {
		noise := p.wish.noise()
		p.burst = p.tuner.burst(priority, &noise, again)
	}
	if p.device != nil {
		// A device that is only waking plays it late: better than never
		// where there is no bell either.
		p.device.voice.start(p.burst)
	}
	p.bell.due = nil
	if pat, ok := PatternOf(priority); ok && !p.audible() {
		p.bell.begin(now, pat)
	}
	if p.speaker != nil {
		p.speaker.yield(again && !p.sequence.fresh)
	}
}

// speaker makes what speaks, with the program that the system has.
func (o *Options) speaker(changed func()) *speaker {
	found := o.voice
	if found == nil {
		p := findProgram()
		found = &p
	}
	return newSpeaker(*found, noProgram(runtime.GOOS), o.utter, changed)
}
