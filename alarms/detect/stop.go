package detect

import (
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

// lateStop tells of motors that go on after a stop or a disarm: of all that lines
// carry, for a craft file may be of another craft.
//
// A stop is watched from the moment it is asserted, and so is a disarm after a
// run, until both are known to be over or, where that is lost sight of, until
// all stands. A craft that is disarmed and has come to rest is spin-disarmed's;
// as soon as it is no longer known to be disarmed with the stop still asserted,
// it is this one's again.
type lateStop struct {
	ran     bool  // may have been running since the last stop
	armed   Tri   // as last known
	stopped Tri   // as last known
	stopAt  int64 // the stop has been asserted since
	at      int64 // since when motors are held to what is being watched, -1 nothing
	told    int64 // the stop or disarm that Describe counts from
	byStop  bool  // and which of them it is
	within  int64 // how long the rotors have for it

	speeds  [decode.MaxMotors]*window.Ring // electrical, the time before the stop
	before  [decode.MaxMotors]float64
	coasts  coasts
	outFrom [decode.MaxMotors]int64 // output over zero since, -1 not
	rpmFrom [decode.MaxMotors]int64 // turning since, -1 not

	outHeard, rpmHeard [decode.MaxMotors]int64 // when each was last measured
	armedHeard         int64                   // when the armed flag was last known

	driven  confirm // by out lines
	turning confirm // by erpm lines
	outs    Where   // motors with an output, by the newest out line
	spins   Where   // rotors over their share, by the newest erpm line
	mask    Where   // of the alarm that is up; 0 none
	join    joining
	rang    bool  // this stop raised one
	stood   Where // rotors that have coasted down since this stop

	bySpeed bool // what the last finding's value is
}

// NewLateStop returns the detector of late-stop.
func NewLateStop() Detector { return newLateStop() }

func newLateStop() *lateStop {
	d := &lateStop{}
	for i := range d.speeds {
		d.speeds[i] = window.New(beforeRing)
	}
	d.Reset()
	return d
}

func (*lateStop) Kind() Kind { return LateStop }

// Reset drops the stop that is being watched. The learned coasts stay: they
// are properties of the craft.
func (d *lateStop) Reset() {
	d.ran, d.armed, d.stopped = false, Unknown, Unknown
	d.end()
	for i := range d.speeds {
		d.speeds[i].Clear()
		d.outFrom[i], d.rpmFrom[i] = -1, -1
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

// state follows the armed flag and the stop. A flag that is lost takes nothing
// back: what was last known of it ends no watch, and begins none. An armed flag
// that is missing for a moment is taken as it was: else a motor that goes in a
// disarmed craft would count as one that may have been allowed to.
func (d *lateStop) state(b *Bench, at int64) {
	if b.Stopped == Yes && d.stopped != Yes {
		d.stopAt = at
	}
	if b.Stopped != Unknown {
		d.stopped = b.Stopped
	}
	armed := b.Armed
	if armed != Unknown {
		d.armed, d.armedHeard = armed, at
	} else if at-d.armedHeard <= holeTime {
		armed = d.armed
	}
	switch {
	case d.stopped != Yes && d.armed != No:
		d.end()
		d.ran = d.ran || armed == Yes || d.going() >= 0
	case b.Stopped == Yes && armed != No:
		if d.at < 0 {
			d.begin(b, d.since(at), d.stopAt, true)
		}
		d.ran = false
	case armed == No:
		// A session that begins disarmed has no run to see the end of.
		if d.at < 0 && d.ran {
			d.begin(b, at, at, false)
		}
		d.ran = false
	case d.at < 0:
		// Lost sight of: what goes may have been allowed to, so that the next
		// stop is one after a run.
		d.ran = d.ran || d.going() >= 0
	}
}

// going returns since when some motor goes, -1 where none does.
func (d *lateStop) going() int64 {
	least := int64(-1)
	for i := range d.outFrom {
		for _, from := range [2]int64{d.outFrom[i], d.rpmFrom[i]} {
			if from >= 0 && (least < 0 || from < least) {
				least = from
			}
		}
	}
	return least
}

// since returns the time from which motors are held to the stop: now, or, in a
// craft that was disarmed and is not any more, since motors go under the stop.
func (d *lateStop) since(at int64) int64 {
	if from := d.going(); !d.ran && from >= 0 {
		return min(at, max(from, d.stopAt))
	}
	return at
}

// begin starts to watch a stop.
func (d *lateStop) begin(b *Bench, at, told int64, byStop bool) {
	d.end()
	d.at, d.told, d.byStop = at, told, byStop
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

// lasts reports whether a motor goes for so long that no state line on its way
// excuses it: one that comes back may have been released from the stop.
func (d *lateStop) lasts(b *Bench, from, at int64) bool {
	return from >= 0 && at-from >= min(stateWait(b), int64(b.Limits.StopSeconds*float64(Second)))
}

func (d *lateStop) output(b *Bench, at int64) {
	d.outs = 0
	for i := range decode.MaxMotors {
		followHole(&d.outFrom[i], &d.outHeard[i], b.Out[i].OK, over(b.Out[i].V, zeroOutput), at)
		if b.Out[i].OK && d.at >= 0 && at >= d.outputDue(b) && d.lasts(b, d.outFrom[i], at) {
			d.outs |= Motor(i)
		}
	}
	if d.outs != 0 || d.hole(b) == 0 {
		d.driven.see(d.outs != 0, at)
	}
}

// followHole follows what may not be known: for a moment that leaves it as it
// was last known.
func followHole(since, heard *int64, known, so bool, at int64) {
	if known {
		*heard = at
	} else if at-*heard <= holeTime {
		return
	}
	follow(since, known && so, at)
}

// hole returns the motors that went and are not measured for a moment: they
// have not come to rest by that.
func (d *lateStop) hole(b *Bench) Where {
	w := Where(0)
	for i := range decode.MaxMotors {
		if !b.Out[i].OK && d.outFrom[i] >= 0 && b.Now-d.outHeard[i] <= holeTime ||
			!b.ERPM[i].OK && d.rpmFrom[i] >= 0 && b.Now-d.rpmHeard[i] <= holeTime {
			w |= Motor(i)
		}
	}
	return w
}

// follow keeps since when something is so, -1 while it is not.
func follow(since *int64, so bool, at int64) {
	switch {
	case !so:
		*since = -1
	case *since < 0:
		*since = at
	}
}

func (d *lateStop) speed(b *Bench, at int64) {
	d.spins = 0
	for i := range decode.MaxMotors {
		if !b.ERPM[i].OK {
			followHole(&d.rpmFrom[i], &d.rpmHeard[i], false, false, at)
			continue
		}
		v := b.ERPM[i].V
		if d.at < 0 {
			d.speeds[i].Push(at, v)
			d.coasts.fastest[i] = max(d.coasts.fastest[i], v)
			followHole(&d.rpmFrom[i], &d.rpmHeard[i], true, over(v, stopShare*slowRotor*polePairs(b)), at)
			continue
		}
		slow := !over(d.share(b, i), stopShare)
		followHole(&d.rpmFrom[i], &d.rpmHeard[i], true, !slow, at)
		if slow && d.stood&Motor(i) == 0 {
			d.stood |= Motor(i)
			if !d.rang {
				d.coasts.learn(b, i, d.before[i], at-d.at)
			}
		}
		if at >= d.coastDue() && d.lasts(b, d.rpmFrom[i], at) {
			d.spins |= Motor(i)
		}
	}
	if d.spins != 0 || d.hole(b) == 0 {
		d.turning.see(d.spins != 0, at)
	}
}
