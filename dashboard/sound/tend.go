package sound

import (
	"context"
	"strings"
	"time"
)

// tend looks after the device: opens one when it is time, and gives up one
// that no longer pulls.
func (p *Player) tend(ctx context.Context, now time.Time) {
	if p.opts.Mode != Auto {
		p.say() // speech may have changed it
		return
	}
	if p.device == nil {
		if !p.opening && !now.Before(p.retryAt) {
			p.open(ctx)
		}
		return
	}
	if p.device.stalled(now) {
		p.lose(errStalled)
		return
	}
	if p.device.flows() {
		p.say() // before anybody is told that it is settled: they read it at once
		p.settle()
		silent := p.device.unheard() != ""
		if silent && !p.wasSilent {
			p.again(now) // muted under a burst: the bell rings it again
		}
		p.wasSilent = silent
	}
	p.say()
}

// chore is when tend has something to do next.
func (p *Player) chore(now time.Time) time.Time {
	switch {
	case p.opts.Mode != Auto, p.opening:
		return time.Time{}
	case p.device != nil:
		return now.Add(look)
	}
	return p.retryAt
}

// open starts an attempt in a goroutine of its own: a server may take seconds
// to answer. The attempt ends by itself or with ctx, and Close waits for it.
func (p *Player) open(ctx context.Context) {
	p.opening = true
	v := &voice{under: p.under}
	p.work.Go(func() {
		d, err := p.opts.open(ctx, v)
		if d != nil {
			d.voice = v
		}
		p.opened <- opened{d, err}
	})
}

// take receives the result of an attempt.
func (p *Player) take(o opened) {
	p.opening = false
	if o.err != nil {
		p.fail(o.err)
		return
	}
	p.device, p.wasSilent = o.device, true // the bell has rung until now
	if time.Now().Before(p.sequence.end) {
		p.device.voice.start(p.burst)
	}
	p.say()
}

// lose gives a device up and rings the burst it took along again.
func (p *Player) lose(err error) {
	d := p.device
	p.device = nil
	p.work.Go(d.close)
	p.fail(err)
	if d.flows() && d.unheard() == "" {
		p.again(time.Now())
	}
}

// fail says why there is no device and sets the time of the next attempt.
func (p *Player) fail(err error) {
	p.problem = err.Error()
	p.retryAt = time.Now().Add(retry)
	p.say()
	p.settle()
}

// again rings the burst that sounds now, from its beginning, by the bell.
func (p *Player) again(now time.Time) {
	if !now.Before(p.sequence.end) {
		return
	}
	if pat, ok := PatternOf(p.sequence.last); ok {
		p.bell.begin(now, pat)
	}
}

// settle tells those who wait that the first attempt has ended.
func (p *Player) settle() {
	select {
	case <-p.settled:
	default:
		close(p.settled)
	}
}

// release lets the device go at the end of the loop.
func (p *Player) release() {
	if p.device != nil {
		p.device.close()
	}
	if p.opening {
		// The attempt sees that ctx ended; its device, if it got one after
		// all, is closed here.
		if o := <-p.opened; o.device != nil {
			o.device.close()
		}
	}
}

// say brings the status line up to date.
func (p *Player) say() {
	line := p.line()
	if old := p.status.Load(); old == nil || *old != line {
		p.status.Store(&line)
	}
}

func (p *Player) line() string {
	if p.opts.Mode == Off {
		return "off"
	}
	tones := p.tones()
	if p.speaker == nil || strings.HasPrefix(tones, Unheard) {
		return tones // where tones are not heard, words are no comfort
	}
	return tones + p.speaker.line()
}

// Unheard begins the status of a player that nobody can hear.
const Unheard = "no sound: "

// tones says what makes the alarms' tones.
func (p *Player) tones() string {
	problem := p.problem
	if p.device != nil {
		unheard := p.device.unheard()
		switch {
		case !p.device.flows():
			problem = "waiting for the " + p.device.name
		case unheard == "":
			return "audio: " + p.device.name
		default:
			problem = p.device.name + " " + unheard
		}
	}
	if p.bell.strike == nil {
		return Unheard + problem
	}
	return "terminal bell (" + problem + ")"
}
