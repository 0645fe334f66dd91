package runcard

import (
	"fmt"
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// stopShare of its speed before the stop is a rotor that has stopped: a
	// hundredth of its thrust is left, as for late-stop (common practice, no
	// source).
	stopShare = 0.10
	// The speed before the stop is the mean over beforeTime, without the newest
	// beforeSkip: state lines come up to 0.1 s late, so that the newest speeds may
	// belong to the coast already.
	beforeTime = 3 * detect.Second / 10
	beforeSkip = detect.Second / 10
	ringLen    = 48 // judgements of 10 ms: beforeTime and beforeSkip
	// stopLate is how long after the limit the lines may still bring what was
	// measured before it: two of the slowest, 10 a second.
	stopLate = detect.Second / 4
	// ranLately: something must have turned so shortly before the stop was told.
	// Outputs may be seen at zero before the state line that says why.
	ranLately = detect.Second / 2
)

// A speedRing holds the rotors' electrical speeds of the last moments.
type speedRing struct {
	at [ringLen]int64
	v  [ringLen][decode.MaxMotors]float64 // -1 not measured
	n  int
}

func (g *speedRing) look(b *detect.Bench) {
	i := g.n % ringLen
	g.at[i] = b.Now
	for m := range g.v[i] {
		g.v[i][m] = -1
		if v := speedNow(b, m); v.OK {
			g.v[i][m] = v.V
		}
	}
	g.n++
}

// before is the mean speed of a rotor before a stop at t0, 0 where it stood or
// was not measured.
func (g *speedRing) before(motor int, t0 int64) float64 {
	var m mean
	for i := range min(g.n, ringLen) {
		if age := t0 - g.at[i]; age >= beforeSkip && age <= beforeSkip+beforeTime && g.v[i][motor] >= 0 {
			m.take(g.v[i][motor])
		}
	}
	return m.value()
}

// What a stop is told by.
const (
	byStop   = "the stop"
	byDisarm = "disarming (the stop switch is not told)"
	// missedStop is said where it was told by neither.
	missedStop = "disarmed without the stop: arm again, and press it"
)

// stopWatch follows one stop.
type stopWatch struct {
	sure   bool   // told in lines enough
	lines  int    // in a row that tell of it
	count  uint64 // of state lines when it was told last
	missed bool   // it ran, and was disarmed without the stop
	ran    bool   // armed and turning since the step began
	ranAt  int64  // and when it was seen to turn last
	t0     int64  // of the stop
	by     string
	before [decode.MaxMotors]float64
	lastAt [decode.MaxMotors]int64 // newest speed
	last   [decode.MaxMotors]float64
	stood  [decode.MaxMotors]float64 // when it fell under its share, engine microseconds; 0 not yet
	outAt  int64                     // when all outputs were at zero, 0 not yet
	left   detect.Where              // rotors that have not stood yet
	rotors detect.Where              // those that are watched
	blind  detect.Where              // of them, without a speed now
}

// stopTest: the stop is pressed while armed, and the rotors stand in time.
func (r *Run) stopTest(b *detect.Bench, s *Step) {
	w := &r.ev.stop
	if !r.ev.busy {
		r.hint = hint{}
		armed, stopped := armedNow(b), stoppedNow(b)
		switch {
		case armed == detect.Yes && stopped != detect.Yes:
			driven, turns := turning(b)
			if driven|turns != 0 && r.now-b.ArmedAt >= spinUp {
				w.ran, w.ranAt = true, r.now
			}
			return
		case !w.ran || r.now-w.ranAt > ranLately:
			w.ran = false // what stood already was not stopped
			r.hint = hint{text: "arm first: the test is made at armed idle"}
			if w.missed {
				r.hint = hint{text: missedStop}
			}
			return
		case stopped == detect.Yes:
			r.beginStop(b, b.StoppedAt, byStop)
		case !r.stopTold && armed == detect.No:
			r.beginStop(b, b.DisarmedAt, byDisarm)
		case stopped == detect.Unknown && armed == detect.No:
			return // the switch is told, but not in this line
		case armed == detect.No:
			w.ran, w.missed = false, true
			r.hint = hint{text: missedStop}
			return
		default:
			return // armed state lost for a moment
		}
	}
	if r.confirmStop(b) {
		r.followStop(b)
		r.closeStop(b, s)
	}
}

// confirmStop counts the lines in a row that tell of the stop, and reports whether
// it is a stop still. A stray line is none, nor one that leaves the switch out.
func (r *Run) confirmStop(b *detect.Bench) bool {
	w := &r.ev.stop
	if w.sure {
		return true
	}
	state := &b.Streams[decode.State]
	if state.Count == w.count {
		return true // no line since
	}
	w.count = state.Count
	is, must := b.Stopped, detect.Yes
	if w.by == byDisarm {
		is, must = b.Armed, detect.No
	}
	switch {
	case is == detect.Unknown:
		w.lines = 0 // neither for nor against it
	case is != must || w.by == byDisarm && r.stopTold:
		r.ev.busy, r.ev.stop = false, stopWatch{ran: w.ran, ranAt: w.ranAt}
		return false
	default:
		w.lines++
		w.sure = w.lines >= heldLines
	}
	return true
}

// beginStop starts the clock of a stop.
func (r *Run) beginStop(b *detect.Bench, t0 int64, by string) {
	r.ev.busy = true
	w := &r.ev.stop
	w.t0, w.by = t0, by
	floor := standRPM * polePairs(b)
	for i := range b.Motors {
		w.before[i] = r.ev.speeds.before(i, t0)
		w.lastAt[i], w.last[i] = t0, w.before[i]
		if w.before[i] > floor {
			w.rotors |= detect.Motor(i)
		}
	}
	w.left = w.rotors
}

