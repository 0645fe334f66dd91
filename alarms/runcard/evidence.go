package runcard

import (
	"fmt"
	"strconv"
	"strings"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// zeroOut is an output that counts as none: the last digit that a bridge
	// tells of it.
	zeroOut = 0.001
	// standRPM, of the shaft, is a rotor that stands: a tenth of the slowest
	// that is worth a coast, see late-stop (common practice, no source).
	standRPM = 50.0
	// spinUp is how long after arming the rotors have reached idle (common
	// practice, no source).
	spinUp = detect.Second / 2
	// heldLines are the lines that something must be told in to be taken for so
	// (common practice, no source).
	heldLines = 3
)

// evidence is what the current step has gathered. It is made anew with each.
type evidence struct {
	speeds speedRing // goes on from step to step: a stop looks back

	busy  bool                    // something has begun that must be seen to its end
	since int64                   // since when it holds, -1 it does not
	from  [decode.TagCount]uint64 // how many lines of each stream had come by then
	outs  [decode.MaxMotors]mean
	lift  mean
	blind detect.Where // motors whose speed was not measured all the while

	swing     float64 // the largest over its limit
	swingText [2]float64
	swingAxis int

	stop  stopWatch
	touch touchWatch
	ways  answers
	low   [3]float64 // how far each stick went
	high  [3]float64
	hot   [decode.MaxMotors]float64
	heard [decode.MaxMotors]bool
	told  [decode.MaxMotors]int64 // when a temperature was measured last
}

func (e *evidence) begin() {
	*e = evidence{speeds: e.speeds, since: -1}
}

// hold counts how long something has been so, and reports whether it was for
// long enough, in lines enough. What the step gathers begins anew with each try.
func (r *Run) hold(b *detect.Bench, so bool, seconds float64) (begins, done bool) {
	switch {
	case !so:
		r.ev.since = -1
		return false, false
	case r.ev.since < 0:
		r.ev.since = r.now
		for tag := range r.ev.from {
			r.ev.from[tag] = b.Streams[tag].Count
		}
		return true, false
	}
	return false, float64(r.now-r.ev.since) >= seconds*float64(detect.Second) && r.toldSince(b)
}

// toldSince reports whether the craft's state, and each stream of its motors that
// counts now, has come in several lines since it holds: the words of one line may
// be a stray, and are old before a second follows.
func (r *Run) toldSince(b *detect.Bench) bool {
	outs, speeds := measured(b)
	told := func(tag decode.Tag) bool { return b.Streams[tag].Count >= r.ev.from[tag]+heldLines }
	return told(decode.State) && (outs == 0 || told(decode.Out)) && (speeds == 0 || told(decode.ERPM))
}

// A mean is a running mean of what was measured at the judgements.
type mean struct {
	sum float64
	n   int
}

func (m *mean) take(v float64) { m.sum += v; m.n++ }

func (m *mean) value() float64 {
	if m.n == 0 {
		return 0
	}
	return m.sum / float64(m.n)
}

// polePairs are those of the craft, 7 where they are not known: the count of
// most motors on such craft (common practice, no source).
func polePairs(b *detect.Bench) float64 {
	if b.Craft.Poles >= 2 {
		return float64(b.Craft.Poles) / 2
	}
	return 7
}

// measured counts the motors with an output of now and those with a speed.
func measured(b *detect.Bench) (outs, speeds int) {
	for i := range b.Motors {
		if outNow(b, i).OK {
			outs++
		}
		if speedNow(b, i).OK {
			speeds++
		}
	}
	return outs, speeds
}

// turning returns the motors that are driven now and the rotors that turn.
func turning(b *detect.Bench) (driven, turns detect.Where) {
	floor := standRPM * polePairs(b)
	for i := range b.Motors {
		if v := outNow(b, i); v.OK && v.V > zeroOut {
			driven |= detect.Motor(i)
		}
		if v := speedNow(b, i); v.OK && v.V > floor {
			turns |= detect.Motor(i)
		}
	}
	return driven, turns
}

