package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"tetherbell/dashboard"
	"tetherbell/simulator/drill"
)

// orderPatience is how long a drill without a screen waits for an answer that
// may stand on standard input already.
const orderPatience = 200 * time.Millisecond

type drillPage = dashboard.DrillPage

// run leads through the drill, on a screen or without one.
func (d *driller) run(ctx context.Context) error {
	if err := d.look(ctx); err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	r, bell, f := d.r, make(chan struct{}, 1), *d.f
	if !d.heard { // what swings and is named would be heard
		f.tick, f.speak = false, false
	}
	if err := r.aud.openSound(ctx, d.con, &f, bell); err != nil {
		return err
	}
	defer r.aud.sound.Close()
	if r.aud.form != asScreen {
		stayAwake()
		r.aud.out = newPrinter(d.con.out)
		d.orders = readAs(d.con.in, parseDrillOrder, func(err error) { d.con.note("standard input: %v", err) })
		err := d.through(ctx, cancel)
		if r.aud.form == asPlain {
			for _, line := range d.table(0) {
				r.aud.out.say(line)
			}
		}
		r.aud.out.close(ctx.Done(), printPatience)
		return err
	}
	r.acts = make(chan dashboard.Act, 64)
	done := make(chan struct{})
	var guard faults
	var fault error
	// The desk: ended by ctx or the end of the drill, waited for below.
	go guard.guard(cancel, done, func() {
		fault = d.through(ctx, cancel)
		cancel()
	})
	err := dashboard.Run(ctx, nil, r.aud.latest, r.take, bell)
	cancel()
	<-done
	if guard.fault() == nil {
		afterScreen(d.con, d.table(columns(d.con.out)))
	}
	return errors.Join(guard.fault(), fault, err)
}

// table is what the drill came to, in so many columns; 0: as many as it takes.
func (d *driller) table(width int) []string {
	all := "tetherbell replay --drill --table"
	if d.named {
		all += " --attempts " + d.path
	}
	return append(drill.Table(d.rows, width), fmt.Sprintf("order: --seed %d; kept in %s", d.like.Seed, d.path), "all attempts: "+all)
}

// through goes through the recordings. What cannot be kept does not end the
// drill: it is told at its end.
func (d *driller) through(ctx context.Context, cancel func()) error {
	var kept error
	for d.at = range d.names {
		row, on, err := d.one(ctx, cancel)
		if row != nil {
			kept = errors.Join(kept, d.keep(*row))
		}
		if err != nil || !on {
			return errors.Join(kept, err)
		}
		if on, err := d.await(ctx); !on || err != nil {
			return errors.Join(kept, err)
		}
	}
	return kept
}

// one plays one recording, scores what the trainee did, and tells it. on is false
// where the drill shall end.
func (d *driller) one(ctx context.Context, cancel func()) (row *drill.Row, on bool, err error) {
	file, err := d.load(ctx)
	if err != nil {
		return nil, false, err
	}
	defer file.Close()
	if d.at == 0 && d.r.aud.form == asScreen {
		d.page = d.beginPage()
		if on, err := d.await(ctx); !on || err != nil {
			return nil, false, err
		}
	}
	d.tellBegin()
	var a answer
	var guard faults
	known := make(chan struct{})
	name, about, c := d.names[d.at], &d.about[d.at], d.craft[d.at]
	// The examiner: ended by the recording's end or ctx, waited for below.
	go guard.guard(cancel, known, func() { a = examine(ctx, name, about, c) })
	stop, on, err := d.play(ctx)
	if on && err == nil {
		d.page = &drillPage{Head: "DRILL", Order: "...", Text: "working out the answer", Next: "goes on"}
		d.wait(ctx, known)
	}
	<-known
	if err = errors.Join(err, guard.fault()); err != nil || !on || ctx.Err() != nil {
		return nil, false, err
	}
	if a.err != nil {
		return nil, false, a.err
	}
	it := d.row(&a, stop)
	d.tellResult(&it, &a)
	return &it, true, nil
}

