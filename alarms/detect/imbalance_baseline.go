package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

const (
	// normSeconds: what is held against the accepted sessions is the mean of so
	// many steady seconds, or fewer down to normLeast, since theirs are means of
	// whole steady parts: a single second wanders by 0.01 to 0.02 more.
	normSeconds = 10
	normLeast   = 3
	// fewSessions: the standard deviation of three sessions is off by a factor of
	// two more often than not (chi-squared with two degrees of freedom). Below so
	// many the deviation that all motors have in common counts where it is larger.
	fewSessions = 10
	// Shares that come of weight go by weight over lift, so that a baseline says
	// nothing of a throttle that it never saw: judged down to outputDown of its
	// lowest mean output and up to outputUp of its highest (common practice, no
	// source).
	outputDown, outputUp = 0.8, 1.25
)

// A norm is what the accepted sessions showed of one motor, and how far it is
// from that now.
type norm struct {
	there     bool
	mean, dev float64 // of its share over the sessions
	width     float64 // how far it may be off before it rings
	off       float64 // how far it is off, by the mean of the last steady seconds
	judged    bool    // enough of them were seen
}

// normal works out what the accepted sessions say of each motor at a mean
// output.
func (d *outputImbalance) normal(b *Bench, output float64) {
	all := b.Craft.Baseline.Sessions
	for i := range d.norm {
		d.norm[i].there = false
	}
	if baselineLack(b) != "" || !outputKnown(all, output) {
		return
	}
	common := 0.0
	for i := range b.Motors {
		n := &d.norm[i]
		n.mean, n.dev = BaselineOf(all, i)
		common += n.dev * n.dev / float64(b.Motors)
	}
	for i := range b.Motors {
		n := &d.norm[i]
		if len(all) < fewSessions {
			n.dev = max(n.dev, math.Sqrt(common))
		}
		n.width = max(b.Limits.BaselineSpreads*n.dev, b.Limits.BaselineShare)
		n.there = true
		n.off = 0
	}
}

// BaselineOf is the mean of a motor's shares over the sessions, and their
// standard deviation; 0 of a single one. Motors are counted from 0.
func BaselineOf(all []craft.Session, motor int) (mean, dev float64) {
	count := float64(len(all))
	for i := range all {
		mean += all[i].Shares[motor] / count
	}
	for i := range all {
		e := all[i].Shares[motor] - mean
		dev += e * e
	}
	return mean, math.Sqrt(dev / max(count-1, 1))
}

// outputKnown reports whether the sessions were flown at about this output.
func outputKnown(all []craft.Session, output float64) bool {
	lowest, highest := all[0].Output, all[0].Output
	for i := range all {
		lowest, highest = min(lowest, all[i].Output), max(highest, all[i].Output)
	}
	return output >= outputDown*lowest && output <= outputUp*highest
}

// compare holds the last steady seconds against the accepted sessions.
func (d *outputImbalance) compare(b *Bench) {
	rows := d.past.rows()
	for i := range b.Motors {
		n := &d.norm[i]
		if n.judged = n.there && rows >= normLeast; !n.judged {
			continue
		}
		sum := 0.0
		for k := range min(rows, normSeconds) {
			sum += d.past.row(k).share[i]
		}
		n.off = math.Abs(sum/float64(min(rows, normSeconds)) - n.mean)
		d.met = true
	}
	for i := range b.Motors {
		if d.measured(i) && d.further(b, i, d.worst) {
			d.worst = i
		}
	}
}

// changed reports whether motor i is no longer what it was in the accepted
// sessions. The means of several seconds are smoother: half the slack will do.
func (d *outputImbalance) changed(_ *Bench, i int, slack float64) bool {
	n := &d.norm[i]
	return n.there && n.judged && over(n.off, n.width-slack/2)
}

// known reports whether the accepted sessions showed what motor i does now.
func (d *outputImbalance) known(i int, slack float64) bool {
	n := &d.norm[i]
	return n.there && !over(math.Abs(d.share[i]-n.mean), n.width-slack/2)
}

