package detect

import (
	"fmt"

	"tetherbell/alarms/window"
	"tetherbell/decode"
)

const (
	// stopShare of the speed before is what a rotor may have left when its coast
	// should be over: a tenth of the speed is a hundredth of the thrust (common
	// practice, no source).
	stopShare = 0.10
	// stopHold: the alarm holds down to this part of its limit.
	stopHold = 0.8
	// slowRotor, rev/min of the shaft: a rotor that ran slower than this before
	// the stop is held against this speed, so that 50 rev/min of a rotor that
	// hardly turned rings nothing (common practice, no source).
	slowRotor = 500
	// Speed before the stop: the mean of this time before it. State lines come
	// up to 0.1 s late, so the newest speeds may belong to the coast already.
	beforeTime = 3 * Second / 10
	// beforeRing holds beforeTime at 200 speeds a second, the protocol's top.
	beforeRing = 64
	// stopGrace: after the last deadline the streams get this long to show it
	// before the stop is taken as done: two lines of the slowest, 10 a second.
	stopGrace = Second / 4
)

// lateStop tells of motors that go on after a stop or a disarm.
type lateStop struct {
	ran    bool  // was seen running since the last stop
	halted bool  // stopped or disarmed, as last known
	at     int64 // when the stop began that is being watched, -1 none
	within int64 // how long the rotors have for it

	speeds  [decode.MaxMotors]*window.Ring // electrical, the time before the stop
	before  [decode.MaxMotors]float64
	coasts  coasts
	driven  confirm // by out lines
	turning confirm // by erpm lines
	outs    Where   // motors with an output, by the newest out line
	spins   Where   // rotors over their share, by the newest erpm line
	mask    Where   // of the alarm that is up, fixed at its raise; 0 none
	rang    bool    // this stop raised one
	stood   Where   // rotors that have coasted down since this stop

	bySpeed bool // what the last finding's value is
}

// NewLateStop returns the detector of late-stop.
func NewLateStop() Detector { return newLateStop() }

func newLateStop() *lateStop {
	d := &lateStop{at: -1}
	for i := range d.speeds {
		d.speeds[i] = window.New(beforeRing)
	}
	return d
}

func (*lateStop) Kind() Kind { return LateStop }

// Reset drops the stop that is being watched. The learned coasts stay: they
// are properties of the craft.
func (d *lateStop) Reset() {
	d.ran, d.halted = false, false
	d.end()
	for i := range d.speeds {
		d.speeds[i].Clear()
	}
}

// end closes the stop that is being watched.
func (d *lateStop) end() {
	d.at, d.mask, d.outs, d.spins, d.stood, d.rang = -1, 0, 0, 0, 0, false
	d.driven, d.turning = confirm{}, confirm{}
}

// busy reports whether a stop is being watched or rings: then what turns is
// this alarm's.
func (d *lateStop) busy() bool { return d.at >= 0 }

// Observe follows the stop switch, the outputs and the speeds.
func (d *lateStop) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.State:
		d.state(b, in.At)
	case decode.Out:
		d.output(b, in.At)
	case decode.ERPM:
		d.speed(b, in.At)
	}
}

func (d *lateStop) state(b *Bench, at int64) {
	halt := b.Stopped == Yes || b.Armed == No
	switch {
	case halt && !d.halted:
		d.halted = true
		// A session that begins disarmed has no stop to watch; one that begins
		// armed with the stop asserted has.
		if d.ran || b.Armed != No {
			d.begin(b, at)
		}
		d.ran = false
	case b.Armed == Yes && b.Stopped != Yes:
		d.halted, d.ran = false, true
		d.end()
	}
}

// begin starts to watch a stop.
func (d *lateStop) begin(b *Bench, at int64) {
	d.end()
	d.at = at
	for i, r := range d.speeds {
		r.DropBefore(at - beforeTime)
		d.before[i] = r.Mean()
	}
	d.within = d.coasts.within(b, &d.before)
}

// outputDue and coastDue are when outputs must be zero and rotors slow.
func (d *lateStop) outputDue(b *Bench) int64 {
	return d.at + int64(b.Limits.StopSeconds*float64(Second))
}

func (d *lateStop) coastDue() int64 { return d.at + d.within }

func (d *lateStop) output(b *Bench, at int64) {
	d.outs = 0
	if d.at >= 0 && at >= d.outputDue(b) {
		for i := range b.Motors {
			if b.Out[i].OK && over(b.Out[i].V, zeroOutput) {
				d.outs |= Motor(i)
			}
		}
	}
	d.driven.see(d.outs != 0, at)
}

