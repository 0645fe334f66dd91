package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

const (
	// What the rotors lift is learned from the load cells: so many lines of lift,
	// each over holdLearn of the weight (or holdLearnN), before it is believed.
	holdLines  = 20
	holdLearn  = 0.10
	holdLearnN = 1.0
	holdKeep   = 0.998 // weight left to older lines at each new one
	holdFresh  = 150_000
	// holdLag is taken for outputs where no speeds are known.
	holdLag = 80_000
	// What the cells show at rest is no lift: weight was put on them since they
	// were tared. It is followed with this weight of a line while disarmed.
	holdTareBlend = 0.1
	// Cells fall or jump: so long before they showed what the rotors make. Where
	// they do not without a step for holdOdd, the law was wrong and is learned
	// anew; one of holdSure lines is not: then the cells show nothing.
	holdStep = Second / 2
	holdOdd  = 2 * Second
	holdSure = 200
	// holdSteady: the thrust must still be so much of its most in holdBack.
	holdSteady = 0.85
	holdBack   = 3 * Second / 10
	holdRing   = 32
	// Cells that show less than holdNothing of what the rotors make show nothing;
	// less than holdPart, a part of them is lost; more than holdJump, they jumped
	// (common practice, no source).
	holdNothing = 0.15
	holdPart    = 0.60
	holdJump    = 2.0
	// holdWorth of the weight is the least thrust that is judged.
	holdWorth = 0.20
	// A craft that falls back on its feet dips the cells for 0.1 s, one that jumps
	// into its tether bounces for up to 0.3 s: with m a craft's mass and k its
	// pads' stiffness half a swing lasts pi sqrt(m/k), 0.1 s for 0.6 kg on 600 N/m.
	holdNothingFor = 15 * Second / 100
	holdPartFor    = 35 * Second / 100
	// A tether is taut where the lift is over holdTaut of the weight and the cells
	// show what the rotors make, within holdClose, for holdSettled: only then can
	// it go slack. Free of it, the cells carry nothing: they show the weight that
	// they were tared with and none of what goes beyond it.
	holdTaut    = 1.10
	holdClose   = 0.10
	holdSettled = 4 * Second / 10
	holdLeft    = 3 * Second / 10 // between taut and slack
	holdSlack   = 0.35            // of the thrust beyond the weight is left
	holdFor     = 12 * Second / 100
	// On a stand the cells show all lift: within holdClose of the weight, while the
	// rotors make so much more that the law allows for no other reading (2*holdClose),
	// it has let go, taut before or not. By outputs alone, which lift a third less
	// as the pack's voltage falls by a fifth, it must be holdByOut of the weight
	// (common practice, no source). Cells that lag by 0.4 s pass the weight sooner
	// than holdPartFor.
	holdByOut = 1.65
	// A craft that turns fast lifts another way than up: so long after it nothing
	// is judged. What it turned over presses on the cells: holdPress of the thrust.
	holdTurn  = 1 * Second
	holdPress = -0.15
	// holdBackTo: the alarm holds until the cells show so much of the thrust.
	holdBackTo = 0.80
)

// What is wrong with the hold.
const (
	holdFine uint8 = iota
	holdGone
	holdPartGone
	holdJumped
	holdSlackened
	holdOpen
)

// holdLost tells of load cells that no longer show what the rotors make.
type holdLost struct {
	liftSquare, squareSquare float64 // running sums of lift*q and q*q
	count                    int
	bySpeed                  bool
	lagged                   [decode.MaxMotors]float64
	lagAt                    int64
	q                        float64 // thrust measure now: sum of speeds or outputs squared
	qAt                      int64

	past   [holdRing]float64 // q at the last lines of load
	pastAt [holdRing]int64
	next   int

	tare                       float64 // N on the cells with the motors at rest
	goodAt                     int64   // the cells last showed what the rotors make
	oddSince                   int64   // they have not since then, without a step; -1
	expect                     float64 // N, what the rotors make
	judged                     bool
	nothing, part, jump, slack confirm
	open                       confirm // the stand carries nothing beyond the weight
	tautSince, tautAt          int64
	turned                     int64 // when it turned fast, -1 never
	state                      uint8
}

// NewHoldLost returns the detector of hold-lost.
func NewHoldLost() Detector {
	d := &holdLost{}
	d.Reset()
	return d
}

func (*holdLost) Kind() Kind { return HoldLost }

// Reset drops the windows. The law stays: it is the craft's.
func (d *holdLost) Reset() {
	*d = holdLost{liftSquare: d.liftSquare, squareSquare: d.squareSquare, count: d.count, bySpeed: d.bySpeed, qAt: -1, lagAt: -1, tautSince: -1, tautAt: -1, turned: -1, goodAt: -1, oddSince: -1, tare: d.tare}
	for i := range d.pastAt {
		d.pastAt[i] = -1
	}
}

