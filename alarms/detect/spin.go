package detect

import (
	"fmt"

	"tetherbell/decode"
)

const (
	// spinShare of idle speed is more than noise makes of a standing rotor.
	spinShare = 0.05
	// With slow state lines it waits for two and a half of them, one of which
	// may be lost.
	spinStates = 2.5
	// spinLeast, rev/min of the shaft: where no idle speed is known, a rotor
	// under this is not called spinning (common practice, no source).
	spinLeast = 200
	// spinSettled: armed with the stick at zero for so long, the rotors have
	// reached their idle speed.
	spinSettled = 1 * Second
	// spinBlend is the weight of a new idle speed in the running mean: at 10 to
	// 200 speeds a second it follows within seconds.
	spinBlend = 0.05
	// spinHold: the alarm holds down to this part of its limit.
	spinHold = 0.8
)

// spinDisarmed tells of motors that go while the craft is disarmed: of all that
// lines carry, for a craft file may be of another craft.
type spinDisarmed struct {
	late    *lateStop // the coast after a stop is its business
	scratch [1]Finding

	known   int64 // disarmed since, as far as known; -1 not disarmed
	settle  int64 // rotors may coast from an unseen run until then
	idle    float64
	idleLow int64 // armed with the stick at zero since, -1 not so
	fastest float64
	stood   [decode.MaxMotors]bool // was slow since the last stop

	outSince, rpmSince [decode.MaxMotors]int64 // going since, -1 not going
	outLast, rpmLast   int64
	outHeard, rpmHeard [decode.MaxMotors]int64 // when each was last measured
	armedHeard         int64                   // when the armed flag was last known
	mask               Where
	join               joining

	bySpeed bool
}

// NewSpinDisarmed returns the detector of spin-disarmed.
func NewSpinDisarmed() Detector {
	d := &spinDisarmed{late: newLateStop()}
	d.Reset()
	return d
}

func (*spinDisarmed) Kind() Kind { return SpinDisarmed }

// Reset starts anew: rotors may coast from a run that was not seen. The
// learned speeds stay.
func (d *spinDisarmed) Reset() {
	d.late.Reset()
	d.known, d.idleLow, d.mask = -1, -1, 0
	d.restart()
}

// restart drops the times since which motors go.
func (d *spinDisarmed) restart() {
	for i := range d.outSince {
		d.outSince[i], d.rpmSince[i], d.stood[i] = -1, -1, false
	}
}

// Observe follows armed flag, outputs and speeds.
func (d *spinDisarmed) Observe(b *Bench, in *Input) {
	d.late.Observe(b, in)
	switch in.S.Tag {
	case decode.State:
		d.state(b, in.At)
	case decode.Out:
		d.outLast = in.At
		for i := range decode.MaxMotors {
			d.mark(&d.outSince[i], &d.outHeard[i], b.Out[i].OK, over(b.Out[i].V, zeroOutput), in.At)
		}
	case decode.ERPM:
		d.rpmLast = in.At
		d.learn(b, in.At)
		for i := range decode.MaxMotors {
			d.rotor(b, i, in.At)
		}
	}
}

// state notes since when the craft is disarmed. A flag that is missing for a
// moment does not let the rotors coast anew.
func (d *spinDisarmed) state(b *Bench, at int64) {
	if b.Armed != Unknown {
		d.armedHeard = at
	}
	if b.Armed == Yes || b.Armed == Unknown && at-d.armedHeard > holeTime {
		d.known, d.mask = -1, 0
		d.restart()
	} else if b.Armed == No && d.known < 0 {
		d.known = at
		d.settle = at + b.Coast()
		if d.late.busy() { // a stop that was seen: its own coast, twice, to the last turn
			d.settle = at + 2*d.late.within
		}
	}
	atIdle := b.Armed == Yes && b.Stopped != Yes && b.Stick[0].OK && b.Stick[0].V < b.Limits.StickIdle
	switch {
	case !atIdle:
		d.idleLow = -1
	case d.idleLow < 0:
		d.idleLow = at
	}
}

// learn follows the idle speed while the craft idles as it should.
func (d *spinDisarmed) learn(b *Bench, at int64) {
	sum, n := 0.0, 0
	for i := range decode.MaxMotors {
		if b.ERPM[i].OK {
			sum += b.ERPM[i].V
			n++
			d.fastest = max(d.fastest, b.ERPM[i].V)
		}
	}
	out, driven := b.MeanOut()
	slipped := driven && over(out, groundOutput(b))
	if n == 0 || sum == 0 || d.idleLow < 0 || at-d.idleLow < spinSettled || slipped {
		return
	}
	mean := sum / float64(n)
	if d.idle == 0 {
		d.idle = mean
	}
	d.idle += spinBlend * (mean - d.idle)
}

// limit returns the electrical speed over which a rotor spins.
func (d *spinDisarmed) limit(b *Bench) float64 {
	if d.idle > 0 {
		return spinShare * d.idle
	}
	return max(spinShare*d.fastest, spinLeast*polePairs(b))
}

