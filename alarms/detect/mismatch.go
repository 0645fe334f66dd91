package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
)

const (
	// gapTime is the time over which throttle and outputs are held against each
	// other: half a second of steady throttle.
	gapTime  = Second / 2
	gapLeast = 8 // bins with both, of 25: outputs come 25 times a second at least, some are lost
	// gapThr, gapOut: throttle and mean output move by no more within it.
	gapThr = 0.03
	gapOut = 0.10
	// learnOut is how far the mean may move, and learnSwing how far a motor may
	// swing, in a stretch that is learned from (common practice, no source).
	learnOut   = 0.03
	learnSwing = 0.15
	// learnTime of steady flight must have been seen before anything is judged.
	learnTime = 2 * Second
	// What was learned is kept by throttle, in cells this wide, each the mean of
	// at most learnKeep bins: a pack that runs down moves it slowly along.
	gapCells  = 20
	learnKeep = 2000
	learnMin  = 12 // bins of a cell before it counts: a quarter of a second
	// gapReach: so far from what was learned the limit is the same, and no farther
	// than gapFar is a throttle judged. In between the limit grows by gapDoubt of
	// the way: by so much a sound craft's slope may differ from the one that is
	// taken (common practice, no source).
	gapReach = 0.10
	gapFar   = 0.25
	gapDoubt = 0.4
	// Beyond what was learned the outputs go on as they went, but no less than one
	// to one, as at idle they stand at their bound, and no more than slopeMost. The
	// slope is read off cells that are slopeSpan apart at least.
	slopeMost = 1.5
	slopeSpan = 0.05
	gapBack   = 0.7 // share of the limit that must be left for the alarm to stay
	// gapLift is how long lift must speak against a throttle under idle.
	gapLift = 3 * Second / 10
	// liftOtherwise: lift of so much of the weight that a throttle under idle
	// cannot make (the trade's figure, common practice, no source).
	liftOtherwise = 0.30
	// readFresh: a throttle older than this says nothing beside a lift.
	readFresh = Second / 5
)

// The cases of throttle-mismatch.
const (
	gapLearned = iota
	gapUnderIdle
)

// A cell is what one span of throttle showed.
type cell struct {
	thr, out float64
	n        int
}

// throttleMismatch tells of outputs that are not what this throttle made
// before.
type throttleMismatch struct {
	out   outBins
	slot  int64
	fresh bool
	cells [gapCells]cell
	bins  int // learned from

	value   float64 // throttle less what the outputs say
	limit   float64 // that it was held against
	was     float64 // outputs that this throttle made before
	is      float64
	raised  bool
	held    bool
	learnt  int64 // newest slot that was learned from
	lift    int64 // since when lift speaks against a throttle under idle, -1 not
	share   float64
	clipped bool
}

// NewThrottleMismatch returns the detector of throttle-mismatch.
func NewThrottleMismatch() Detector {
	d := &throttleMismatch{out: newOutBins(), slot: -1, lift: -1, learnt: -1}
	return d
}

func (*throttleMismatch) Kind() Kind { return ThrottleMismatch }

// Reset drops the window; what the craft showed is the craft's.
func (d *throttleMismatch) Reset() {
	d.out.clear()
	d.slot, d.lift, d.learnt = -1, -1, -1
	d.fresh, d.raised, d.held = false, false, false
}

// Observe fills the window.
func (d *throttleMismatch) Observe(b *Bench, in *Input) {
	if in.S.Tag == decode.Load {
		d.underIdle(b, in.At)
		return
	}
	if was := d.out.cur.slot; d.out.take(b, in) {
		d.slot, d.fresh = was, true
	}
}

// underIdle holds the lift against a throttle under idle.
func (d *throttleMismatch) underIdle(b *Bench, at int64) {
	idle, w := b.Limits.StickIdle, b.WeightN()
	if b.IdleReady.OK {
		idle = min(b.IdleReady.V, leastFlight(b), dangerousIdle) // an idle set far too high is no measure
	}
	so := b.Load.OK && w > 0 && b.Thr.OK && abs64(at-b.Thr.At) < readFresh &&
		b.Thr.V < idle-hair && over(b.Load.V/w, liftOtherwise)
	if !so {
		d.lift = -1
		return
	}
	d.share = b.Load.V / w
	if d.lift < 0 {
		d.lift = at
	}
}