// followStop notes when each rotor has come under its share, on the line
// between the two speeds around it.
func (r *Run) followStop(b *detect.Bench) {
	w := &r.ev.stop
	floor := standRPM * polePairs(b)
	zero, any := true, false
	w.blind = 0
	for i := range b.Motors {
		if o := outNow(b, i); o.OK {
			any = true
			zero = zero && o.V <= zeroOut && o.At >= w.t0
		}
		v := speedNow(b, i)
		if w.rotors&detect.Motor(i) == 0 && v.OK && v.At > w.t0 && v.V > floor {
			// It turns, whatever was known of it before the stop.
			w.rotors, w.left = w.rotors|detect.Motor(i), w.left|detect.Motor(i)
			w.before[i], w.lastAt[i], w.last[i] = v.V, v.At, v.V
		}
		if w.left&detect.Motor(i) == 0 {
			if again := 2 * math.Max(stopShare*w.before[i], floor); w.rotors&detect.Motor(i) == 0 || !v.OK || v.V <= again {
				continue
			}
			w.left |= detect.Motor(i) // it turns again: that was no stop
		}
		if !v.OK {
			w.blind |= detect.Motor(i)
			continue
		}
		if v.At <= w.lastAt[i] {
			continue
		}
		if target := math.Max(stopShare*w.before[i], floor); v.V <= target {
			part := 1.0
			if w.last[i] > v.V {
				part = min(max((w.last[i]-target)/(w.last[i]-v.V), 0), 1)
			}
			w.stood[i] = float64(w.lastAt[i]) + part*float64(v.At-w.lastAt[i])
			w.left &^= detect.Motor(i)
		}
		w.lastAt[i], w.last[i] = v.At, v.V
	}
	switch {
	case any && !zero:
		w.outAt = 0 // driven again
	case any && w.outAt == 0:
		w.outAt = max(b.OutAt, w.t0)
	}
}

// closeStop judges a stop once all stands, or once it should.
func (r *Run) closeStop(b *detect.Bench, s *Step) {
	w := &r.ev.stop
	outs, _ := measured(b)
	limit := b.Limits.CoastSeconds
	if w.rotors == 0 {
		limit = b.Limits.StopSeconds
	}
	if s.WithinMS > 0 {
		limit = s.WithinMS / 1000
	}
	due := w.t0 + int64(limit*float64(detect.Second))
	outLeft := outs > 0 && w.outAt == 0
	if (w.left != 0 || outLeft) && r.now <= due+stopLate {
		return
	}
	if told := w.t0 + int64(heldLines*b.Streams[decode.State].Period); !w.sure && r.now <= max(due, told)+stopLate {
		return // a slow stream takes longer to say it often enough
	}
	text := ""
	switch late := w.left &^ w.blind; {
	case !w.sure:
		r.byEye("the stop was told in a line or two alone: was it pressed, and did all rotors stand soon?")
		return
	case late != 0:
		text = fmt.Sprintf("%s still at %.2f of the speed before, %.0f ms after %s", names(late), w.most(late), ms(r.now-w.t0), w.by)
	case outLeft:
		text = fmt.Sprintf("outputs not at zero %.0f ms after %s", ms(r.now-w.t0), w.by)
	case w.left != 0:
		r.byEye(fmt.Sprintf("the speed of %s was lost before it stood: was it still soon?", names(w.left)))
		return
	case w.rotors == 0 && outs == 0:
		r.byEye("neither speeds nor outputs were measured: did the rotors stand soon?")
		return
	case w.rotors == 0 && b.Streams[decode.ERPM].Count > 0:
		r.byEye("no rotor's speed was known before the stop: did all rotors turn, and stand soon?")
		return
	case w.rotors == 0:
		took := ms(w.outAt - w.t0)
		text = fmt.Sprintf("outputs at zero %.0f ms after %s; rotor speeds are not measured: see that they stand", took, w.by)
		if took <= limit*1000 {
			r.pass(text)
			return
		}
	case w.rotors != allMotors(b):
		r.byEye(fmt.Sprintf("the speed of %s was not known before the stop: did it stand soon?", names(allMotors(b)&^w.rotors)))
		return
	default:
		took := (w.longest() - float64(w.t0)) / 1000
		text = fmt.Sprintf("rotors down to a tenth of their speed %.0f ms after %s", took, w.by)
		if p := b.Streams[decode.State].Period; p > 0 {
			text += fmt.Sprintf(" (told every %.0f ms)", p/1000)
		}
		if took <= limit*1000 {
			r.pass(text + fmt.Sprintf(", limit %.0f", limit*1000))
			return
		}
	}
	r.fail(text + fmt.Sprintf(", limit %.0f ms", limit*1000))
}

// longest is when the last rotor stood.
func (w *stopWatch) longest() float64 {
	last := float64(w.t0)
	for _, at := range w.stood {
		last = max(last, at)
	}
	return last
}

// most is the largest share of its speed that one of the motors has left.
func (w *stopWatch) most(of detect.Where) float64 {
	share := 0.0
	for i := range w.last {
		if of&detect.Motor(i) != 0 && w.before[i] > 0 {
			share = max(share, w.last[i]/w.before[i])
		}
	}
	return share
}

// allMotors are those that the craft has.
func allMotors(b *detect.Bench) detect.Where {
	all := detect.Where(0)
	for i := range b.Motors {
		all |= detect.Motor(i)
	}
	return all
}

func ms(us int64) float64 { return float64(us) / 1000 }
