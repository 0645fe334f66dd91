package detect

import (
	"fmt"

	"tetherbell/decode"
)

const (
	// groundHold: the alarm holds down to this share of the limit, so that noise
	// around the limit makes one alarm (common practice, no source).
	groundHold = 0.8
	// groundPatience, in periods of the state lines: thrust is held against a
	// stick that was read no earlier, since state lines are slow and a throttle
	// that is being opened shows in the outputs first. Where the line is not
	// there after 80 ms, or after its period and a fifth for jitter, the stick
	// counts as it was last read. What remains: with state at ten a second and
	// no collective throttle to go by, thrust rings up to 130 ms after its first
	// evidence; and a throttle that is opened while that one line is lost, or a
	// fifth late, rings in vain until the next one.
	groundPatience = 1.2
	// groundRise of the collective throttle over its least since the stick went
	// to zero is an opening, or may be one: more than the last place of any
	// bridge, and less than an opening that makes thrust (common practice, no
	// source).
	groundRise = 0.01
)

// The evidences of ground-thrust.
const (
	byLift = iota
	byOutput
	bySpeed
	evidences
)

var evidenceNames = [evidences]string{"lift", "output", "rotor speed"}

// groundThrust tells of thrust beyond armed idle while the stick is at zero.
type groundThrust struct {
	low   int64   // engine time since when the stick is at zero, -1 when it is not
	read  int64   // engine time of the newest state line with a stick
	rest  Reading // least collective throttle since the stick is at zero, with the time it was first known
	armed Tri     // last value, to see the moment of arming
	coast int64   // rotors may still turn from the last run until then

	law   thrustLaw
	told  [evidences]confirm
	ratio [evidences]float64 // value over limit, 0 when not measured
	value [evidences]float64
	limit [evidences]float64

	cause int // evidence of the last finding
}

// stickHeld is how long the stick must be at zero before thrust is taken as
// unasked for: by default half a second, when a healthy spin-down is over
// (common practice, no source). At arming the stick was at zero before, so it
// counts at once.
func stickHeld(b *Bench) int64 { return int64(b.Limits.StickSeconds * float64(Second)) }

// NewGroundThrust returns the detector of ground-thrust.
func NewGroundThrust() Detector {
	g := &groundThrust{}
	g.Reset()
	return g
}

func (*groundThrust) Kind() Kind { return GroundThrust }

// Reset forgets how long the stick has been at zero. The thrust law stays: it
// is a property of the craft, not a window.
func (g *groundThrust) Reset() {
	*g = groundThrust{low: -1, law: g.law}
}

// Observe weighs each stream's evidence as it comes.
func (g *groundThrust) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.State:
		g.state(b, in.At)
	case decode.Axes:
		g.throttle(b, in.At)
	case decode.Out:
		v, ok := b.mostOut()
		g.weigh(byOutput, v, groundOutput(b), ok, in.At)
	case decode.Load:
		g.law.learn(b, in.At)
		w := b.WeightN()
		g.weigh(byLift, b.Lift()/max(w, hair), b.Limits.GroundLift, b.Load.OK && w > 0, in.At)
	case decode.ERPM:
		v, ok := g.law.lift(b)
		w := b.WeightN()
		g.weigh(bySpeed, v/max(w, hair), b.Limits.GroundLift, ok && w > 0, in.At)
	}
}

// groundOutput is the mean output that armed idle may have.
func groundOutput(b *Bench) float64 {
	if !b.IdleReady.OK {
		return b.Limits.GroundOutput
	}
	return min(b.IdleReady.V+b.Limits.GroundOverIdle, b.Limits.GroundOutput)
}

func (g *groundThrust) weigh(e int, v, limit float64, ok bool, at int64) {
	if !ok || limit <= 0 {
		g.told[e], g.ratio[e] = confirm{}, 0
		return
	}
	g.value[e], g.limit[e], g.ratio[e] = v, limit, v/limit
	g.told[e].see(over(v, limit), at)
}

// state follows the stick and the moment of arming. A stick that is missing for
// a moment goes on as it was: Judge raises nothing meanwhile.
func (g *groundThrust) state(b *Bench, at int64) {
	if g.armed == Yes && b.Armed == No {
		g.coast = at + b.Coast()
	}
	atZero := b.Stick[0].OK && b.Stick[0].V < b.Limits.StickIdle
	if b.Stick[0].OK {
		g.read = at
	} else {
		atZero = g.low >= 0 && at-g.read <= holeTime
	}
	switch {
	case !atZero:
		g.low = -1
	case g.low < 0:
		g.low = at
	}
	if atZero && g.armed == No && b.Armed == Yes {
		g.low = at - stickHeld(b) // no wait: nobody has asked for thrust yet
		if at < g.coast {
			g.low = at // rotors still coast from the run before
		}
	}
	if b.Armed != Unknown {
		g.armed = b.Armed
	}
}