// Judge compares the newest half second.
func (d *throttleMismatch) Judge(b *Bench, dst []Finding) []Finding {
	if b.Armed != Yes || b.Stopped == Yes {
		d.raised, d.held = false, false
		return dst
	}
	if d.fresh {
		d.fresh = false
		d.look(b)
	}
	switch {
	case d.lift >= 0 && b.Now-d.lift >= gapLift:
		v := -d.share
		if m, ok := b.MeanOut(); ok {
			v = b.Thr.V - m
		}
		return append(dst, Finding{Where: Craft, Level: Low, Value: v, Limit: b.Limits.ThrottleGap, Case: gapUnderIdle})
	case d.raised:
		d.held = true
		return append(dst, Finding{Where: Craft, Level: Low, Value: d.value, Limit: d.limit, Case: gapLearned})
	case d.held:
		return append(dst, Finding{Where: Craft, Value: d.value, Limit: d.limit, Case: gapLearned})
	}
	return dst
}

// look weighs the newest half second, and learns from it where all is quiet.
func (d *throttleMismatch) look(b *Bench) {
	d.raised = false
	from := d.slot - gapTime/binTime + 1
	thr, out, n := 0.0, 0.0, 0
	thrLow, thrHigh, outLow, outHigh := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for slot := from; slot <= d.slot; slot++ {
		l := d.out.bin(slot)
		if l == nil || l.lines == 0 || l.thrN == 0 {
			continue
		}
		m := l.mean()
		thr, out, n = thr+l.thr, out+m, n+1
		thrLow, thrHigh, outLow, outHigh = min(thrLow, l.thr), max(thrHigh, l.thr), min(outLow, m), max(outHigh, m)
	}
	if n < gapLeast || thrHigh-thrLow > gapThr || outHigh-outLow > gapOut {
		return // cannot be judged now: what rings stays
	}
	thr, out = thr/float64(n), out/float64(n)
	all := d.out.over(from, d.slot)
	d.clipped = all.clipped(b)
	swing := d.out.swing(from, d.slot)
	was, slope, beyond, known := d.before(thr)
	gap := 0.0
	if known {
		d.was, d.is = was, out
		gap = (was - out) / slope
		d.value = gap
	}
	limit := b.Limits.ThrottleGap + gapDoubt*beyond
	d.limit = limit
	// A swing that the mixer cuts off shifts the mean: that is not the throttle.
	swings := d.clipped && swing > runSwing*math.Abs(gap)
	d.raised = known && !swings && over(math.Abs(gap), limit)
	d.held = d.held && known && math.Abs(gap) > gapBack*limit
	quiet := outHigh-outLow < learnOut && swing < learnSwing && !d.clipped
	fits := !known || math.Abs(gap) < limit/2 || beyond > 0 && !d.raised
	if quiet && fits && d.slot-d.learnt >= gapTime/binTime {
		d.learn(from)
	}
}

// learn takes the bins of a quiet half second, each once.
func (d *throttleMismatch) learn(from int64) {
	d.learnt = d.slot
	for slot := from; slot <= d.slot; slot++ {
		l := d.out.bin(slot)
		if l == nil || l.lines == 0 || l.thrN == 0 {
			continue
		}
		c := &d.cells[min(max(int(l.thr*gapCells), 0), gapCells-1)]
		c.n = min(c.n+1, learnKeep)
		c.thr += (l.thr - c.thr) / float64(c.n)
		c.out += (l.mean() - c.out) / float64(c.n)
		d.bins++
	}
}

