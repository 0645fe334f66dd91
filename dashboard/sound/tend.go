package sound

import (
	"context"
	"time"
)

// tend looks after the device: opens one when it is time, and gives up one
// that no longer pulls.
func (p *Player) tend(ctx context.Context, now time.Time) {
	if p.opts.Mode != Auto {
		p.say(now) // speech or the bell may have changed it
		return
	}
	if p.device == nil {
		switch {
		case p.opening && !now.Before(p.openBy):
			// It cannot be ended, and another one beside it would hang as well.
			p.problem = errStalled.Error()
			p.settle(now)
		case !p.opening && !now.Before(p.retryAt):
			p.open(ctx, now)
		}
		p.say(now)
		return
	}
	if p.device.stalled(now) {
		p.lose(errStalled)
		return
	}
	if p.device.flows() {
		p.settle(now)
		silent := p.device.unheard() != ""
		if silent && !p.wasSilent {
			p.again(now) // muted under a burst: the bell rings it again
		}
		p.wasSilent = silent
	}
	p.say(now)
}

// chore is when tend has something to do next.
func (p *Player) chore(now time.Time) time.Time {
	switch {
	case p.device != nil, p.bell.busy():
		return now.Add(look)
	case p.opts.Mode != Auto, p.opening && !now.Before(p.openBy):
		return time.Time{}
	case p.opening:
		return p.openBy
	}
	return p.retryAt
}

// open starts an attempt in a goroutine of its own: a server may take seconds
// to answer. The attempt ends by itself or with ctx, and Close waits for it.
func (p *Player) open(ctx context.Context, now time.Time) {
	p.opening, p.openBy = true, now.Add(openLimit)
	v := &voice{under: p.under}
	p.work.Go(func() {
		d, err := p.openGuarded(ctx, v)
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
	now := time.Now()
	if p.sequence.replay(now) {
		p.device.voice.start(p.burst)
	}
	p.say(now)
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
	now := time.Now()
	p.problem = err.Error()
	p.retryAt = now.Add(retry)
	p.settle(now)
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

// settle brings the state up to date, then tells those who wait that the
// first attempt has ended: they read it at once.
func (p *Player) settle(now time.Time) {
	first := !p.known
	p.known = true
	p.say(now)
	if first {
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