// Observe follows thrust and lift.
func (d *holdLost) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.Out:
		if !d.bySpeed {
			d.outputs(b, in.At)
		}
	case decode.ERPM:
		sum, n := sumSquares(&b.ERPM, b.Motors)
		if n < b.Motors || n == 0 {
			return
		}
		if !d.bySpeed && sum > 0 {
			d.bySpeed = true
			d.liftSquare, d.squareSquare, d.count = 0, 0, 0
		}
		if d.bySpeed {
			d.q, d.qAt = sum*1e-8, in.At
		}
	case decode.Axes:
		for _, r := range b.Rate {
			if r.OK && math.Abs(r.V) > b.Limits.TipRate {
				d.turned = in.At
			}
		}
	case decode.Load:
		d.load(b, in.At)
	}
}

// outputs takes the outputs squared, behind a rotor's lag.
func (d *holdLost) outputs(b *Bench, at int64) {
	keep := math.Exp(-float64(max(at-d.lagAt, 0)) / holdLag)
	if d.lagAt < 0 {
		keep = 0
	}
	sum := 0.0
	for i := range b.Motors {
		if !b.Out[i].OK {
			return
		}
		d.lagged[i] = keep*d.lagged[i] + (1-keep)*b.Out[i].V
		sum += d.lagged[i] * d.lagged[i]
	}
	d.lagAt, d.q, d.qAt = at, sum, at
}

// load weighs one lift against what the rotors make.
func (d *holdLost) load(b *Bench, at int64) {
	d.judged = false
	if b.Load.OK && b.Armed == No && !anyOutput(b) {
		d.tare += holdTareBlend * (b.Load.V - d.tare)
	}
	if !b.Load.OK || d.qAt < 0 || abs64(at-d.qAt) > holdFresh || b.Armed == No {
		d.calm()
		return
	}
	most := 0.0
	for i, t := range d.pastAt {
		if t >= at-holdBack {
			most = max(most, d.past[i])
		}
	}
	steady := d.q >= holdSteady*most
	d.past[d.next], d.pastAt[d.next] = d.q, at
	d.next = (d.next + 1) % holdRing
	lift, w := b.Load.V-d.tare, b.WeightN()
	d.learn(lift, w, steady && !atWeight(b, lift))
	if d.count < holdLines {
		d.calm()
		return
	}
	e := d.expect
	if d.turned >= 0 && at-d.turned < holdTurn || !steady || e < max(holdWorth*w, holdLearnN) {
		d.calm()
		return
	}
	d.judged = true
	if math.Abs(lift-e) < 2*holdClose*e {
		d.goodAt, d.oddSince = at, -1
	} else if d.oddSince < 0 && !atWeight(b, lift) { // there the law may be right
		d.oddSince = at
	}
	step := d.goodAt >= 0 && at-d.goodAt <= holdStep
	see := func(c *confirm, so, known bool) { c.see(so && (c.count > 0 || known), at) }
	see(&d.nothing, lift < holdNothing*e, step || d.count >= holdSure)
	see(&d.part, lift < holdPart*e, step)
	see(&d.jump, lift > holdJump*e, step)
	d.tether(lift, w, at)
	see(&d.open, d.freed(b, lift), true)
	if d.state == holdFine && d.oddSince >= 0 && at-d.oddSince > holdOdd {
		d.liftSquare, d.squareSquare, d.count, d.oddSince = 0, 0, 0, -1 // the law was wrong
	}
}

// atWeight reports whether a stand's cells show the weight: it may be all that a
// craft shows which is free of it, whatever its rotors make.
func atWeight(b *Bench, lift float64) bool {
	w := b.WeightN()
	return b.Craft.Hold == craft.Stand && w > 0 && math.Abs(lift-w) < holdClose*w
}

// freed reports whether nothing but the weight is left of what the rotors make.
func (d *holdLost) freed(b *Bench, lift float64) bool {
	if !d.bySpeed && d.expect < holdByOut*b.WeightN() {
		return false
	}
	return atWeight(b, lift) && lift < (1-2*holdClose)*d.expect
}

// calm ends what was being confirmed.
func (d *holdLost) calm() {
	d.nothing, d.part, d.jump, d.slack, d.open = confirm{}, confirm{}, confirm{}, confirm{}, confirm{}
	d.tautSince, d.oddSince = -1, -1
}

// learn follows lift over thrust, while the two belong together.
func (d *holdLost) learn(lift, w float64, steady bool) {
	law := 0.0
	if d.squareSquare > 0 {
		law = d.liftSquare / d.squareSquare
	}
	d.expect = law * d.q
	if lift < max(holdLearn*w, holdLearnN) || !steady || d.state != holdFine {
		return
	}
	if d.count >= holdLines && math.Abs(lift-d.expect) > 2*holdClose*d.expect {
		return
	}
	d.liftSquare = d.liftSquare*holdKeep + lift*d.q
	d.squareSquare = d.squareSquare*holdKeep + d.q*d.q
	d.count++
	d.expect = d.liftSquare / d.squareSquare * d.q
}