// before returns the mean output that a throttle made, by a straight line
// between its learned neighbours or on from them, how steeply it goes there, and
// how far beyond gapReach that throttle is.
func (d *throttleMismatch) before(thr float64) (out, slope, beyond float64, ok bool) {
	if int64(d.bins)*binTime < learnTime {
		return 0, 0, 0, false
	}
	low, high := -1, -1
	for i := range d.cells {
		c := &d.cells[i]
		switch {
		case c.n < learnMin:
		case c.thr <= thr:
			low = i
		case high < 0:
			high = i
		}
	}
	if low >= 0 && high >= 0 {
		l, h := &d.cells[low], &d.cells[high]
		// Where both were seen on the same throttle but for a hair, the slope
		// between them is noise: it stays within what craft do.
		slope = min(max((h.out-l.out)/max(h.thr-l.thr, hair), 0.5), 2)
		near := min(thr-l.thr, h.thr-thr)
		beyond = max(near-gapReach, 0)
		if thr-l.thr <= h.thr-thr {
			return l.out + slope*(thr-l.thr), slope, beyond, near < gapFar+hair
		}
		return h.out + slope*(thr-h.thr), slope, beyond, near < gapFar+hair
	}
	c := &d.cells[max(low, high, 0)]
	near := math.Abs(thr - c.thr)
	if max(low, high) < 0 || near > gapFar+hair {
		return 0, 0, 0, false
	}
	slope = d.slopeAt(max(low, high))
	return min(max(c.out+slope*(thr-c.thr), 0), 1), slope, max(near-gapReach, 0), true
}

// slopeAt is how steeply the outputs went up with the throttle about an
// outermost cell; one to one where nothing else was seen.
func (d *throttleMismatch) slopeAt(at int) float64 {
	c, near := &d.cells[at], -1
	for i := range d.cells {
		if o := &d.cells[i]; o.n >= learnMin && math.Abs(o.thr-c.thr) >= slopeSpan &&
			(near < 0 || math.Abs(o.thr-c.thr) < math.Abs(d.cells[near].thr-c.thr)) {
			near = i
		}
	}
	if near < 0 {
		return 1
	}
	o := &d.cells[near]
	return min(max((o.out-c.out)/(o.thr-c.thr), 1), slopeMost)
}

// mean is the mean output over the motors of a bin.
func (l *outBin) mean() float64 {
	sum, n := 0.0, 0.0
	for i := range l.out {
		if l.n[i] > 0 {
			sum += l.out[i]
			n++
		}
	}
	return sum / max(n, 1)
}

// Describe tells what the throttle made before and makes now.
func (d *throttleMismatch) Describe(b *Bench, f Finding) Story {
	s := Story{Unit: "1", Action: "lower the throttle; find what drives the motors"}
	if f.Case == gapUnderIdle {
		s.Text = fmt.Sprintf("collective throttle %.2f is under armed idle, yet the lift is %.2f of the weight", b.Thr.V, d.share)
		s.Cause = "throttle misreported, or outputs that do not follow it"
		s.More = []Fact{{"lift_over_weight", d.share}, {"throttle", b.Thr.V}}
		return s
	}
	s.Text = fmt.Sprintf("mean output %.2f at throttle %.2f, where this craft showed %.2f before", d.is, b.Thr.V, d.was)
	s.Cause = "outputs no longer follow the throttle"
	if d.clipped {
		s.Cause = "mixer at its bounds: outputs are shifted by what the axes ask"
	}
	s.More = []Fact{{"output_expected", d.was}, {"output", d.is}, {"throttle", b.Thr.V}}
	return s
}

// Missing: the throttle that the mixer is given, and what comes of it.
func (d *throttleMismatch) Missing(b *Bench) string {
	_, ok := b.MeanOut()
	switch {
	case !b.Thr.OK:
		return b.without(decode.Axes, "collective throttle not known", "axes lines come, but the collective throttle in them is empty")
	case b.Armed == Unknown:
		return noArmed(b)
	case !ok && !b.Load.OK:
		return noOutputs(b)
	case !ok && b.Doubt[decode.Load] != "":
		return b.Doubt[decode.Load]
	}
	return ""
}
