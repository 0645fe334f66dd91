package sound

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"tetherbell/alarms/detect"
	"tetherbell/dashboard/vigil"
)

// What stands still elsewhere is heard without anybody's wish: an engine that
// judges no more by the high pattern, since nothing is watched then; a screen
// that shows old things by a notice of its own; audio that is lost by the bell.

const (
	// noticeEvery is the time from one notice to the next.
	noticeEvery = 5 * time.Second
	// noticeLevel is its peak against that of an alarm: not to be missed, and
	// still not an alarm.
	noticeLevel = -4 // dB
	// lostEvery is the time from one telling of lost audio to the next: that of the
	// bell which stands in for a player that stands still.
	lostEvery   = 10 * time.Second
	noticeApart = 160 * time.Millisecond
	noticeNote  = 220 * time.Millisecond
)

// noticeNotes are four steps down a whole-tone scale, over every alarm's
// fundamental, pure and struck as a chime is: alarms stay on one pitch, and a
// chime has two notes. Our choice, no source.
var noticeNotes = []float64{1661.2, 1480.0, 1318.5, 1174.7} // Hz

var notice = sync.OnceValue(func() []int16 {
	last := time.Duration(len(noticeNotes)-1) * noticeApart
	out := make([]int16, int((last+noticeNote).Seconds()*Rate))
	for i, hz := range noticeNotes {
		begin := int(float64(i) * noticeApart.Seconds() * Rate)
		for n := range int(noticeNote.Seconds() * Rate) {
			t := float64(n) / Rate
			const rise, fall, decay = 0.004, 0.030, 0.090 // seconds
			env := ramp(t/rise) * ramp((noticeNote.Seconds()-t)/fall) * math.Exp(-t/decay)
			out[begin+n] += int16(math.Round(0.8 * softPeak(noticeLevel) * env * math.Sin(2*math.Pi*hz*t)))
		}
	}
	return out
})

const (
	engineWords = "the monitor stands still. nothing is watched. cut throttle"
	screenWords = "the screen stands still. listen, and look at the craft"
)

// An outlook is what the player sees of the others. Its loop owns it.
type outlook struct {
	eyes     *vigil.Looker
	desk     bool      // it stands still: the wish is nobody's
	screen   bool      // it stands still
	noticeAt time.Time // of the next notice; zero: none
	lostAt   time.Time // of the next strokes for audio that is lost; zero: none
	wordsAt  time.Time // of the words after it; zero: none
	spared   []naming  // what words had to tell before the desk stood still
}

// watched says whether somebody relies on this player and looks after it.
func (p *Player) watched() bool { return p.opts.Watch != nil && p.opts.Mode != Off }

// glance beats, looks at the others, and returns when to come again.
func (p *Player) glance(now time.Time) time.Time {
	if !p.watched() {
		return time.Time{}
	}
	p.opts.Watch.Beat(vigil.Sound)
	p.out.eyes.Look(now)
	_, screen := p.out.eyes.Down(vigil.Screen)
	if screen && !p.out.screen {
		p.out.noticeAt = now
	} else if !screen {
		p.out.noticeAt, p.out.wordsAt = time.Time{}, time.Time{}
	}
	p.out.screen = screen
	return now.Add(vigil.Every)
}

// instead puts the high pattern in the place of a wish that nobody renews.
func (p *Player) instead(now time.Time, want detect.Priority, once asked) (detect.Priority, asked) {
	if !p.watched() {
		return want, once
	}
	_, down := p.out.eyes.Down(vigil.Desk)
	switch {
	case down && !p.out.desk:
		once.owed = detect.High
		p.out.spared = p.names.all
		p.names.all = nil
		p.names.take([]Naming{{ID: math.MaxUint64, Priority: detect.High, Text: engineWords}}, now)
	case !down && p.out.desk:
		p.names.all, p.out.spared = p.out.spared, nil
	}
	if p.out.desk = down; down {
		want = detect.High
	}
	return want, once
}

// notify plays the notice where no burst sounds. The next look comes soon
// enough for the next one.
func (p *Player) notify(now time.Time, want detect.Priority) {
	o := &p.out
	if o.noticeAt.IsZero() {
		return
	}
	if !now.Before(o.noticeAt) && !now.Before(p.sequence.end) {
		if p.device != nil {
			p.device.voice.chime(notice())
		}
		if !p.audible() {
			p.bell.once(now)
		}
		if o.noticeAt = now.Add(noticeEvery); o.wordsAt.IsZero() {
			o.wordsAt = now.Add(time.Duration(len(noticeNotes))*noticeApart + wordsAfter)
		}
	}
	if p.speaker != nil && want == detect.None && !o.wordsAt.IsZero() && !now.Before(o.wordsAt) {
		p.speaker.offer(screenWords, true)
		o.wordsAt = now.Add(6 * noticeEvery)
	}
}

// mourn tells by two strokes that the audio is lost, and again every lostEvery, where
// no burst sounds. Where nobody judges, as in a replay or after the end of the input,
// nobody relies on it.
func (p *Player) mourn(now time.Time) {
	if s := p.state.Load(); !p.watched() || !p.out.eyes.Awake(vigil.Desk) || !s.Lost || s.Chosen {
		p.out.lostAt = time.Time{}
		return
	}
	if now.Before(p.out.lostAt) || now.Before(p.sequence.end) || len(p.bell.due) > 0 {
		return
	}
	p.bell.some(now, 2)
	p.out.lostAt = now.Add(lostEvery)
}

// errBroken begins the reason of a player that has broken down.
var errBroken = errors.New("the player has broken down")

// fell says that the loop has panicked: nothing will be heard any more, and
// whoever looks shall know it at once.
func (p *Player) fell(why any) {
	now := time.Now()
	s := State{Way: Silent, Why: fmt.Sprintf("%v: %v", errBroken, why), Lost: true, Since: now}
	line := Unheard + s.Why
	p.state.Store(&s)
	p.status.Store(&line)
	if !p.known {
		p.known = true
		close(p.settled)
	}
	p.opts.Watch.Fall(vigil.Sound)
}

// openGuarded opens a device; a panic in it is an attempt that failed.
func (p *Player) openGuarded(ctx context.Context, v *voice) (d *device, err error) {
	defer func() {
		if r := recover(); r != nil {
			d, err = nil, fmt.Errorf("open audio: panic: %v", r)
		}
	}()
	return p.opts.open(ctx, v)
}

// rescue keeps a panic while samples are made from ending the program: the
// device then has no pulls, and is given up as a dead one.
func (v *voice) rescue(dst []int16) {
	if r := recover(); r != nil {
		v.broken.Store(true)
		clear(dst)
	}
}

// guarded runs the speech program's goroutine; after a panic nothing is spoken,
// and the status says so.
func (s *speaker) guarded(ctx context.Context) {
	defer func() {
		if r := recover(); r != nil {
			s.judge(fmt.Errorf("panic: %v", r))
		}
	}()
	s.run(ctx)
}

// guarded runs the bell's goroutine. After a panic the stroke under way has not
// come back: the bell counts as stuck.
func (b *bell) guarded(ctx context.Context, changed func()) {
	defer func() {
		if recover() != nil {
			changed()
		}
	}()
	b.run(ctx, changed)
}
