package detect

import (
	"math"

	"tetherbell/alarms/window"
	"tetherbell/decode"
)

// bins averages the motors' values over short equal times and keeps the
// averages of the last second, one ring for each motor.
type bins struct {
	ring  [decode.MaxMotors]*window.Ring
	sum   [decode.MaxMotors]float64
	count [decode.MaxMotors]int
	slot  int64 // number of the bin that is being filled, -1 none
	ended int64 // engine time at which the last whole bin began
	whole float64
}

func newBins() bins {
	b := bins{slot: -1}
	for i := range b.ring {
		b.ring[i] = window.New(shareLen)
	}
	return b
}

func (n *bins) clear() {
	n.slot = -1
	for i := range n.ring {
		n.ring[i].Clear()
		n.sum[i], n.count[i] = 0, 0
	}
}

// take adds the values of one line and reports whether that ended a bin; its
// mean over the motors is then in whole.
func (n *bins) take(v *[decode.MaxMotors]Reading, motors int, at int64) bool {
	slot, ended := at/binTime, false
	if n.slot >= 0 && slot > n.slot {
		ended = n.end()
	}
	n.slot = max(slot, n.slot)
	for i := range motors {
		if v[i].OK {
			n.sum[i] += v[i].V
			n.count[i]++
		}
	}
	return ended
}

// end puts the filled bin into the rings, unless nothing was measured in it.
func (n *bins) end() bool {
	sum, motors := 0.0, 0
	n.ended = n.slot * binTime
	for i, r := range n.ring {
		if n.count[i] > 0 {
			m := n.sum[i] / float64(n.count[i])
			r.Push(n.ended, m)
			sum += m
			motors++
			n.sum[i], n.count[i] = 0, 0
		}
		r.DropBefore(n.ended - shareTime)
	}
	if motors == 0 {
		return false
	}
	n.whole = sum / float64(motors)
	return true
}

const (
	// driftTime is how far back the controller's output is looked at: windup on
	// a tether builds up over seconds.
	driftTime = 5 * Second
	driftBin  = Second / 10
	driftLen  = 64
	// driftLeast is the time a drift must have been seen for.
	driftLeast = 1 * Second
	// driftSteps: the limit that separates windup from the ordinary wandering of
	// a controller's output (common practice, no source: that of windup, low).
	driftSteps = 0.05
	// driftTurn, deg/s: a craft that turns on average no faster stands still.
	driftTurn = 5
)

// drift follows the controller's output and the body rates of each axis.
type drift struct {
	ctrl, rate       [3]*window.Ring
	ctrlSum, rateSum [3]float64
	count            [3]int
	slot             int64
}

func newDrift() drift {
	d := drift{slot: -1}
	for i := range d.ctrl {
		d.ctrl[i], d.rate[i] = window.New(driftLen), window.New(driftLen)
	}
	return d
}

func (d *drift) clear() {
	d.slot = -1
	for i := range d.ctrl {
		d.ctrl[i].Clear()
		d.rate[i].Clear()
		d.ctrlSum[i], d.rateSum[i], d.count[i] = 0, 0, 0
	}
}

// take adds the newest axes line.
func (d *drift) take(b *Bench, at int64) {
	slot := at / driftBin
	if d.slot >= 0 && slot > d.slot {
		start := d.slot * driftBin
		for i := range d.ctrl {
			if n := float64(d.count[i]); n > 0 {
				d.ctrl[i].Push(start, d.ctrlSum[i]/n)
				d.rate[i].Push(start, d.rateSum[i]/n)
			}
			d.ctrl[i].DropBefore(start - driftTime)
			d.rate[i].DropBefore(start - driftTime)
			d.ctrlSum[i], d.rateSum[i], d.count[i] = 0, 0, 0
		}
	}
	d.slot = max(slot, d.slot)
	for i := range d.ctrl {
		if b.Ctrl[i].OK && b.Rate[i].OK {
			d.ctrlSum[i] += b.Ctrl[i].V
			d.rateSum[i] += b.Rate[i].V
			d.count[i]++
		}
	}
}

// windup returns the axis whose controller output drifts one way while the
// craft does not turn about it, and by how much.
func (d *drift) windup() (axis int, by float64, ok bool) {
	for i := range d.ctrl {
		if d.ctrl[i].Span() < driftLeast || math.Abs(d.rate[i].Mean()) > driftTurn {
			continue
		}
		rise := d.ctrl[i].Slope() * float64(d.ctrl[i].Span()) / float64(Second)
		if math.Abs(rise) > driftSteps && math.Abs(rise) > math.Abs(by) {
			axis, by, ok = i, rise, true
		}
	}
	return axis, by, ok
}