// baselineLack says why a baseline is not judged by, "" where it is. No
// baseline at all is none to judge by, too, but lacks nothing.
func baselineLack(b *Bench) string {
	all, name := b.Craft.Baseline.Sessions, b.Craft.Baseline.Name
	switch {
	case len(all) == 0:
		return "no accepted sessions"
	case name != "" && b.Craft.Name != "" && name != b.Craft.Name:
		return fmt.Sprintf("change against accepted sessions: they are of %s, and this craft is %s", name, b.Craft.Name)
	case len(all) < craft.BaselineSessions:
		return fmt.Sprintf("change against accepted sessions: %d of the %d that are needed", len(all), craft.BaselineSessions)
	case len(all[0].Shares) != b.Motors:
		return fmt.Sprintf("change against accepted sessions: they are of %d motors", len(all[0].Shares))
	}
	return ""
}

// baselineLacks says what of a baseline cannot be judged by now.
func (d *outputImbalance) baselineLacks(b *Bench) string {
	if len(b.Craft.Baseline.Sessions) == 0 {
		return ""
	}
	if why := baselineLack(b); why != "" {
		return why
	}
	if d.past.total >= normSeconds && !d.met {
		return "change against accepted sessions: none was at such an output"
	}
	return ""
}

// A second is what one steady second showed.
type second struct {
	share   [decode.MaxMotors]float64
	forward float64 // centre of thrust, arm lengths from the motors' middle
	right   float64
	bySpeed bool // by rotor speeds; else by outputs
	placed  bool // the centre of thrust is known
	lift    Reading
	pitch   Reading // lean, degrees: nose up and right side down are positive
	roll    Reading
	settled bool // the controller's output stood still
}

// A run is the last steady seconds, and what all of them came to.
type run struct {
	ring  [16]second
	count int   // since the throttle came up
	last  int64 // engine time of the newest one
	// Of all since the start, for a baseline: mean and sum of squares by
	// Welford's recurrence (Technometrics 4, 1962, 419-420; from memory).
	total  int
	motors int
	mean   [decode.MaxMotors]float64
	square [decode.MaxMotors]float64
	output float64
	// offset is that of the last run of so many seconds.
	offset offset
}

// clear forgets the run, not what was gathered for a baseline.
func (s *run) clear() { s.count, s.last = 0, 0 }

func (s *run) rows() int { return min(s.count, len(s.ring)) }

// row is the second that lies i before the newest.
func (s *run) row(i int) *second { return &s.ring[(s.count-1-i)%len(s.ring)] }

// remember keeps a steady second, once a second, when all motors were
// measured.
func (d *outputImbalance) remember(b *Bench) {
	p := &d.past
	if p.count > 0 && b.Now-p.last < shareTime {
		return
	}
	for i := range b.Motors {
		if !d.measured(i) {
			return
		}
	}
	p.count++
	p.last = b.Now
	row := p.row(0)
	*row = second{share: d.share}
	d.place(b, row)
	if p.total == 0 || p.motors != b.Motors {
		p.total, p.motors, p.output = 0, b.Motors, 0
		p.mean, p.square = column{}, column{}
	}
	p.total++
	for i := range b.Motors {
		off := d.share[i] - p.mean[i]
		p.mean[i] += off / float64(p.total)
		p.square[i] += off * (d.share[i] - p.mean[i])
	}
	p.output += (d.mean.Mean() - p.output) / float64(p.total)
	if fr, ok := airframeOf(&b.Craft); ok && fr.count == b.Motors {
		p.offset = d.centre(b, &fr)
	} else {
		p.offset = offset{why: whyLayout}
	}
}

// Steady is what the motors did in all steady seconds of a session.
type Steady struct {
	Seconds int
	Output  float64   // mean output
	Shares  []float64 // each motor's output over the mean
	Spreads []float64 // standard deviation of its second-long means
	Offset  Offset
}

// An Offset is where the centre of gravity lies from the motors' middle, by
// the last steady seconds of a session.
type Offset struct {
	ForwardMM, RightMM             float64
	ForwardWithinMM, RightWithinMM float64 // half of the 95 % intervals
	Why                            string  // why it cannot be told, "" where it can
}

// Steady returns what the motors did in the steady seconds since the start.
func (d *outputImbalance) Steady() Steady {
	p := &d.past
	o := &p.offset
	s := Steady{Seconds: p.total, Output: p.output, Offset: Offset{o.forward, o.right, o.forwardWithin, o.rightWithin, o.reason()}}
	if p.total == 0 {
		s.Offset.Why = whySteady
	}
	for i := range p.motors {
		dev := 0.0
		if p.total > 1 {
			dev = math.Sqrt(p.square[i] / float64(p.total-1))
		}
		s.Shares, s.Spreads = append(s.Shares, p.mean[i]), append(s.Spreads, dev)
	}
	return s
}