func (d *lateStop) speed(b *Bench, at int64) {
	d.spins = 0
	for i := range b.Motors {
		if !b.ERPM[i].OK {
			continue
		}
		v := b.ERPM[i].V
		if d.at < 0 {
			d.speeds[i].Push(at, v)
			d.coasts.fastest[i] = max(d.coasts.fastest[i], v)
			continue
		}
		slow := !over(d.share(b, i), stopShare)
		if slow && d.stood&Motor(i) == 0 {
			d.stood |= Motor(i)
			if !d.rang {
				d.coasts.learn(b, i, d.before[i], at-d.at)
			}
		}
		if !slow && at >= d.coastDue() {
			d.spins |= Motor(i)
		}
	}
	d.turning.see(d.spins != 0, at)
}

// share returns the speed of motor i over its speed before the stop.
func (d *lateStop) share(b *Bench, i int) float64 {
	if !b.ERPM[i].OK {
		return 0
	}
	return b.ERPM[i].V / max(d.before[i], slowRotor*polePairs(b))
}

// Judge keeps one finding that joins the motors which were still going when
// it was raised.
func (d *lateStop) Judge(b *Bench, dst []Finding) []Finding {
	if d.at < 0 {
		return dst
	}
	going := Where(0)
	if d.driven.met(b.Now, &b.Streams[decode.Out]) {
		going |= d.outs
	}
	if d.turning.met(b.Now, &b.Streams[decode.ERPM]) {
		going |= d.spins
	}
	switch {
	case going != 0:
		if d.mask == 0 || d.mask&going == 0 && !d.holds(b) {
			d.mask, d.rang = going, true
		}
		return append(dst, d.finding(b, High))
	case d.mask != 0 && d.holds(b):
		return append(dst, d.finding(b, None))
	}
	d.mask = 0
	// Once all stands, a disarmed craft is spin-disarmed's to watch. A stop that
	// is asserted while armed stays watched until it is released.
	if b.Armed == No && b.Now > max(d.outputDue(b), d.coastDue())+stopGrace {
		d.end()
	}
	return dst
}

// holds reports whether a motor of the alarm is still inside the deadband.
func (d *lateStop) holds(b *Bench) bool {
	for i := range b.Motors {
		if d.mask&Motor(i) == 0 {
			continue
		}
		if b.Out[i].OK && b.Out[i].V > stopHold*zeroOutput {
			return true
		}
		if b.Now >= d.coastDue() && d.share(b, i) > stopHold*stopShare {
			return true
		}
	}
	return false
}

// finding takes the value that lies furthest past its limit.
func (d *lateStop) finding(b *Bench, level Priority) Finding {
	out, share := 0.0, 0.0
	for i := range b.Motors {
		if d.mask&Motor(i) == 0 {
			continue
		}
		if b.Out[i].OK {
			out = max(out, b.Out[i].V)
		}
		if b.Now >= d.coastDue() {
			share = max(share, d.share(b, i))
		}
	}
	d.bySpeed = share/stopShare > out/zeroOutput
	if d.bySpeed {
		return Finding{Where: d.mask, Level: level, Value: share, Limit: stopShare}
	}
	return Finding{Where: d.mask, Level: level, Value: out, Limit: zeroOutput}
}

// Describe tells which motors go on, by output or by speed.
func (d *lateStop) Describe(b *Bench, f Finding) Story {
	after := float64(b.Now-d.at) / float64(Second)
	word := "disarming"
	if b.Stopped == Yes {
		word = "the stop"
	}
	s := Story{Unit: "1", Action: "cut power; keep clear"}
	if d.bySpeed {
		s.Cause = "rotors do not coast down"
		s.Text = fmt.Sprintf("%s still turn at %.2f of the speed before, %.1f s after %s", f.Where, f.Value, after, word)
	} else {
		s.Cause = "outputs stay over zero"
		s.Text = fmt.Sprintf("%s still driven with output %.3f, %.1f s after %s", f.Where, f.Value, after, word)
	}
	s.More = append(s.More, Fact{"after_s", after}, Fact{"coast_allowed_s", float64(d.within) / float64(Second)})
	return s
}

// Missing: it needs a stop to see, and motors to watch.
func (d *lateStop) Missing(b *Bench) string {
	if b.Armed == Unknown && b.Stopped == Unknown {
		return "armed state and stop switch not known"
	}
	return noMotors(b)
}

// noMotors says so where neither outputs nor speeds are measured.
func noMotors(b *Bench) string {
	for i := range b.Motors {
		if b.Out[i].OK || b.ERPM[i].OK {
			return ""
		}
	}
	return "no motor outputs or rotor speeds"
}
