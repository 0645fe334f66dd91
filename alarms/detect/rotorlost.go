package detect

import (
	"fmt"
	"math"
	"slices"

	"tetherbell/decode"
)

const (
	// lostFresh: speeds are held against outputs no older than this.
	lostFresh = Second / 2
	// A loaded rotor's speed goes with its output to a power: 1 without load,
	// near 0.65 where the windings' resistance and the propeller take most of the
	// voltage (the limit of that is a half: torque goes by speed squared). The
	// power that is kindest to the rotor counts (common practice, no source).
	lostPowerLow, lostPowerHigh = 0.65, 1.0
	// lostFor and lostLines: a rotor must be off for so long in so many lines
	// running, so that a speed misread once rings nothing.
	lostFor   = 12 * Second / 100
	lostLines = 3
	// lostStart is left to a rotor to come up after its output left zero.
	lostStart = 1 * Second
	// lostBand: the alarm holds down to this part of the limit's distance.
	lostBand = 0.7
	// lostStands: under this part of what its output explains a rotor stands.
	lostStands = 0.05
	// lostCount: a speed this close to half or double what is explained, as a
	// share of it, is a count of every other or of twice the turns.
	lostCount     = 0.06
	lostCountHold = 0.12 // and stays one so close
	// Each motor's own ratio is learned in this range: motors of one craft are
	// alike within a tenth (common practice, no source).
	lostOwnLow, lostOwnHigh = 0.85, 1.15
	lostOwnBlend            = 0.02 // weight of one line in it
	lostClose               = 0.15 // learned from readings this close to 1
	// lostLeast is the least output at which a speed is judged: under it drives
	// turn rotors by a pattern of their own (common practice, no source).
	lostLeast = 0.02
)

// What is wrong with a rotor.
const (
	rotorFine uint8 = iota
	rotorStands
	rotorSlow
	rotorFast
	rotorMiscount
	rotorNoLift
)

// lostLags are time constants of output to speed, in microseconds, with what
// the drive's report adds: small rotors 20 ms, large ones 200 ms and more
// (common practice, no source). The lag that is kindest to the rotor counts.
var lostLags = [...]float64{20_000, 50_000, 100_000, 200_000, 400_000}

// lostPowers are the powers of output that speed may go by.
var lostPowers = [...]float64{lostPowerLow, lostPowerHigh}

// rotorWatch is what is known of one rotor.
type rotorWatch struct {
	out     float64 // newest output that was measured
	outAt   int64
	heard   int64                  // when it was measured
	lagged  [len(lostLags)]float64 // output behind a lag
	started int64                  // output over zero since, -1 not

	own       float64 // learned ratio to the others, 1 at first
	least     float64 // speed over what its output explains: over all lags and powers
	most      float64
	per       [len(lostLags)][len(lostPowers)]float64 // speed for one unit of output
	judged    bool                                    // its speed can be held against its output
	known     bool                                    // and against the other rotors
	hole      bool                                    // it was until a moment ago, and only a value is missing
	weighed   int64                                   // when it last was
	low, high confirm
	state     uint8 // in force
}

// rotorLost tells of a rotor that does not turn as its output explains. What
// an output explains is learned at the same moment from the other rotors:
// throttle, pack voltage and lag are the same for them.
type rotorLost struct {
	w     [decode.MaxMotors]rotorWatch
	steps lagSteps
	none  bool // outputs are up and no rotor has a speed
	lift  rotorLift
	rows  [decode.MaxMotors]float64
}

// NewRotorLost returns the detector of rotor-lost.
func NewRotorLost() Detector {
	d := &rotorLost{lift: newRotorLift()}
	for i := range d.w {
		d.w[i].own = 1
	}
	d.Reset()
	return d
}

func (*rotorLost) Kind() Kind { return RotorLost }

// Reset drops every window. The learned ratios stay: they are the craft's.
func (d *rotorLost) Reset() {
	for i := range d.w {
		d.w[i] = rotorWatch{own: d.w[i].own, started: -1}
	}
	d.none = false
	d.lift.clear()
}

// Observe follows outputs and speeds.
func (d *rotorLost) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.Out:
		d.output(b, in.At)
	case decode.ERPM:
		d.speed(b, in.At)
	}
	d.lift.observe(b, in)
}

// output passes each output through the lags. One that is missing for a moment
// is bridged as a lost line is: the rotor does not come up anew.
func (d *rotorLost) output(b *Bench, at int64) {
	for i := range b.Motors {
		w := &d.w[i]
		if !b.Out[i].OK && w.started >= 0 && at-w.heard <= holeTime {
			continue
		}
		if !b.Out[i].OK || !over(b.Out[i].V, zeroOutput) {
			w.started, w.state = -1, rotorFine
			continue
		}
		if w.started < 0 {
			w.started = at
			w.lagged = [len(lostLags)]float64{}
		} else {
			w.advance(at, &d.steps)
		}
		w.out, w.outAt, w.heard = b.Out[i].V, at, at
	}
}