// play plays the recording that is loaded, until the trainee stops it or it ends.
func (d *driller) play(ctx context.Context) (stop float64, on bool, err error) {
	r := d.r
	d.page, d.order, r.paused = nil, nil, false
	defer func() { r.paused = true }()
	if d.orders != nil {
		d.takeWaiting(ctx)
		if d.order != nil && d.order.now {
			return 0, true, nil
		}
	}
	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	d.last = time.Now()
	for {
		select {
		case now := <-tick.C:
			r.pos += int64(float64(now.Sub(d.last).Microseconds()) * r.speed)
			d.last = now
			if err := r.advance(r.pos); err != nil {
				return 0, false, err
			}
		case a := <-r.acts:
			if a.Kind == dashboard.DrillStop {
				return d.now(), true, nil
			}
			if err := d.act(a); err != nil {
				return 0, false, err
			}
		case o, open := <-d.nextOrders():
			if !open {
				d.orders = nil
			} else if d.take(o); d.order.now {
				return d.now(), true, nil
			}
		case <-r.broken():
			return 0, false, nil
		case <-ctx.Done():
			return 0, false, nil
		}
		switch {
		case r.halted():
			return d.order.at, true, nil
		case r.ended:
			return drill.Never, true, nil
		}
		if time.Since(r.shownAt) >= frameEvery {
			r.show()
		}
	}
}

// now is the recording's time at this moment.
func (d *driller) now() float64 {
	return seconds(d.r.desk.eng.Now()) + time.Since(d.last).Seconds()*d.r.speed
}

// act carries out what is no answer: what has to do with the sound. Nobody steers
// a drill.
func (d *driller) act(a dashboard.Act) error {
	switch a.Kind {
	case dashboard.Acknowledge, dashboard.PauseSound, dashboard.ToggleTick:
		if d.heard { // else the tick would tell
			return d.r.act(a)
		}
	}
	return nil
}

// await shows the page until the trainee goes on. Without a screen nobody waits.
func (d *driller) await(ctx context.Context) (on bool, err error) {
	if d.r.aud.form != asScreen {
		return ctx.Err() == nil, nil
	}
	d.r.paused = true
	on = d.waitFor(ctx, func(a dashboard.Act) bool { return a.Kind == dashboard.DrillNext }, nil)
	return on, nil
}

// wait shows the page until something is done.
func (d *driller) wait(ctx context.Context, done <-chan struct{}) {
	d.waitFor(ctx, func(dashboard.Act) bool { return false }, done)
}

func (d *driller) waitFor(ctx context.Context, enough func(dashboard.Act) bool, done <-chan struct{}) bool {
	tick := time.NewTicker(frameEvery)
	defer tick.Stop()
	d.r.show()
	for {
		select {
		case <-tick.C:
			d.r.show()
		case a := <-d.r.acts:
			if enough(a) {
				return true
			}
		case <-done:
			return true
		case <-ctx.Done():
			return false
		}
	}
}

// dress puts the drill on the picture: it tells neither which recording this is
// nor how much of it is left.
func (d *driller) dress(st *dashboard.Status) {
	st.Source, st.ReplayLength = "drill", 0
	st.Drill = &dashboard.Drill{
		Attempt: d.at + 1, Of: len(d.names), AlarmsOff: !d.heard, Elapsed: float64(d.r.pos) / 1e6, Page: d.page,
	}
	if d.page == nil && d.r.ended {
		st.Ended = false // the page comes at once
	}
}

// A drillOrder is one line of standard input: the answer for one recording.
type drillOrder struct {
	now, pass bool
	at        float64 // else: stop at this time
}

func parseDrillOrder(line string) (drillOrder, error) {
	word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
	rest = strings.TrimSpace(rest)
	switch {
	case word == "pass" && rest == "":
		return drillOrder{pass: true}, nil
	case word == "stop" && rest == "":
		return drillOrder{now: true}, nil
	case word == "stop":
		at, err := strconv.ParseFloat(rest, 64)
		if err != nil || !(at >= 0 && at <= maxAt) {
			return drillOrder{}, fmt.Errorf("a stop takes the seconds of the recording, not %q", rest)
		}
		return drillOrder{at: at}, nil
	}
	return drillOrder{}, fmt.Errorf("not understood: %q", line)
}

// nextOrders gives the next answer where the recording has none yet.
func (d *driller) nextOrders() <-chan drillOrder {
	if d.order != nil {
		return nil
	}
	return d.orders
}

// takeWaiting takes an answer that stands on standard input already.
func (d *driller) takeWaiting(ctx context.Context) {
	t := time.NewTimer(orderPatience)
	defer t.Stop()
	select {
	case o, open := <-d.orders:
		if open {
			d.take(o)
		} else {
			d.orders = nil
		}
	case <-t.C:
	case <-ctx.Done():
	}
}

// take notes the answer for the recording that runs. One for a time that has
// passed is one for now.
func (d *driller) take(o drillOrder) {
	if !o.now && !o.pass {
		o.now = o.at < seconds(d.r.desk.eng.Now())
		d.r.halt = max(1, int64(o.at*1e6))
	}
	d.order = &o
}
