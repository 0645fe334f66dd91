package detect

import (
	"math"

	"tetherbell/alarms/window"
)

const (
	// windTime is how far back the controller's output is looked at: integrators
	// wind up over seconds.
	windTime = 10 * Second
	windBin  = Second / 10
	windLen  = 128
	// windSecond is a second of bins, of which windWhole must have values.
	windSecond = 10
	// windPace is the slowest stream that fills so many.
	windPace = 10
	// windTurn, deg/s: a craft that turns on average no faster stands still. A
	// tether's lines that stretch under what pushes let it creep (common practice,
	// no source).
	windTurn = 5
	// windLine is the share of the output's movement, in squares, that a straight
	// line must explain: of rocking on the feet it explains next to nothing
	// (common practice, no source).
	windLine = 0.6
	// What is asked for and not given drives an integrator. While a craft is
	// brought level that error dies away, and the drift is what carries its
	// weight; against a hold it stays. So that of the last second must be
	// errorLast of that of the whole drift, and errorNext of that of the second
	// before: an error that dies away with 2.8 s or faster falls below the second
	// (exp(-1/2.8) = 0.7), and one that has died away below the first.
	errorLast = 0.5
	errorNext = 0.7
	// An error of windError is a mode that holds the craft level within half a
	// degree (four of rate for one of angle): that is carried by the feet or
	// leaks away, and winds nothing up. Without a demand what is measured of the
	// rate is the error: windBias, more than a good gyro's bias (both common
	// practice, no source).
	windError = 2.0 // deg/s
	windBias  = 0.3
	// windRests: the mean output may move by this share of itself within the
	// second; a stick that lies still moves it by less (common practice, no source).
	windRests = 0.06
	// windAgain: so many looks, a bin apart, must say so in a row.
	windAgain = 5
)

// winding follows controller output, rate and demand of each axis while there
// is thrust, and finds what drifts against the hold.
type winding struct {
	ctrl, rate, want          [3]*window.Ring
	mean                      *window.Ring // output of all motors, or throttle
	meanSum                   float64
	meanCount                 int
	ctrlSum, rateSum, wantSum [3]float64
	count                     [3]int
	slot                      int64
	axis                      [3]wound
}

// wound is what one axis has come to.
type wound struct {
	up      bool    // it wound up, and has not come back yet
	drift   float64 // of the controller's output since base
	base    float64 // output from which it drifted
	seconds float64 // that the drift took
	asked   float64 // demand, deg/s, mean over the drift
	turned  float64 // rate, deg/s
	left    float64 // demand less rate in the last second
	share   float64 // of the drift in the output that there is now
	runs    int     // looks in a row that said so
}

func newWinding() winding {
	w := winding{slot: -1, mean: window.New(windLen)}
	for i := range w.ctrl {
		w.ctrl[i], w.rate[i], w.want[i] = window.New(windLen), window.New(windLen), window.New(windLen)
	}
	return w
}

func (w *winding) clear() {
	w.slot = -1
	w.mean.Clear()
	w.meanSum, w.meanCount = 0, 0
	for i := range w.ctrl {
		w.drop(i)
	}
}

func (w *winding) drop(i int) {
	w.ctrl[i].Clear()
	w.rate[i].Clear()
	w.want[i].Clear()
	w.ctrlSum[i], w.rateSum[i], w.wantSum[i], w.count[i] = 0, 0, 0, 0
	w.axis[i] = wound{}
}

// take adds the newest axes line. Without thrust an integrator is let go, so
// that nothing before counts.
func (w *winding) take(b *Bench, at int64) {
	if !thrustOver(b, flyOverIdle, flyBare) || b.Armed == No {
		w.clear()
		return
	}
	slot := at / windBin
	if w.slot >= 0 && slot > w.slot {
		w.end(w.slot*windBin, b.Limits.WindupLow)
	}
	w.slot = max(slot, w.slot)
	if v, ok := b.MeanOut(); ok || b.Thr.OK {
		if !ok {
			v = b.Thr.V
		}
		w.meanSum += v
		w.meanCount++
	}
	for i := range w.ctrl {
		if b.Ctrl[i].OK && b.Rate[i].OK && b.Demand[i].OK {
			w.ctrlSum[i] += b.Ctrl[i].V
			w.rateSum[i] += b.Rate[i].V
			w.wantSum[i] += b.Demand[i].V
			w.count[i]++
		}
	}
}

