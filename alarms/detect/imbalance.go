package detect

import (
	"fmt"
	"math"

	"tetherbell/alarms/window"
	"tetherbell/decode"
)

const (
	// shareTime is the time over which outputs are averaged: the owner of the
	// contract asks for a second of steady throttle.
	shareTime = 1 * Second
	// binTime: outputs of any rate are averaged into bins of this length first,
	// so that a stream of 1000 a second weighs no more than one of 25 and a hole
	// weighs nothing. 50 bins make a second.
	binTime  = Second / 50
	shareLen = 64
	// A second is whole when its ends lie this far apart and so many bins have
	// values: at 25 a second, half of them may be lost.
	shareSpan  = 9 * Second / 10
	shareLeast = 12
	// steadySpread: the mean output may move by this share of itself within the
	// second, or by steadyLeast at small outputs. Settled hovers of real healthy
	// craft wander by 0.01 to 0.10 within a second (data set CrazyPAD, Data 2024,
	// 9, 79, recomputed), take-off and landing by 0.14 to 0.35.
	steadySpread = 0.12
	steadyLeast  = 0.02
	// Sticks and demands over these ask for a difference of the motors (common
	// practice, no source: a stick's rest and a levelling loop stay below).
	busyStick  = 0.10
	busyDemand = 30 // deg/s
	// Outputs above least flight output: where only armed idle is known, a
	// margin over it; where nothing is, what most craft need to leave idle.
	flyOverIdle = 0.02
	flyBare     = 0.08
	// shareBand is how far a share must fall under a limit before its level
	// ends, and how much further out another motor must be to ring beside it.
	// The means of a second of healthy craft wander by 0.01 to 0.02.
	shareBand = 0.03
)

// outputImbalance tells of a motor whose output is far from the others' in a
// steady hold, or from what it was in the sessions that were accepted.
type outputImbalance struct {
	out   bins // motor outputs
	speed bins // rotor speeds, electrical
	wind  winding
	lean  leaning
	lift  trace        // load cells
	mean  *window.Ring // mean output of each bin
	busy  int64        // a stick or a demand asked for something then, -1 never
	fresh bool         // a bin has ended since the last look

	share  [decode.MaxMotors]float64 // output over the mean, 0 not measured
	norm   [decode.MaxMotors]norm    // what the accepted sessions showed
	met    bool                      // they could be judged by, at some time
	worst  int
	whole  bool // the window holds a second
	flying bool
	steady bool
	past   run // the steady seconds of this run

	up    Where // motor that rings, 0 none
	level Priority
}

// NewOutputImbalance returns the detector of output-imbalance.
func NewOutputImbalance() Detector {
	d := &outputImbalance{mean: window.New(shareLen), out: newBins(), speed: newBins(), wind: newWinding(), lean: newLeaning(), lift: newTrace()}
	d.Reset()
	return d
}

func (*outputImbalance) Kind() Kind { return OutputImbalance }

// Reset drops every window.
func (d *outputImbalance) Reset() {
	d.out.clear()
	d.speed.clear()
	d.wind.clear()
	d.lean.clear()
	d.lift.clear()
	d.past.clear()
	d.mean.Clear()
	d.busy = -1
	d.fresh, d.whole, d.flying, d.steady = false, false, false, false
	d.up, d.level = 0, None
}

// Observe fills the windows.
func (d *outputImbalance) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.Out:
		if d.out.take(&b.Out, b.Motors, in.At) {
			d.fresh = true
			d.mean.Push(d.out.ended, d.out.whole)
			d.mean.DropBefore(d.out.ended - shareTime)
		}
	case decode.ERPM:
		d.speed.take(&b.ERPM, b.Motors, in.At)
	case decode.Axes:
		d.wind.take(b, in.At)
		for i := range b.Demand {
			if b.Demand[i].OK && math.Abs(b.Demand[i].V) > busyDemand {
				d.busy = in.At
			}
		}
	case decode.Load:
		d.lift.take(b.Load, in.At)
	case decode.Accel:
		d.lean.take(b, in.At)
	case decode.State:
		for _, s := range b.Stick[1:] {
			if s.OK && math.Abs(s.V) > busyStick {
				d.busy = in.At
			}
		}
	}
}

// leastFlight is the output from which the craft counts as flying.
func leastFlight(b *Bench) float64 {
	switch {
	case b.IdleLeast.OK:
		return b.IdleLeast.V
	case b.IdleReady.OK:
		return b.IdleReady.V + flyOverIdle
	}
	return flyBare
}

// look works out the shares anew.
func (d *outputImbalance) look(b *Bench) {
	d.flying, d.steady = false, false
	d.whole = d.mean.Count() >= shareLeast && d.mean.Span() >= shareSpan
	if !d.whole {
		return
	}
	lowest, highest := d.mean.Range()
	level := d.mean.Mean()
	if !over(lowest, leastFlight(b)) {
		return
	}
	d.flying = true
	d.steady = highest-lowest < max(steadyLeast, steadySpread*level)
	d.worst = -1
	sum, n := 0.0, 0
	for i := range b.Motors {
		d.share[i] = 0
		if !d.measured(i) {
			continue
		}
		d.share[i] = d.out.ring[i].Mean()
		sum += d.share[i]
		n++
	}
	if n < 3 || sum <= 0 {
		d.flying = false
		return
	}
	for i := range b.Motors {
		if d.share[i] == 0 && d.out.ring[i].Count() < shareLeast {
			continue
		}
		d.share[i] *= float64(n) / sum // those that are not measured stay 0
	}
	d.normal(b, level)
	for i := range b.Motors {
		if d.measured(i) && (d.worst < 0 || d.further(b, i, d.worst)) {
			d.worst = i
		}
	}
}

