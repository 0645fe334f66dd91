package detect

import (
	"fmt"

	"tetherbell/decode"
)

// share returns the speed of motor i over its speed before the stop.
func (d *lateStop) share(b *Bench, i int) float64 {
	if !b.ERPM[i].OK {
		return 0
	}
	return b.ERPM[i].V / max(d.before[i], slowRotor*polePairs(b))
}

// Judge keeps one finding that joins the motors which are still going.
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
	hole := d.hole(b)
	switch {
	case going != 0:
		if d.join.take(&d.mask, going|hole&d.join.late, b.Now, d.holds(b) || hole&d.mask != 0) {
			d.rang = true
		}
		return append(dst, d.finding(b, High))
	case d.mask != 0 && d.holds(b):
		return append(dst, d.finding(b, None))
	case hole != 0:
		return dst
	}
	d.mask = 0
	// Once all stands, a disarmed craft is spin-disarmed's to watch. A stop that
	// is asserted while not disarmed stays watched until it is released.
	if (b.Armed == No || b.Stopped != Yes) && b.Now > max(d.outputDue(b), d.coastDue())+stopGrace {
		d.end()
	}
	return dst
}

// joinAfter is how long a motor that an alarm does not name yet must go before
// it is named: those that begin within it belong to one happening (common
// practice, no source).
const joinAfter = Second / 5

// joining has motors that start to go later join an alarm's place, so that it is
// raised anew and names them.
type joining struct {
	late  Where
	since int64
}

// take brings the place of an alarm up to date with the motors that go now, and
// reports whether it changed. held says that one of the place still goes.
func (j *joining) take(mask *Where, going Where, now int64, held bool) bool {
	late := going &^ *mask
	if late == 0 || j.late == 0 {
		j.since = now
	}
	j.late = late
	if *mask != 0 && (held || *mask&going != 0) && (late == 0 || now-j.since < joinAfter) {
		return false
	}
	if late == 0 && *mask == going {
		return false
	}
	if held {
		*mask |= going
	} else {
		*mask = going
	}
	j.late = 0
	return true
}

// holds reports whether a motor of the alarm is still inside the deadband.
func (d *lateStop) holds(b *Bench) bool {
	for i := range decode.MaxMotors {
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
	for i := range decode.MaxMotors {
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
	after := float64(b.Now-d.told) / float64(Second)
	word := "disarming"
	if d.byStop {
		word = "the stop"
	}
	s := Story{Unit: "1", Action: "keep clear; cut power only from outside the propellers' reach"}
	if d.bySpeed {
		s.Cause = "rotors do not coast down"
		s.Text = fmt.Sprintf("%s still %s at %.2f of the speed before, %.1f s after %s", f.Where, plural(f.Where, "turns", "turn"), f.Value, after, word)
	} else {
		s.Cause = "outputs stay over zero"
		s.Text = fmt.Sprintf("%s still %s an output of %.3f, %.1f s after %s", f.Where, plural(f.Where, "has", "have"), f.Value, after, word)
	}
	s.More = append(s.More, Fact{"after_s", after}, Fact{"coast_allowed_s", float64(d.within) / float64(Second)})
	return s
}

// plural picks the word for one motor or for several.
func plural(w Where, one, several string) string {
	if w&(w-1) == 0 {
		return one
	}
	return several
}

// Missing: it needs a stop to see, and motors to watch.
func (d *lateStop) Missing(b *Bench) string {
	if b.Armed == Unknown && b.Stopped == Unknown {
		return b.never(decode.State, "armed state and stop switch not known")
	}
	return noMotors(b)
}

// noMotors says so where neither outputs nor speeds are measured.
func noMotors(b *Bench) string {
	seen := false
	var blind Where
	for i := range b.Motors {
		if b.Out[i].OK || b.ERPM[i].OK {
			seen = true
		} else {
			blind |= Motor(i)
		}
	}
	if seen && blind != 0 {
		return fmt.Sprintf("%s: neither output nor speed is measured", blind)
	}
	if seen {
		return ""
	}
	if why := noOutputs(b); b.Streams[decode.Out].Count > 0 {
		return why
	}
	if why := noSpeeds(b); b.Streams[decode.ERPM].Count > 0 {
		return why
	}
	return b.never(decode.Out, b.never(decode.ERPM, "no motor outputs or rotor speeds"))
}