// atRest: disarmed, and nothing driven or turning; the stop released where the step
// says so.
func (r *Run) atRest(b *detect.Bench, s *Step) {
	driven, turns := turning(b)
	r.hint = hint{}
	switch {
	case armedNow(b) != detect.No:
		r.hint = hint{text: "still armed"}
	case driven != 0:
		r.hint = hint{text: "still driven: ", where: driven}
	case turns != 0:
		r.hint = hint{text: "still turning: ", where: turns}
	case s.Released && stoppedNow(b) == detect.Yes:
		r.hint = hint{text: "the stop is pressed: release it"}
	case s.Released && stoppedNow(b) != detect.No:
		r.hint = hint{text: "the stop switch is not told"} // a person's to see before long: lackOf
	}
	if _, done := r.hold(b, r.hint.text == "", s.seconds()); done {
		if blind := unseen(b); blind != 0 {
			r.byEye("neither output nor speed of " + names(blind) + " is measured: see that it stands")
			return
		}
		outs, speeds := measured(b)
		text := "disarmed"
		if s.Released {
			text += ", stop released"
		}
		if outs > 0 {
			text += ", outputs at zero"
		}
		switch {
		case speeds == b.Motors:
			text += ", rotors standing"
		case speeds > 0:
			text += "; not every rotor's speed is measured: see that all stand"
		default:
			text += "; rotor speeds are not measured: see that they stand"
		}
		r.pass(text)
	}
}

// readyArmed reports whether the craft is armed and free to run, and says what
// it waits for where it is not.
func (r *Run) readyArmed(b *detect.Bench) bool {
	r.hint = hint{}
	switch {
	case stoppedNow(b) == detect.Yes:
		r.hint = hint{text: "the stop is pressed"}
	case armedNow(b) != detect.Yes:
		r.hint = hint{text: "not armed"}
	}
	return r.hint.text == ""
}

// needTurning says which rotors stand although their speed is measured, and,
// where it is not, which motors are not driven: a step that is about running
// rotors does not pass on standing ones.
func (r *Run) needTurning(b *detect.Bench) {
	driven, turns := turning(b)
	stands, idle := detect.Where(0), detect.Where(0)
	for i := range b.Motors {
		switch m := detect.Motor(i); {
		case speedNow(b, i).OK && turns&m == 0:
			stands |= m
		case !speedNow(b, i).OK && outNow(b, i).OK && driven&m == 0:
			idle |= m
		}
	}
	switch {
	case stands != 0:
		r.hint = hint{text: "not turning: ", where: stands}
	case idle != 0:
		r.hint = hint{text: "not driven: ", where: idle}
	}
}

// meanOut is the mean of the outputs of now.
func meanOut(b *detect.Bench) (float64, bool) {
	var m mean
	for i := range b.Motors {
		if v := outNow(b, i); v.OK {
			m.take(v.V)
		}
	}
	return m.value(), m.n > 0
}

// unseen are the motors of which nothing tells whether they turn now.
func unseen(b *detect.Bench) detect.Where {
	w := detect.Where(0)
	for i := range b.Motors {
		if !outNow(b, i).OK && !speedNow(b, i).OK {
			w |= detect.Motor(i)
		}
	}
	return w
}

// The mean output may lie off what armed idle is set to by this share of it, for
// the controller trims the motors, and by idleLeast at least, for a small idle is
// trimmed as well; but never under half of it, where nothing may turn at all
// (common practice, no source).
const (
	idleNear  = 0.4
	idleLeast = 0.02
	idleHalf  = 0.5
)

// idleRange is where the mean output of an armed idle may lie.
func idleRange(idle float64) (low, high float64) {
	off := max(idleNear*idle, idleLeast)
	return max(idle-off, idleHalf*idle), idle + off
}

// idleOne is where the output of one motor may lie, whose speed is not measured:
// twice as far off as the mean upwards, and not under half of idle.
func idleOne(idle float64) (low, high float64) {
	return idleHalf * idle, idle + 2*max(idleNear*idle, idleLeast)
}

// meanIdle is the mean output of the motors while the step held.
func (r *Run) meanIdle() float64 {
	var all mean
	for i := range r.ev.outs {
		if m := &r.ev.outs[i]; m.n > 0 {
			all.take(m.value())
		}
	}
	return all.value()
}