// tether follows whether the tether is taut, and whether it goes slack.
func (d *holdLost) tether(lift, w float64, at int64) {
	e := d.expect
	if w <= 0 || e < holdTaut*w {
		d.tautSince, d.slack = -1, confirm{}
		return
	}
	if math.Abs(lift-e) < holdClose*e && lift > w+holdSlack*(e-w) {
		if d.tautSince < 0 {
			d.tautSince = at
		}
		if at-d.tautSince >= holdSettled {
			d.tautAt = at
		}
	} else {
		d.tautSince = -1
	}
	slack := lift < w+holdSlack*(e-w)
	if slack && d.slack.count == 0 && (d.tautAt < 0 || at-d.tautAt > holdLeft) {
		slack = false // it was not taut before
	}
	d.slack.see(slack, at)
}

// lasts reports whether a thing has been seen for so long.
func lasts(c *confirm, b *Bench, tag decode.Tag, least int64) bool {
	if c.count == 0 || b.Now-c.first < least {
		return false
	}
	return c.count >= 3 || c.count == 2 && b.Streams[tag].Rate() < fastPace
}

// Judge gives one finding while the hold is gone.
func (d *holdLost) Judge(b *Bench, dst []Finding) []Finding {
	if !b.ArmedOrUnknown() || b.Stopped == Yes || !b.Held() || !thrustOver(b, 0, zeroOutput) {
		d.state = holdFine
		d.calm()
		return dst
	}
	f := Finding{Where: Craft, Value: b.Load.V, Limit: holdBackTo*d.expect + d.tare}
	w, lift := b.WeightN(), b.Load.V-d.tare
	if d.judged && d.state == holdFine {
		switch {
		case lasts(&d.nothing, b, decode.Load, holdNothingFor):
			d.state = holdGone
		case lasts(&d.slack, b, decode.Load, holdFor):
			d.state = holdSlackened
		case lasts(&d.open, b, decode.Load, holdPartFor):
			d.state = holdOpen
		case lasts(&d.part, b, decode.Load, holdPartFor):
			d.state = holdPartGone
		case lasts(&d.jump, b, decode.Load, holdPartFor):
			d.state = holdJumped
		}
	}
	if d.state == holdFine {
		return dst
	}
	back := false
	switch d.state {
	case holdGone:
		f.Limit = holdNothing*d.expect + d.tare
		back = lift > holdBackTo*d.expect
	case holdPartGone:
		f.Limit = holdPart*d.expect + d.tare
		back = lift > holdBackTo*d.expect
	case holdJumped:
		f.Limit = holdJump*d.expect + d.tare
		back = lift < (2-holdBackTo)*d.expect
	case holdSlackened, holdOpen:
		f.Limit = w + holdSlack*(d.expect-w) + d.tare
		back = d.expect < w || math.Abs(lift-d.expect) < holdClose*d.expect && d.expect > holdTaut*w
	}
	if d.judged && back {
		d.state = holdFine
		d.calm()
		return dst
	}
	if d.judged {
		f.Level = High
	} else {
		f.Value = 0 // holds: it cannot be judged now
	}
	return append(dst, f)
}

// Describe tells what the cells show, and what they should.
func (d *holdLost) Describe(b *Bench, f Finding) Story {
	by := "rotor speeds"
	if !d.bySpeed {
		by = "outputs"
	}
	s := Story{
		Unit: "N", Action: "cut throttle; keep clear",
		Text:  fmt.Sprintf("the load cells show %.1f N, and by the %s they should show %.1f N", f.Value, by, d.expect+d.tare),
		Cause: "load cell or hook lost",
		More:  []Fact{{"expected_n", d.expect + d.tare}, {"expected_by", by}},
	}
	if f.Value-d.tare < holdPress*d.expect {
		s.Cause = "craft turned over, or load cell lost"
	}
	if d.state == holdSlackened || d.state == holdOpen {
		s.Cause = "tether or bolts let go"
		hold := "hold was taut and"
		if d.state == holdOpen {
			s.Cause, hold = "stand let go", "stand"
		}
		s.Text += fmt.Sprintf(": the %s carries nothing beyond the weight of %.1f N", hold, b.WeightN())
		s.More = append(s.More, Fact{"weight_n", b.WeightN()})
	}
	return s
}

// Missing: lift, and what tells of thrust.
func (d *holdLost) Missing(b *Bench) string {
	switch {
	case !b.Held():
		return "free craft: nothing holds it"
	case liftLacks(b) != "": // what falls with the thrust is never learned
		return liftLacks(b)
	}
	if _, n := sumSquares(&b.ERPM, b.Motors); n > 0 && n == b.Motors {
		return ""
	}
	if _, n := sumSquares(&b.Out, b.Motors); n > 0 && n == b.Motors {
		return ""
	}
	return "speeds or outputs of all motors needed"
}
