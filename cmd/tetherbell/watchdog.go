package main

import (
	"context"
	"strings"
	"sync/atomic"
	"time"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard"
	"tetherbell/dashboard/sound"
	"tetherbell/dashboard/vigil"
)

// testOnlyOnBeat makes members of a live run stall, in tests; testOnlyOnAnswer
// measures them.
var testOnlyOnBeat, testOnlyOnAnswer func(vigil.Member)

// A watchdog is how the parts of a live run look after each other. Desk, player,
// painter and sentry have eyes of their own, for whoever stalls cannot tell:
//
//	who stalls          is named by
//	desk                the screen's big letters, the sound's high pattern, the sentry on standard error
//	sound               the screen's banner and the bell struck from there, the desk's journal; without a
//	                    screen the sentry, on standard error and by the bell
//	screen, or standard the sound's notice and its words, or where the bell is all there is the sentry by
//	output without one  the bell; without a screen the sentry on standard error; the desk's journal and the
//	                    recording have it
//	all of it           the desk's journal and the sentry, once it goes on
type watchdog struct {
	watch  vigil.Watch
	eyes   *vigil.Looker // of the desk
	asked  atomic.Uint32 // the priority that should sound, for the bell that stands in
	over   atomic.Bool   // the input has ended: the desk has nothing to judge
	fallen atomic.Bool   // the desk or the reader has broken down
	relied atomic.Bool   // the craft is armed, or not known not to be
	dark   atomic.Bool   // the screen has ended though nobody asked for it

	farewell atomic.Pointer[string] // why the watch ends though nobody asked for it
	crying   atomic.Bool            // it makes itself heard before it ends
	cried    chan struct{}          // closed once that has been heard
}

// get ready, before anybody beats.
func (d *watchdog) ready() {
	d.watch.OnBeat, d.watch.OnAnswer = testOnlyOnBeat, testOnlyOnAnswer
	d.eyes = d.watch.Looker(vigil.Desk)
	d.cried = make(chan struct{})
}

// end says that the run ends in order: nobody is missed from now on.
func (d *watchdog) end() {
	if !d.fallen.Load() {
		d.watch.End()
	}
}

// rest says that the desk has no more to judge.
func (d *watchdog) rest() {
	if !d.fallen.Load() {
		d.over.Store(true)
	}
	d.watch.Rest(vigil.Desk)
}

// judged is the desk's beat: the clock has been looked at, and all that came
// before it.
func (l *live) judged() {
	if !l.ended {
		l.dog.watch.Beat(vigil.Desk)
		l.beacon.renew()
		l.lookAtBeacon()
	}
	l.takeLeave()
	for _, f := range l.dog.eyes.Look(time.Now()) {
		if l.ended && f.Kind == vigil.Alone {
			continue // it closed the recording
		}
		text := l.foundWords(f)
		l.record(text)
		if l.aud.form == asScreen { // without one, the sentry says it
			l.aud.note(dashboard.Entry{T: l.engineTime(), Text: text})
		}
	}
}

// expect lets those who look after the desk know what should be heard, and whether
// somebody relies on it. Where nothing good was ever heard nobody can.
func (l *live) expect(s *alarms.Snapshot) {
	l.dog.asked.Store(uint32(s.Sounding))
	l.dog.relied.Store(l.blind || !l.ended && s.Lines > 0 && s.Armed != detect.No)
}

// record keeps what the monitor tells of itself.
func (l *live) record(text string) { l.desk.monitor(text) }

// foundWords words a finding where a screen may be standard output.
func (l *live) foundWords(f vigil.Finding) string {
	text := f.String()
	if f.Member == vigil.Screen && l.aud.form != asScreen {
		text = strings.NewReplacer("the screen has broken down: what it shows is old", "standard output is gone: EVENTS ARE NOT SEEN; the watch goes on",
			"the screen", "standard output", "what it shows is old", "EVENTS ARE NOT SEEN").Replace(text)
	}
	return text
}

// routineSentry looks at everybody and does nothing else, so that nothing can
// hold it up: run starts it, ctx ends it, run waits. Without a screen it tells
// people what it sees. It strikes the bell where nobody else would.
func (l *live) routineSentry(ctx context.Context) {
	tick := time.NewTicker(vigil.Every)
	defer tick.Stop()
	eyes := l.dog.watch.Looker(vigil.Sentry)
	var stand sound.Standin
	strike := l.bellStroke(ctx)
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		now := time.Now()
		l.dog.watch.Beat(vigil.Sentry)
		for _, f := range eyes.Look(now) {
			if l.aud.form != asScreen {
				l.note("%s", l.foundWords(f))
			}
		}
		p := detect.Priority(l.dog.asked.Load())
		if _, down := eyes.Down(vigil.Desk); down {
			p = detect.High // nothing is watched
		}
		if stand.Strike(now, l.unrung(eyes), p) {
			strike()
		}
	}
}

// unrung says whether nobody else strikes the bell that should be heard. With a
// screen its painter does, the player's strokes too: not where the drawing hangs
// or has ended. A terminal that takes nothing cannot be helped.
func (l *live) unrung(eyes *vigil.Looker) bool {
	_, deaf := eyes.Down(vigil.Sound)
	if l.aud.form != asScreen {
		return deaf
	}
	if _, hung := eyes.Down(vigil.Screen); !hung && !l.dog.dark.Load() {
		return false
	}
	s := l.aud.sound.State()
	return deaf || s.Way != sound.Audio && (s.Way != sound.Silent || !s.Chosen)
}

// bellStroke makes what strikes the terminal's bell without waiting for it.
func (l *live) bellStroke(ctx context.Context) func() {
	bell := terminalBell(l.con)
	if bell == nil {
		return func() {}
	}
	asked := make(chan struct{}, 1)
	// The bell: ended by ctx; a terminal that takes nothing may hold it until the
	// end of the process.
	go func() {
		for {
			select {
			case <-ctx.Done():
				return
			case <-asked:
				bell()
			}
		}
	}()
	return func() {
		select {
		case asked <- struct{}{}:
		default: // one stroke waits already
		}
	}
}

// lastCry lets a monitor that has broken down be heard before it ends: whoever
// stands beside the propellers believes that they are watched.
func (l *live) lastCry(ctx context.Context) {
	over := l.dog.over.Load() && !l.dog.relied.Load() // nothing was left to be watched
	if over || l.aud.sound == nil || ctx.Err() != nil {
		return
	}
	l.cry(ctx, func() {
		l.dog.fallen.Store(true)
		l.dog.watch.Fall(vigil.Desk)
	})
}

// cryMargin is what the player needs to begin the pattern, which may wait for the
// end of a pulse, and a sound server to play what it has.
const cryMargin = 500 * time.Millisecond

// cry raises an alarm and waits until it has been heard, in bounded time. Whoever
// cries second waits for the first.
func (l *live) cry(ctx context.Context, raise func()) {
	raise()
	if !l.dog.crying.CompareAndSwap(false, true) {
		select {
		case <-l.dog.cried:
		case <-ctx.Done():
		}
		return
	}
	defer close(l.dog.cried)
	length := bellTime
	switch s := l.aud.sound.State(); {
	case s.Way == sound.Audio:
		high, _ := sound.PatternOf(detect.High)
		length = high.Length() + cryMargin
	case s.Way == sound.Silent && s.Chosen:
		return // nobody wants to hear anything
	}
	t := time.NewTimer(length)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}