// oddIdle names the motors whose speed nobody measures and whose output is no
// idle: the mean hides one that runs and others that stand. Where armed idle is
// not told the mean stands for it.
func (r *Run) oddIdle(b *detect.Bench, idle float64) string {
	if b.IdleReady.OK && b.IdleReady.V > 0 {
		idle = b.IdleReady.V
	}
	low, high := idleOne(idle)
	var odd []string
	for i := range b.Motors {
		m := &r.ev.outs[i]
		if v := m.value(); m.n > 0 && r.ev.blind&detect.Motor(i) != 0 && (v < low || v > high) {
			odd = append(odd, fmt.Sprintf("%s %.3f", detect.Motor(i), v))
		}
	}
	if len(odd) == 0 {
		return ""
	}
	return strings.Join(odd, ", ") + fmt.Sprintf(": not armed idle of each motor, %.3f to %.3f", low, high)
}

// armedIdle: armed with the stick at zero, outputs near idle, and no lift.
func (r *Run) armedIdle(b *detect.Bench, s *Step) {
	stick := stickNow(b, 0)
	ready := r.readyArmed(b)
	switch {
	case !ready || !stick.OK:
	case stick.V >= b.Limits.StickIdle:
		r.hint = hint{text: "the throttle stick stands at ", value: stick.V, digits: 2}
	case r.now-b.ArmedAt < spinUp:
		r.hint = hint{text: "spinning up"}
	default:
		r.needTurning(b)
	}
	begins, done := r.hold(b, r.hint.text == "" && stick.OK, s.seconds())
	if begins {
		r.ev.outs, r.ev.lift, r.ev.blind = [decode.MaxMotors]mean{}, mean{}, 0
	}
	if r.ev.since < 0 {
		return
	}
	for i := range b.Motors {
		if v := outNow(b, i); v.OK {
			r.ev.outs[i].take(v.V)
		}
		if !speedNow(b, i).OK {
			r.ev.blind |= detect.Motor(i)
		}
	}
	if load := loadNow(b); load.OK {
		r.ev.lift.take(load.V)
	}
	if done {
		r.closeIdle(b)
	}
}

// closeIdle judges what armed idle came to.
func (r *Run) closeIdle(b *detect.Bench) {
	out := r.meanIdle()
	text := fmt.Sprintf("mean output %.3f", out)
	switch idle := b.IdleReady; {
	case idle.OK && idle.V > 0:
		text += fmt.Sprintf(", set to %.3f", idle.V)
		if low, high := idleRange(idle.V); out < low || out > high {
			r.fail(text + fmt.Sprintf(": not armed idle, %.3f to %.3f", low, high))
			return
		}
	case out > b.Limits.GroundOutput:
		r.fail(text + fmt.Sprintf(", over %.2f", b.Limits.GroundOutput))
		return
	default:
		text += ", armed idle not told"
	}
	if why := r.oddIdle(b, out); why != "" {
		r.fail(text + "; " + why)
		return
	}
	w := b.WeightN()
	switch {
	case r.ev.lift.n == 0:
		text += "; lift is not measured"
	case w <= 0:
		text += fmt.Sprintf("; lift %.1f N, mass not known", r.ev.lift.value())
	default:
		share := r.ev.lift.value() / w
		text += fmt.Sprintf("; lift %.2f of weight", share)
		if share > b.Limits.GroundLift {
			r.fail(text + fmt.Sprintf(", over %.2f", b.Limits.GroundLift))
			return
		}
	}
	r.pass(text)
}

// A hint is what a step waits for. It is put into words only when somebody reads
// it: it changes a hundred times a second.
type hint struct {
	text   string
	word   string
	value  float64
	digits int
	where  detect.Where
}

func (h hint) String() string {
	switch {
	case h.word != "":
		return h.text + h.word
	case h.where != 0:
		return h.text + names(h.where)
	case h.digits > 0:
		return h.text + strconv.FormatFloat(h.value, 'f', h.digits, 64)
	}
	return h.text
}

// names joins the motors of a mask as people read them.
func names(w detect.Where) string { return strings.ReplaceAll(w.String(), "+", ", ") }
