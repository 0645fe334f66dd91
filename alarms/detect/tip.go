package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
)

const (
	// tipTime is how long the craft must turn one way. A real tumble doubles its
	// rate in 0.055 s and is over in a quarter of a second, so that no count of
	// cycles is quick enough.
	tipTime = 30 * Second / 1000
	// tipHole: over a longer hole in the stream nothing is joined. Real records
	// have holes of 12 to 71 ms.
	tipHole = 80 * Second / 1000
	// tipFine: a stream with steps up to this long gives enough samples in
	// tipTime to forgive one that disagrees.
	tipFine = 6 * Second / 1000
	// tipFalling: a rate under this share of its peak is dying away, as a knock
	// does (common practice, no source).
	tipFalling = 0.9
	// tipFar: so many times over the limit the craft need not turn faster and
	// faster: a gyro at the end of its range cannot show it (common practice, no
	// source).
	tipFar = 3
	// tipHold: the alarm holds down to this share of the limit.
	tipHold = 0.8
	// Outputs over idle: the same margin that separates armed idle from flight,
	// and twice the usual armed idle's lower end where none is known (common
	// practice, no source).
	drivenOverIdle = 0.02
	drivenBare     = 0.05
)

// tipAxis follows one axis.
type tipAxis struct {
	last       float64 // excess of the newest sample, signed
	lastAt     int64   // its time, -1 none
	seen       int     // samples over the limit in this run, 0 when there is none
	sign       float64
	began      int64   // when the limit was crossed
	start      float64 // excess at the first sample over it
	least      float64 // smallest excess of the run
	peak       float64
	forgiven   bool // one sample of this run disagreed
	met        bool // enough evidence, until the rate falls under the hold
	rate, want float64
}

// tipOver tells of a craft that turns although it is held or on the ground.
type tipOver struct {
	axis [3]tipAxis
}

// NewTipOver returns the detector of tip-over.
func NewTipOver() Detector {
	d := &tipOver{}
	d.Reset()
	return d
}

func (*tipOver) Kind() Kind { return TipOver }

// Reset drops the runs of all axes.
func (d *tipOver) Reset() {
	for i := range d.axis {
		d.axis[i] = tipAxis{lastAt: -1}
	}
}

// Observe takes the rates of one axes line.
func (d *tipOver) Observe(b *Bench, in *Input) {
	if in.S.Tag != decode.Axes {
		return
	}
	for i := range d.axis {
		a := &d.axis[i]
		if !b.Rate[i].OK {
			*a = tipAxis{lastAt: -1}
			continue
		}
		a.rate, a.want = b.Rate[i].V, 0
		if b.Demand[i].OK {
			a.want = b.Demand[i].V
		}
		a.take(beyond(a.rate, a.want), b.Limits.TipRate, in.At)
	}
}

// beyond returns how much faster the body turns than it is asked to, with the
// sign of its turning. A craft that is asked to turn and does not is not
// turning beyond the demand, nor does one turn faster for being asked to turn
// the other way.
func beyond(rate, demand float64) float64 {
	if rate < 0 {
		return -beyond(-rate, -demand)
	}
	return max(rate-max(demand, 0), 0)
}

// take moves the run of one axis on by a sample.
func (a *tipAxis) take(excess, limit float64, at int64) {
	before, step := a.last, at-a.lastAt
	fresh := a.lastAt < 0 || step > tipHole
	a.last, a.lastAt = excess, at
	size := math.Abs(excess)
	if size < tipHold*limit {
		a.met = false
	}
	if fresh {
		a.seen, a.met = 0, false
	}
	agrees := over(size, limit) && (a.seen == 0 || excess*a.sign > 0)
	if a.seen > 0 && !agrees {
		if step <= tipFine && !a.forgiven && !a.met {
			a.forgiven = true
			return
		}
		a.seen = 0
		agrees = over(size, limit)
	}
	if !agrees {
		return
	}
	if a.seen == 0 {
		a.begin(before, excess, limit, at, step, fresh)
	}
	a.seen++
	a.least, a.peak = min(a.least, size), max(a.peak, size)
	rising := size > a.start && size >= tipFalling*a.peak || a.least > tipFar*limit
	if a.seen > 1 && at-a.began >= tipTime && rising {
		a.met = true
	}
}

// begin starts a run. The limit was crossed between two samples: where, a
// straight line between them tells, so that a slow stream sees no less than a
// fast one.
func (a *tipAxis) begin(before, excess, limit float64, at, step int64, fresh bool) {
	size := math.Abs(excess)
	a.sign, a.began = math.Copysign(1, excess), at
	a.start, a.least, a.peak, a.forgiven = size, size, size, false
	if fresh {
		return
	}
	was := before * a.sign
	if was < limit {
		a.began = at - int64(float64(step)*(size-limit)/(size-was))
	}
}

// Judge reports every axis that turns.
func (d *tipOver) Judge(b *Bench, dst []Finding) []Finding {
	if !b.ArmedOrUnknown() || !b.HeldOrGrounded() || !thrustOver(b, drivenOverIdle, drivenBare) {
		return dst
	}
	for i := range d.axis {
		a := &d.axis[i]
		if !a.met {
			continue
		}
		f := Finding{Where: Axis(i), Value: math.Abs(a.rate), Limit: b.Limits.TipRate}
		if over(math.Abs(a.last), b.Limits.TipRate) {
			f.Level = High
		}
		dst = append(dst, f)
	}
	return dst
}

// tipWays says which way a positive and a negative rate turn the craft, by
// the axes of ISO 1151-1: x forward, y right, z down.
var tipWays = [3][2]string{
	{"right side down", "left side down"},
	{"nose up", "nose down"},
	{"clockwise seen from above", "counter-clockwise seen from above"},
}

// Describe names the axis, the way and the rate.
func (d *tipOver) Describe(_ *Bench, f Finding) Story {
	s := Story{Unit: "deg/s", Action: "press stop; keep clear", Cause: "craft turns although it is held"}
	for i := range d.axis {
		if f.Where != Axis(i) {
			continue
		}
		a := &d.axis[i]
		way := tipWays[i][0]
		if a.rate < 0 {
			way = tipWays[i][1]
		}
		s.Text = fmt.Sprintf("the craft turns in %s at %.0f deg/s, %s, although it is held down", f.Where, f.Value, way)
		s.More = append(s.More, Fact{"direction", way}, Fact{"demand_deg_s", a.want})
	}
	return s
}

// Missing: body rates are all it needs.
func (d *tipOver) Missing(b *Bench) string {
	switch {
	case !b.Rate[0].OK && !b.Rate[1].OK && !b.Rate[2].OK:
		return b.without(decode.Axes, "no body rates", "axes lines come, but the body rates in them are empty")
	case b.Doubt[decode.Axes] != "":
		return b.Doubt[decode.Axes]
	case !b.Held() && b.Ground == Unknown:
		return "free craft, and whether it is on the ground is not known"
	}
	return ""
}