// measured reports whether motor i told its output for most of the second.
func (d *outputImbalance) measured(i int) bool { return d.out.ring[i].Count() >= shareLeast }

// further reports whether motor i is further out than motor j: by its level,
// then by how far it is from the mean.
func (d *outputImbalance) further(b *Bench, i, j int) bool {
	if p, q := d.rings(b, i, 0), d.rings(b, j, 0); p != q {
		return p > q
	}
	return d.off(i) > d.off(j)
}

// off returns how far motor i is from the mean.
func (d *outputImbalance) off(i int) float64 { return math.Abs(d.share[i] - 1) }

// Judge rings for the one motor that is furthest out. A motor that rings
// keeps its bell while it stays out itself, although another may pass it by a
// hair.
func (d *outputImbalance) Judge(b *Bench, dst []Finding) []Finding {
	if d.fresh {
		d.look(b)
		d.fresh = false
	}
	if !b.ArmedOrUnknown() || d.whole && !d.flying {
		d.up, d.level = 0, None
		d.past.clear()
		return dst
	}
	if !d.held(b) {
		if d.up != 0 { // cannot be judged now: a hole or a moving stick makes nothing better
			dst = append(dst, Finding{Where: d.up}) // nor is there a new word to say of it
		}
		return dst
	}
	d.remember(b)
	d.compare(b)
	if d.up != 0 {
		f, ok := d.keep(b)
		next, up := d.rings(b, d.worst, 0), d.motor()
		if ok && (next <= d.level || d.off(d.worst) < d.off(up)+shareBand && !d.changed(b, d.worst, 0)) {
			return append(dst, f)
		}
		d.up, d.level = 0, None
	}
	if d.level = d.rings(b, d.worst, 0); d.level == None {
		return dst
	}
	d.up = Motor(d.worst)
	f := Finding{Where: d.up, Level: d.level}
	f.Value, f.Limit = d.figure(b, d.worst, d.level)
	return append(dst, f)
}

// held reports whether this is a steady hold, in which motors can be judged.
func (d *outputImbalance) held(b *Bench) bool {
	return d.whole && d.steady && (d.busy < 0 || b.Now-d.busy > shareTime)
}

// motor is the index of the motor that rings.
func (d *outputImbalance) motor() int { return d.motorOf(d.up) }

// keep holds the motor that rings, each level down to its own deadband.
func (d *outputImbalance) keep(b *Bench) (Finding, bool) {
	i := d.motor()
	level, held := d.rings(b, i, 0), false
	for l := d.level; l > level; l-- {
		if d.meets(b, i, l, shareBand) {
			// Under the lowest limit but inside its band: neither raised nor gone.
			level, held = l, l == Low
			break
		}
	}
	if level == None {
		return Finding{}, false
	}
	d.level = level
	f := Finding{Where: d.up, Level: level}
	f.Value, f.Limit = d.figure(b, i, level)
	if held {
		f.Level = None
	}
	return f, true
}

// rings is the highest level that motor i meets, limits lowered by slack.
func (d *outputImbalance) rings(b *Bench, i int, slack float64) Priority {
	for l := High; l > Note; l-- {
		if d.meets(b, i, l, slack) {
			return l
		}
	}
	return None
}

// meets reports whether motor i meets a level. What the accepted sessions
// showed of this motor rings neither low nor medium.
func (d *outputImbalance) meets(b *Bench, i int, l Priority, slack float64) bool {
	if l < High && l > Low && d.changed(b, i, slack) {
		return true
	}
	return over(d.off(i), imbalanceLimit(b, l)-slack) && (l == High || !d.known(i, slack))
}

// figure is the value and the limit by which motor i is at a level: those of
// the measure that is the furthest past its limit.
func (d *outputImbalance) figure(b *Bench, i int, l Priority) (value, limit float64) {
	value, limit = d.off(i), imbalanceLimit(b, l)
	if n := &d.norm[i]; l == Medium && n.there && (d.known(i, 0) || n.off*limit > value*n.width) {
		return n.off, n.width
	}
	return value, limit
}

func imbalanceLimit(b *Bench, l Priority) float64 {
	switch l {
	case High:
		return b.Limits.ImbalanceHigh
	case Medium:
		return b.Limits.ImbalanceMedium
	}
	return b.Limits.ImbalanceLow
}

// Missing: a difference from the others needs others.
func (d *outputImbalance) Missing(b *Bench) string {
	n := 0
	var blind Where
	for i := range b.Motors {
		if b.Out[i].OK {
			n++
		} else {
			blind |= Motor(i)
		}
	}
	switch {
	case n == 0:
		return noOutputs(b)
	case n < 3:
		return "outputs of three motors or more needed"
	case blind != 0:
		return fmt.Sprintf("%s: the output is not measured", blind)
	}
	return d.baselineLacks(b)
}