// rotor marks a rotor as going. After a stop it first has to stand once, or
// to have had time enough to.
func (d *spinDisarmed) rotor(b *Bench, i int, at int64) {
	going := b.ERPM[i].OK && over(b.ERPM[i].V, d.limit(b))
	if b.ERPM[i].OK && !going {
		d.stood[i] = true
	}
	d.mark(&d.rpmSince[i], &d.rpmHeard[i], b.ERPM[i].OK, going && (d.stood[i] || at >= d.settle), at)
}

// mark follows whether a motor goes where it must not. One that is not measured
// for a moment goes on as it did.
func (d *spinDisarmed) mark(since, heard *int64, known, going bool, at int64) {
	if d.known < 0 || d.late.busy() {
		known, going = true, false
	}
	followHole(since, heard, known, going, at)
}

// hole returns the motors that went and are not measured for a moment: they
// have not come to rest by that.
func (d *spinDisarmed) hole(b *Bench) Where {
	w := Where(0)
	for i := range decode.MaxMotors {
		if !b.Out[i].OK && d.outSince[i] >= 0 && b.Now-d.outHeard[i] <= holeTime ||
			!b.ERPM[i].OK && d.rpmSince[i] >= 0 && b.Now-d.rpmHeard[i] <= holeTime {
			w |= Motor(i)
		}
	}
	return w
}

// stateWait returns how long a motor must go before it counts: the state line
// that tells of arming may come after the first output, and none on its way shall
// excuse it any more.
func stateWait(b *Bench) int64 {
	return max(int64(b.Limits.SpinSeconds*float64(Second)), int64(spinStates*b.Streams[decode.State].Period))
}

// going returns the motors that have been going for a time.
func (d *spinDisarmed) going(b *Bench, least int64) Where {
	w := Where(0)
	for i := range decode.MaxMotors {
		if s := d.outSince[i]; s >= 0 && b.Out[i].OK && d.outLast-s >= least {
			w |= Motor(i)
		}
		if s := d.rpmSince[i]; s >= 0 && b.ERPM[i].OK && d.rpmLast-s >= least {
			w |= Motor(i)
		}
	}
	return w
}

// Judge keeps one finding that joins the motors which are going.
func (d *spinDisarmed) Judge(b *Bench, dst []Finding) []Finding {
	d.late.Judge(b, d.scratch[:0])
	if d.known < 0 || d.late.busy() {
		d.mask = 0
		return dst
	}
	if b.Armed != No { // not known for a moment
		return dst
	}
	going := d.going(b, stateWait(b))
	hole := d.hole(b)
	switch {
	case going != 0:
		if d.mask == 0 { // those that began a moment later belong to the same happening
			going = d.going(b, stateWait(b)/2)
		}
		d.join.take(&d.mask, going|hole&d.join.late, b.Now, d.holds(b) || hole&d.mask != 0)
		return append(dst, d.finding(b, High))
	case d.mask != 0 && d.holds(b):
		return append(dst, d.finding(b, None))
	case hole&d.mask != 0:
		return dst
	}
	d.mask = 0
	return dst
}

func (d *spinDisarmed) holds(b *Bench) bool {
	for i := range decode.MaxMotors {
		if d.mask&Motor(i) == 0 {
			continue
		}
		if b.Out[i].OK && b.Out[i].V > spinHold*zeroOutput || b.ERPM[i].OK && b.ERPM[i].V > spinHold*d.limit(b) {
			return true
		}
	}
	return false
}

// finding takes the value that lies furthest past its limit: an output, or a
// speed as a share of idle speed (of what counts as 5 % of it where unknown).
func (d *spinDisarmed) finding(b *Bench, level Priority) Finding {
	out, share := 0.0, 0.0
	for i := range decode.MaxMotors {
		if d.mask&Motor(i) == 0 {
			continue
		}
		if b.Out[i].OK {
			out = max(out, b.Out[i].V)
		}
		if b.ERPM[i].OK {
			share = max(share, spinShare*b.ERPM[i].V/d.limit(b))
		}
	}
	d.bySpeed = share/spinShare > out/zeroOutput
	if d.bySpeed {
		return Finding{Where: d.mask, Level: level, Value: share, Limit: spinShare}
	}
	return Finding{Where: d.mask, Level: level, Value: out, Limit: zeroOutput}
}

// Describe tells which motors go, by output or by speed.
func (d *spinDisarmed) Describe(b *Bench, f Finding) Story {
	s := Story{Unit: "1", Action: "keep clear; cut power only from outside the propellers' reach", Cause: "outputs while disarmed"}
	s.Text = fmt.Sprintf("%s %s an output of %.3f although the craft is disarmed", f.Where, plural(f.Where, "has", "have"), f.Value)
	if d.bySpeed {
		s.Cause = "rotors turn while disarmed"
		s.Text = fmt.Sprintf("%s %s at %.2f of idle speed although the craft is disarmed", f.Where, plural(f.Where, "turns", "turn"), f.Value)
		s.More = append(s.More, Fact{"idle_speed_known", d.idle > 0})
	}
	return s
}

// Missing: the armed flag and some motor are all it needs.
func (d *spinDisarmed) Missing(b *Bench) string {
	if b.Armed == Unknown {
		return noArmed(b)
	}
	return noMotors(b)
}