// end puts the filled bins into the rings and looks at each axis anew.
func (w *winding) end(start int64, low float64) {
	if w.meanCount > 0 {
		w.mean.Push(start, w.meanSum/float64(w.meanCount))
	}
	w.mean.DropBefore(start - Second)
	w.meanSum, w.meanCount = 0, 0
	lowest, highest := w.mean.Range()
	rests := highest-lowest < windRests*highest
	for i := range w.ctrl {
		if n := float64(w.count[i]); n > 0 {
			w.ctrl[i].Push(start, w.ctrlSum[i]/n)
			w.rate[i].Push(start, w.rateSum[i]/n)
			w.want[i].Push(start, w.wantSum[i]/n)
		}
		w.ctrl[i].DropBefore(start - windTime)
		w.rate[i].DropBefore(start - windTime)
		w.want[i].DropBefore(start - windTime)
		w.ctrlSum[i], w.rateSum[i], w.wantSum[i], w.count[i] = 0, 0, 0, 0
		if w.ctrl[i].Count() == 0 { // no longer measured: nothing is known of it
			w.axis[i] = wound{}
			continue
		}
		w.look(i, rests)
		if a := &w.axis[i]; a.up && math.Abs(a.drift) <= low && math.Abs(a.left) < windError {
			a.up = false // nearly back, and nothing drives it on
		}
	}
}

// mean of n values from the one at place from on.
func meanOf(r *window.Ring, from, n int) float64 {
	sum := 0.0
	for k := from; k < from+n; k++ {
		_, v := r.At(k)
		sum += v
	}
	return sum / float64(n)
}

// look follows what is up, and finds a drift where nothing is. While the
// throttle moves, what the outputs need to hold the craft moves with it.
func (w *winding) look(i int, rests bool) {
	a, c := &w.axis[i], w.ctrl[i]
	n := c.Count()
	now := meanOf(c, max(n-windSecond/2, 0), min(n, windSecond/2))
	if a.up {
		a.drift = now - a.base
	}
	a.share = math.Abs(a.drift) / max(math.Abs(now), hair)
	if n < 2*windSecond {
		return
	}
	mean := func(k int) float64 { return meanOf(w.want[i], k, windSecond) - meanOf(w.rate[i], k, windSecond) }
	newest, before := mean(n-windSecond), mean(n-2*windSecond)
	a.left = newest
	still := math.Abs(meanOf(w.rate[i], n-windSecond, windSecond))
	ask := math.Abs(meanOf(w.want[i], n-windSecond, windSecond))
	least := windBias
	if ask > windBias {
		least = windError
	}
	if !rests || math.Abs(newest) < least || newest*before <= 0 || math.Abs(newest) < errorNext*math.Abs(before) ||
		still > max(windTurn, ask/2) {
		a.runs = 0
		return
	}
	// The second that lies furthest from the newest one is where it came from.
	last, from, far := meanOf(c, n-windSecond, windSecond), 0, 0.0
	for k := n - 2*windSecond; k >= 0; k -= windSecond / 2 {
		if off := math.Abs(last - meanOf(c, k, windSecond)); off > far {
			from, far = k, off
		}
	}
	straight := straightLine(c, from)
	base := meanOf(c, from, windSecond/2)
	rise := now - base
	asked, turned := meanOf(w.want[i], from, n-from), meanOf(w.rate[i], from, n-from)
	whole := asked - turned
	if straight < windLine || rise*newest <= 0 || math.Abs(newest) < errorLast*math.Abs(whole) {
		a.runs = 0
		return
	}
	if a.runs++; a.runs < windAgain || a.up && math.Abs(rise) <= math.Abs(a.drift) {
		return
	}
	first, _ := c.At(from)
	newestAt, _ := c.At(n - 1)
	*a = wound{up: true, drift: rise, base: base, asked: asked, turned: turned, runs: a.runs, left: a.left,
		share:   math.Abs(rise) / max(math.Abs(now), hair),
		seconds: float64(newestAt-first+windBin) / float64(Second)}
}

// straightLine is the share of the squares of what a ring holds from a place on
// that a straight line explains.
func straightLine(r *window.Ring, from int) float64 {
	n := r.Count()
	first, _ := r.At(from)
	meanT, meanV := 0.0, meanOf(r, from, n-from)
	for k := from; k < n; k++ {
		at, _ := r.At(k)
		meanT += float64(at-first) / float64(n-from)
	}
	var tt, tv, vv float64
	for k := from; k < n; k++ {
		at, v := r.At(k)
		t := float64(at-first) - meanT
		tt += t * t
		tv += t * (v - meanV)
		vv += (v - meanV) * (v - meanV)
	}
	if tt == 0 || vv == 0 {
		return 0
	}
	return tv * tv / (tt * vv)
}

// windMost: a drift is why the motors differ where it is so much of the
// controller's output; else the output was there before (common practice, no
// source).
const windMost = 0.6

// worst returns the axis that wound up the furthest over a limit, among those
// whose output is for the most part drift.
func (w *winding) worst(limit float64) (axis int, by float64, ok bool) {
	for i := range w.axis {
		if a := &w.axis[i]; a.up && a.share > windMost && over(math.Abs(a.drift), max(limit, math.Abs(by))) {
			axis, by, ok = i, a.drift, true
		}
	}
	return axis, by, ok
}
