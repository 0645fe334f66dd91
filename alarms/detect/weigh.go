package detect

import (
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A Hold is one second of steady throttle over least flight output, with the
// sticks at rest.
type Hold struct {
	At     int64                     // engine time of its end
	Joined bool                      // it follows the one before without a break
	Output float64                   // mean output
	Shares [decode.MaxMotors]float64 // each motor's output over the mean
}

// A Scale weighs a craft by its motors over a whole session: it finds the
// steady seconds, and where the centre of gravity lies by those of each run of
// the throttle. It rings nothing. The owner of the bench feeds it.
type Scale struct {
	d    *outputImbalance
	seen int // steady seconds taken so far
	held int // of the run that is under way
	run  Weighed
	best Weighed
}

// A Weighed is where one run of the throttle says that the weight lies.
type Weighed struct {
	Offset
	Seconds int // of steady throttle that it rests on
	Guessed bool
}

// NewScale returns a scale that has seen nothing.
func NewScale() *Scale {
	return &Scale{d: NewOutputImbalance().(*outputImbalance), best: Weighed{Offset: Offset{Why: whySteady}}}
}

// Observe takes one sample; the bench already reflects it.
func (s *Scale) Observe(b *Bench, in *Input) { s.d.Observe(b, in) }

// Reset drops what must not be joined over a restart of the bridge.
func (s *Scale) Reset() {
	s.end()
	s.d.Reset()
}

// Look returns the steady second that has ended, if one has. It is to be asked
// ten times a second or more.
func (s *Scale) Look(b *Bench, found []Finding) (h Hold, ok bool) {
	s.d.Judge(b, found[:0])
	p := &s.d.past
	if p.count < s.held {
		s.end()
	}
	if p.total == s.seen || p.count == 0 {
		s.seen = p.total
		return h, false
	}
	h = Hold{At: p.last, Joined: s.held > 0 && p.count == s.held+1, Output: s.d.mean.Mean(), Shares: p.row(0).share}
	s.seen, s.held = p.total, p.count
	s.weigh(b)
	return h, true
}

// weigh takes what the run says by now. Outputs that integrators pull apart say
// nothing of the weight.
func (s *Scale) weigh(b *Bench) {
	o := &s.d.past.offset
	if _, _, winds := s.d.wind.worst(b.Limits.WindupLow); winds && b.Held() {
		s.run = Weighed{Offset: Offset{Why: CauseWindup}, Seconds: s.d.past.rows()}
		return
	}
	s.run = Weighed{
		Offset:  Offset{o.forward, o.right, o.forwardWithin, o.rightWithin, o.reason()},
		Seconds: s.d.past.rows(), Guessed: o.guessed,
	}
}

// end closes a run: of those that can be told the one of most seconds counts,
// the last of those alike; else why the last cannot.
func (s *Scale) end() {
	if s.held > 0 && (s.run.Why == "" && (s.best.Why != "" || s.run.Seconds >= s.best.Seconds) || s.run.Why != "" && s.best.Why != "") {
		s.best = s.run
	}
	s.held = 0
	s.run = Weighed{}
}

// Weighed returns where the weight lies by the runs so far.
func (s *Scale) Weighed() Weighed {
	all := *s
	all.end()
	return all.best
}

// Twist is how much harder the motors of one turning sense work than those of
// the other, as a share of the mean, from outputs or shares: m1's sense is +. ok
// is false for a layout on which yaw is no mode of the motors.
func Twist(c *craft.Craft, v []float64) (share float64, ok bool) {
	f, ok := airframeOf(c)
	if !ok || !f.twist || f.count != len(v) {
		return 0, false
	}
	m := f.split(v)
	return m.yaw, true
}

// OverIdle reports whether the motors work over armed idle, by outputs, else by
// throttle or stick; so it is taken where none of them is known.
func OverIdle(b *Bench) bool { return thrustOver(b, flyOverIdle, flyBare) }

// AnyOutput reports whether some motor is driven at all.
func AnyOutput(b *Bench) bool { return anyOutput(b) }

// Bears is what holds the craft, newtons: its weight on a slack tether, the rated
// load on a stand; 0 where it is free or that is not known.
func Bears(b *Bench) float64 { return bears(b) }

// NoPack tells why the voltage is not that of a pack of the craft's cells, ""
// where it can be or the number of cells is not known.
func NoPack(b *Bench) string {
	if b.Craft.Cells <= 0 || !b.Volts.OK {
		return ""
	}
	return noPack(b)
}

// PressureAltitude returns the altitude, in metres, at which the standard
// atmosphere (ISO 2533:1975) has a pressure in pascals.
func PressureAltitude(pascal float64) float64 { return pressureAltitude(pascal) }

// A Resistance is that of the pack, by regression of voltage on current over
// the last seconds. The zero value is ready to use.
type Resistance struct{ fit packFit }

// Take adds one line: volts, amperes, engine time.
func (r *Resistance) Take(volts, amps float64, at int64) { r.fit.take(volts, amps, at) }

// Ohm returns the resistance as of the newest line with its standard error; ok
// is false while that is over a quarter of it.
func (r *Resistance) Ohm() (ohm, se float64, ok bool) { return r.fit.ohm, r.fit.se, r.fit.ohm > 0 }
