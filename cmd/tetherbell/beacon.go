package main

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"tetherbell/dashboard"
	"tetherbell/dashboard/vigil"
	"tetherbell/link"
)

const (
	// beaconEvery is how often the beacon looks at what it shall say.
	beaconEvery = 50 * time.Millisecond
	// pulseHalf is half a period of the pulse: 5 Hz. A timer outside that falls
	// after half a second has room for two lost edges.
	pulseHalf = 100 * time.Millisecond
	// beaconStale is how long a judgement holds: the desk renews it every 20 ms.
	beaconStale = 500 * time.Millisecond
	// assertAgain is how often a line is set that should stand already: an adapter
	// may have been reset, and one that is gone is noticed so.
	assertAgain = time.Second
	// beaconRetry is the time from a failure to the next attempt.
	beaconRetry = 2 * time.Second
)

const (
	beaconCaution = "the beacon is no safety device: it must not cut motors by itself, and nothing may rely on it alone"
	beaconHelp    = `--beacon holds a line of a serial port asserted while all is well, for a lamp or a
horn outside: it falls with an alarm of medium or high priority (until it is over
and acknowledged; a sound pause changes nothing), with bad or no data of any
bridge, a lost port, a part of the monitor that stands still, and with the end of
the program. The screen says whether it is up or fallen, and why.
A level cannot fall when the whole program freezes: --beacon-form pulse changes
it ten times a second instead, for a timer outside that falls without it.
Caution: it is NO safety-rated stop and must not cut motors by itself. Many
boards restart when DTR changes: for these take rts, or another port.`
)

// beaconFlags are of the beacon.
type beaconFlags struct{ line, port, form string }

func (f *beaconFlags) addTo(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.line, "beacon", "", "hold this line asserted while all is well: dtr or rts (`LINE`)")
	cmd.Flags().StringVar(&f.port, "beacon-port", "", "the beacon's serial `PORT`, where it is not the watched one")
	cmd.Flags().StringVar(&f.form, "beacon-form", "level", "how all is well is shown: level, or pulse (5 Hz)")
}

// check refuses what cannot be meant.
func (f *beaconFlags) check(sources []string) error {
	switch {
	case f.line == "" && (f.port != "" || f.form != "level" && f.form != ""):
		return hinted(usagef("which line is the beacon?"), "--beacon rts")
	case f.line == "":
		return nil
	case f.line != "dtr" && f.line != "rts":
		return hinted(usagef("there is no line %q for a beacon", f.line), "--beacon dtr or --beacon rts")
	case f.form != "level" && f.form != "pulse":
		return hinted(usagef("the beacon has no form %q", f.form), "--beacon-form level or --beacon-form pulse")
	}
	for i, source := range sources {
		if name, _, ok := portAndBaud(source); ok {
			source = name
		}
		if f.port == source && i > 0 {
			return hinted(usagef("%s is watched, and of several watched ports the first alone can have the beacon", f.port),
				"name that port first, or give the beacon a port of its own")
		}
		if f.port == source {
			f.port = ""
		}
	}
	return nil
}

// A beacon shows on a line of a port that all is well. The desk judges and
// renews, and waits for nothing; a goroutine of its own sets the line, by the
// newest judgement. The methods of a nil beacon do nothing.
type beacon struct {
	name  string // "DTR of /dev/ttyUSB0"
	line  link.ModemLine
	set   func(on bool) error
	end   func() // lets a port of its own go
	pulse bool
	watch *vigil.Watch

	well    atomic.Bool
	renewed atomic.Uint64
	trouble atomic.Pointer[string]
	why     atomic.Pointer[string] // it is not well
	says    atomic.Bool            // the line was set to say that all is well, by level or pulse
	done    chan struct{}
	stop    context.CancelFunc

	// Owned by its goroutine.
	eyes    *vigil.Looker
	seen    uint64    // of renewed
	at      time.Time // when that came
	toggled uint64    // renewed at the last edge
	edge    time.Time // of the pulse
	on      bool      // as set last
	setAt   time.Time
	unsure  bool      // the last attempt failed: nobody knows how the line stands
	rest    time.Time // until then it is not asserted
}

// openBeacon opens a beacon as it was asked for; nil where none was. watched is
// the port whose line it is unless another is named. A port
// without such lines is refused before anything is watched.
func openBeacon(f *beaconFlags, watched *link.Port) (*beacon, error) {
	if f.line == "" {
		return nil, nil
	}
	line := link.DTR
	if f.line == "rts" {
		line = link.RTS
	}
	b := &beacon{line: line, pulse: f.form == "pulse", done: make(chan struct{}), end: func() {}}
	other := "another port has such a line: --beacon-port PORT (tetherbell ports lists them)"
	switch {
	case f.port != "":
		own := &ownPort{name: f.port, line: line}
		if err := own.set(false); err != nil {
			own.close()
			if errors.Is(err, link.ErrNoLines) {
				err = hinted(err, "a pseudo-terminal has none: name a real serial port (tetherbell ports lists them)")
			}
			return nil, err
		}
		b.name, b.set, b.end = line.String()+" of "+f.port, own.set, own.close
	case watched == nil:
		return nil, hinted(usagef("what is watched is no serial port, and has no line for a beacon"), other)
	default:
		if err := watched.SetLine(line, false); err != nil {
			return nil, hinted(err, other)
		}
		b.name = line.String() + " of the watched port"
		b.set = func(on bool) error { return watched.SetLine(line, on) }
	}
	return b, nil
}