// lagSteps is how far each lag follows within a time: rotors that are told of in
// one line have it in common.
type lagSteps struct {
	dt float64
	by [len(lostLags)]float64
}

func (l *lagSteps) over(dt float64) *[len(lostLags)]float64 {
	if dt != l.dt {
		l.dt = dt
		for k, lag := range lostLags {
			l.by[k] = 1 - math.Exp(-dt/lag)
		}
	}
	return &l.by
}

// advance brings the lagged outputs up to a time: the output stood until then.
func (w *rotorWatch) advance(at int64, steps *lagSteps) {
	by := steps.over(float64(max(at-w.outAt, 0)))
	for k := range w.lagged {
		w.lagged[k] += by[k] * (w.out - w.lagged[k])
	}
	w.outAt = max(at, w.outAt)
}

// ready reports whether the speed of motor i can be held against its output.
func (d *rotorLost) ready(b *Bench, i int, at int64) bool {
	w := &d.w[i]
	return b.ERPM[i].OK && b.Out[i].OK && w.started >= 0 && at-w.started >= lostStart && w.out >= lostLeast && at-b.OutAt <= lostFresh
}

// explain works out what each rotor turns for one unit of output, behind each
// lag and to each power.
func (d *rotorLost) explain(b *Bench, at int64) {
	for i := range b.Motors {
		w := &d.w[i]
		w.judged = d.ready(b, i, at)
		if !w.judged {
			continue
		}
		for k := range lostLags {
			x := max(w.lagged[k], hair)
			for p, power := range lostPowers {
				w.per[k][p] = b.ERPM[i].V / (w.own * math.Pow(x, power))
			}
		}
	}
}

