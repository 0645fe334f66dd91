package detect

import (
	"slices"

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
	turns int // how often the rings may have changed
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
	n.turns++
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
	n.turns++
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

// middle returns the median of motor i's bins: a rotor's speed is at times
// misread by half, which a mean would take in. 0 when there are none.
func (n *bins) middle(i int) float64 {
	var v [shareLen]float64
	k := n.ring[i].Count()
	if k == 0 {
		return 0
	}
	for j := range k {
		_, v[j] = n.ring[i].At(j)
	}
	slices.Sort(v[:k])
	return (v[(k-1)/2] + v[k/2]) / 2
}

// A trace averages one value over the same short times.
type trace struct {
	ring  *window.Ring
	sum   float64
	count int
	slot  int64
}

func newTrace() trace { return trace{ring: window.New(shareLen), slot: -1} }

func (t *trace) clear() {
	t.ring.Clear()
	t.sum, t.count, t.slot = 0, 0, -1
}

// take adds one value, unless it was not measured.
func (t *trace) take(v Reading, at int64) {
	slot := at / binTime
	if t.slot >= 0 && slot > t.slot && t.count > 0 {
		start := t.slot * binTime
		t.ring.Push(start, t.sum/float64(t.count))
		t.ring.DropBefore(start - shareTime)
		t.sum, t.count = 0, 0
	}
	t.slot = max(slot, t.slot)
	if v.OK {
		t.sum += v.V
		t.count++
	}
}

// mean returns the mean of the last second before now, where at least so many
// of its bins have a value.
func (t *trace) mean(now int64, least int) (float64, bool) {
	t.ring.DropBefore(now - shareTime - 2*binTime)
	return t.ring.Mean(), t.ring.Count() >= least
}