// throttle follows the least collective throttle while the stick is at zero.
func (g *groundThrust) throttle(b *Bench, at int64) {
	switch {
	case !b.Thr.OK || g.low < 0:
		g.rest = Reading{}
	case !g.rest.OK:
		g.rest = Reading{V: b.Thr.V, OK: true, At: at}
	default:
		g.rest.V = min(g.rest.V, b.Thr.V)
	}
}

// unasked reports whether the collective throttle shows that nobody asked for
// thrust that was first seen then: known before it, read after it, not risen.
func (g *groundThrust) unasked(b *Bench, first int64) bool {
	return g.rest.OK && b.Thr.OK && g.rest.At < first && b.Thr.At >= first && !over(b.Thr.V, g.rest.V+groundRise)
}

// groundTags are the streams of the evidences.
var groundTags = [evidences]decode.Tag{decode.Load, decode.Out, decode.ERPM}

// Judge reports the evidence that lies furthest past its limit.
func (g *groundThrust) Judge(b *Bench, dst []Finding) []Finding {
	if b.Armed != Yes || !b.HeldOrGrounded() || g.low < 0 || b.Now-g.low < stickHeld(b) {
		return dst
	}
	raised, held := -1, -1
	level := High
	if !b.Stick[0].OK {
		level = None // nothing new is raised, what is up stays
	}
	for e, tag := range groundTags {
		if b.Streams[tag].gone(b.Now) {
			g.told[e] = confirm{} // its last word is not of now: it raises nothing
		}
		if g.told[e].met(b.Now, &b.Streams[tag]) && g.asked(b, g.told[e].first) && (raised < 0 || g.ratio[e] > g.ratio[raised]) {
			raised = e
		}
		if g.ratio[e] > groundHold && (held < 0 || g.ratio[e] > g.ratio[held]) {
			held = e
		}
	}
	switch {
	case raised >= 0:
		g.cause = raised
		return append(dst, Finding{Where: Craft, Level: level, Value: g.value[raised], Limit: g.limit[raised]})
	case held >= 0:
		return append(dst, Finding{Where: Craft, Value: g.value[held], Limit: g.limit[held]})
	}
	return dst
}

// asked reports whether the stick, or the throttle made of it, has been asked
// since thrust was first seen.
func (g *groundThrust) asked(b *Bench, first int64) bool {
	patience := max(confirmBy, int64(groundPatience*b.Streams[decode.State].Period))
	return g.read >= first || g.unasked(b, first) || b.Now-first >= patience
}

// Describe tells how much thrust there is, and how it is known.
func (g *groundThrust) Describe(b *Bench, f Finding) Story {
	s := Story{Unit: "1", Action: "press stop; keep clear", Cause: "thrust with the stick at zero"}
	if g.cause == byOutput {
		s.Text = fmt.Sprintf("mean output %.2f with the stick at zero, armed idle allows %.2f", f.Value, f.Limit)
	} else {
		s.Text = fmt.Sprintf("lift is %.2f of the weight with the stick at zero, armed idle allows %.2f", f.Value, f.Limit)
		if g.cause == bySpeed {
			s.Text = fmt.Sprintf("the rotor speeds mean a lift of %.2f of the weight with the stick at zero, armed idle allows %.2f", f.Value, f.Limit)
		}
	}
	s.More = append(s.More, Fact{"evidence", evidenceNames[g.cause]})
	if b.IdleReady.OK {
		s.More = append(s.More, Fact{"idle_ready", b.IdleReady.V})
		if over(b.IdleReady.V, dangerousIdle) {
			s.Cause = "armed idle set too high"
		}
	}
	if g.cause == bySpeed {
		_, learned := g.law.factor(b)
		s.More = append(s.More, Fact{"thrust_law_learned", learned})
	}
	return s
}

// Missing: without the armed flag, the stick and one evidence there is
// nothing to judge.
func (g *groundThrust) Missing(b *Bench) string {
	switch {
	case b.Armed == Unknown:
		return noArmed(b)
	case !b.Stick[0].OK:
		return noStick(b)
	case !b.Held() && b.Ground == Unknown:
		return "free craft, and whether it is on the ground is not known"
	}
	if _, ok := b.MeanOut(); ok {
		return ""
	}
	_, speed := g.law.lift(b)
	doubt := b.Doubt[decode.Load]
	if (b.Load.OK && doubt == "" || speed) && b.WeightN() > 0 {
		return ""
	}
	if b.Load.OK && doubt != "" {
		return doubt
	}
	if b.Load.OK || b.ERPM[0].OK {
		return "no motor outputs; lift and rotor speeds need mass, poles and propeller size"
	}
	return "no motor outputs, lift or rotor speeds"
}