// reference returns the middle of what the other rotors turn for one unit of
// output; 0 when under two others tell, or most of them stand.
func (d *rotorLost) reference(motors, i, lag, power int) float64 {
	n := 0
	for j := range motors {
		if w := &d.w[j]; j != i && w.judged {
			d.rows[n] = w.per[lag][power]
			n++
		}
	}
	if n < 2 {
		return 0
	}
	v := d.rows[:n]
	slices.Sort(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}

// speed weighs the speeds of one line.
func (d *rotorLost) speed(b *Bench, at int64) {
	d.none = true
	for i := range b.Motors {
		if b.ERPM[i].OK && b.ERPM[i].V > 0 {
			d.none = false
		}
		if w := &d.w[i]; w.started >= 0 {
			w.advance(at, &d.steps)
		}
	}
	d.explain(b, at)
	for i := range b.Motors {
		w := &d.w[i]
		if !w.judged || !d.rate(b.Motors, i) {
			w.known = false
			w.hole = w.started >= 0 && w.out >= lostLeast && at-w.weighed <= holeTime
			if !w.hole {
				w.low, w.high = confirm{}, confirm{}
			}
			continue
		}
		w.known, w.hole, w.weighed = true, false, at
		w.low.see(w.most < 1-b.Limits.RotorSpeed-hair, at)
		w.high.see(over(w.least, 1+b.Limits.RotorSpeed), at)
	}
	d.learn(b)
}

// learn follows each motor's own ratio, where all are fine and lag and power
// do not matter. The mean stays 1: ratios are to each other.
func (d *rotorLost) learn(b *Bench) {
	sum := 0.0
	for i := range b.Motors {
		w := &d.w[i]
		if !w.known || w.state != rotorFine || w.most > 1+lostClose || w.least < 1-lostClose {
			return
		}
	}
	for i := range b.Motors {
		w := &d.w[i]
		w.own *= 1 + lostOwnBlend*((w.least+w.most)/2-1)
		sum += w.own
	}
	for i := range b.Motors {
		w := &d.w[i]
		w.own = min(max(w.own*float64(b.Motors)/sum, lostOwnLow), lostOwnHigh)
	}
}

// rate works out the ratios of motor i at a line of speeds.
func (d *rotorLost) rate(motors, i int) bool {
	w := &d.w[i]
	w.least, w.most = math.Inf(1), 0
	for k := range lostLags {
		for p := range lostPowers {
			ref := d.reference(motors, i, k, p)
			if ref <= 0 {
				return false
			}
			r := w.per[k][p] / ref
			w.least, w.most = min(w.least, r), max(w.most, r)
		}
	}
	return true
}

// ratio is the reading of a rotor that is kindest to it.
func (w *rotorWatch) ratio() float64 {
	return max(min(1, w.most), w.least)
}

// counted reports whether some reading says half or double.
func (w *rotorWatch) counted(band float64) bool {
	half := w.least < 0.5*(1+band) && w.most > 0.5*(1-band)
	double := w.least < 2*(1+band) && w.most > 2*(1-band)
	return half || double
}

// told reports whether enough lines have said so.
func (d *rotorLost) told(c *confirm, b *Bench) bool {
	if c.count >= lostLines {
		return b.Now-c.first >= lostFor
	}
	return c.count >= 2 && b.Streams[decode.ERPM].Rate() < fastPace
}

// Judge gives one finding for each rotor that is off.
func (d *rotorLost) Judge(b *Bench, dst []Finding) []Finding {
	if !b.ArmedOrUnknown() || b.Stopped == Yes {
		for i := range d.w {
			d.w[i].state = rotorFine
		}
		d.lift.end()
		return dst
	}
	named, value, lost := d.lift.judge(b)
	limit := b.Limits.RotorSpeed
	for i := range b.Motors {
		w := &d.w[i]
		if f, ok := d.one(b, i); ok {
			dst = append(dst, f)
		} else if lost && i == named {
			w.state = rotorNoLift
			dst = append(dst, Finding{Where: Motor(i), Level: High, Value: value, Limit: 1 + limit})
		} else if w.state == rotorNoLift {
			w.state = rotorFine
		}
	}
	return dst
}

// one judges the speed of motor i.
func (d *rotorLost) one(b *Bench, i int) (Finding, bool) {
	w := &d.w[i]
	limit := b.Limits.RotorSpeed
	r := w.ratio()
	f := Finding{Where: Motor(i), Value: r, Limit: 1 - limit}
	if r > 1 {
		f.Limit = 1 + limit
	}
	slow, fast := w.known && d.told(&w.low, b), w.known && d.told(&w.high, b)
	band := lostCount
	if w.state == rotorMiscount {
		band = lostCountHold
	}
	switch {
	case (slow || fast) && w.counted(band):
		w.state, f.Level = rotorMiscount, Low
	case slow && r < lostStands:
		w.state, f.Level = rotorStands, High
	case slow:
		w.state, f.Level = rotorSlow, High
	case fast:
		w.state, f.Level = rotorFast, High
	case w.state == rotorNoLift || w.hole:
		return f, false
	case w.known && w.state != rotorFine && math.Abs(r-1) > lostBand*limit:
		return f, true
	default:
		w.state = rotorFine
		return f, false
	}
	return f, true
}

// Describe says what the rotor does, and why that may be.
func (d *rotorLost) Describe(b *Bench, f Finding) Story {
	i := motorIn(f.Where)
	w := &d.w[i]
	s := Story{Unit: "1", Action: "cut throttle; keep clear of " + f.Where.String()}
	if b.Out[i].OK {
		s.More = append(s.More, Fact{"output", b.Out[i].V})
	}
	if b.RPM[i].OK {
		s.More = append(s.More, Fact{"speed_rpm", b.RPM[i].V})
	} else if b.ERPM[i].OK {
		s.More = append(s.More, Fact{"electrical_rpm", b.ERPM[i].V})
	}
	switch w.state {
	case rotorStands:
		s.Text = fmt.Sprintf("%s stands at an output of %.2f: no turn is counted", f.Where, b.Out[i].V)
		s.Cause = "rotor stands"
	case rotorFast:
		s.Text = fmt.Sprintf("%s turns %.2f times as fast as its output explains", f.Where, f.Value)
		s.Cause = "propeller gone or loose"
	case rotorMiscount:
		s.Text = fmt.Sprintf("the speed of %s is %.2f of what its output explains: every other turn is counted, or each one twice", f.Where, f.Value)
		s.Cause = "miscount of turns"
		s.Action = "check how the drive of " + f.Where.String() + " counts"
	case rotorNoLift:
		s.Text = fmt.Sprintf("lift has fallen by what %s makes, and its speed has not", f.Where)
		s.Cause = "propeller gone or loose"
		s.More = append(s.More, Fact{"lift_lost_n", d.lift.lost}, Fact{"lift_lost_share_of_rotor", d.lift.share})
	default:
		s.Text = fmt.Sprintf("%s turns at %.2f of the speed that its output explains", f.Where, f.Value)
		s.Cause = "out of step"
	}
	return s
}

// motorIn returns the index of the first motor of w.
func motorIn(w Where) int {
	for i := range decode.MaxMotors {
		if w&Motor(i) != 0 {
			return i
		}
	}
	return 0
}

// Missing: speeds are judged by outputs, and by those of other rotors.
func (d *rotorLost) Missing(b *Bench) string {
	outs, speeds := 0, 0
	var blind Where
	for i := range b.Motors {
		if b.Out[i].OK {
			outs++
		}
		if b.ERPM[i].OK && b.Out[i].OK {
			speeds++
		} else {
			blind |= Motor(i)
		}
	}
	switch {
	case outs == 0:
		return noOutputs(b)
	case speeds == 0:
		return noSpeeds(b)
	case speeds < 3:
		return "outputs and speeds of three motors or more needed"
	case d.none && b.ArmedOrUnknown() && anyStarted(d, b):
		return "all rotor speeds read zero: telemetry dead"
	case blind != 0:
		return fmt.Sprintf("%s: output and rotor speed are not both measured", blind)
	}
	return ""
}

// anyStarted reports whether some motor has been driven for long enough to turn.
func anyStarted(d *rotorLost, b *Bench) bool {
	for i := range b.Motors {
		if s := d.w[i].started; s >= 0 && b.Now-s >= lostStart {
			return true
		}
	}
	return false
}