// An ownPort is a port that is the beacon's alone. It is opened again after a
// fault.
type ownPort struct {
	name string
	line link.ModemLine
	port *link.Port
}

func (o *ownPort) set(on bool) error {
	if o.port == nil {
		port, err := link.OpenPort(o.name, link.DefaultBaud)
		if err != nil {
			return err
		}
		o.port = port
	}
	err := o.port.SetLine(o.line, on)
	if err != nil {
		o.close()
	}
	return err
}

func (o *ownPort) close() {
	if o.port != nil {
		o.port.Close()
		o.port = nil
	}
}

// renew says that the desk has judged once more.
func (b *beacon) renew() {
	if b != nil {
		b.renewed.Add(1)
	}
}

// fault says why the line does not say what it should, "" if it does.
func (b *beacon) fault() string {
	if b == nil {
		return ""
	}
	if t := b.trouble.Load(); t != nil {
		return *t
	}
	return ""
}

// start starts the beacon's goroutine: ctx or close ends it, close waits.
func (b *beacon) start(ctx context.Context, watch *vigil.Watch) {
	if b == nil {
		return
	}
	ctx, b.stop = context.WithCancel(ctx)
	b.watch, b.eyes = watch, watch.Looker(vigil.Beacon)
	go func() {
		defer close(b.done)
		defer func() {
			if p := recover(); p != nil {
				watch.Fall(vigil.Beacon)
			}
			_ = b.set(false) // the end, whatever it is
			b.end()
		}()
		tick := time.NewTicker(beaconEvery)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				watch.Rest(vigil.Beacon)
				return
			case <-tick.C:
				b.turn(time.Now())
			}
		}
	}()
}

// drop lets a beacon go that was not started.
func (b *beacon) drop() {
	if b != nil {
		b.end()
	}
}

// close lets the line fall. A port that does not answer is not waited for long.
func (b *beacon) close() {
	if b != nil {
		b.stop()
		awaitBriefly(b.done)
	}
}

// turn looks once and sets the line.
func (b *beacon) turn(now time.Time) {
	b.watch.Beat(vigil.Beacon)
	b.eyes.Look(now)
	well, on := b.judged(now)
	rests := now.Before(b.rest)
	on = on && !rests
	if !well { // also where the line stands low just now
		b.says.Store(false)
	}
	if on == b.on && !b.unsure && now.Sub(b.setAt) < assertAgain {
		return
	}
	// After a failure the line may still stand asserted, or be asserted again when
	// its port is back: until it surely fell it is dropped at every look.
	err := b.set(on)
	b.on, b.setAt, b.unsure = on && err == nil, now, err != nil
	b.says.Store(well && !rests && err == nil)
	text := ""
	switch {
	case err == nil && rests && well:
		return // it has fallen; whether it can be asserted again shows later
	case err != nil && on:
		b.rest = now.Add(beaconRetry)
	}
	if err != nil && !errors.Is(err, link.ErrNotOpen) { // a lost port is told as such
		text = err.Error()
	}
	b.trouble.Store(&text)
}

// judged is whether all is well, and what the line should be now. Edges of the
// pulse are made of the desk's judgements: without a new one there is none.
func (b *beacon) judged(now time.Time) (well, on bool) {
	if n := b.renewed.Load(); n != b.seen {
		b.seen, b.at = n, now
	}
	well = b.well.Load() && now.Sub(b.at) < beaconStale
	for _, m := range []vigil.Member{vigil.Desk, vigil.Sound, vigil.Screen} {
		if _, down := b.eyes.Down(m); down {
			well = false // nobody would hear or see an alarm
		}
	}
	if !well || !b.pulse {
		return well, well
	}
	if now.Sub(b.edge) < pulseHalf-beaconEvery/2 || b.seen == b.toggled {
		return well, b.on
	}
	b.edge, b.toggled = now, b.seen
	return well, !b.on
}

// tellBeacon tells of the beacon at the start, with its caution.
func (l *live) tellBeacon() {
	if l.beacon == nil {
		return
	}
	form := "asserted"
	if l.beacon.pulse {
		form = "pulsing at 5 Hz"
	}
	for _, text := range []string{fmt.Sprintf("beacon: %s, %s while all is well", l.beacon.name, form), beaconCaution} {
		if l.aud.form == asScreen {
			l.aud.note(dashboard.Entry{Text: text})
		} else {
			l.note("%s", text)
		}
	}
}

// lookAtBeacon tells when the beacon cannot be set, and when it can again.
func (l *live) lookAtBeacon() {
	if now := l.beacon.fault(); now != l.beaconSaid {
		if l.beaconSaid = now; now != "" {
			now = "THE BEACON IS NOT SET: " + now + "; the watch goes on, and it is tried again"
		} else {
			now = "the beacon is set again"
		}
		l.record(now)
		l.say(now)
	}
}
