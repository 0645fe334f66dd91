package detect

import (
	"math"

	"tetherbell/alarms/window"
)

const (
	// rateTime is the time over which a rise is taken: what trade asks for. A
	// stream of one line a second has three lines in it, of which none may be
	// lost or wild: there it is as long as rateLeast lines take, up to rateMost.
	rateTime  = 2 * Second
	rateMost  = 6 * Second
	rateLeast = 4
	rateLen   = 48 // lines: two seconds at 20 a second, the protocol's top
	ratePairs = rateLen * (rateLen - 1) / 2
	// ratePace: lines closer than this are left out.
	ratePace = Second / 25
	// rateSure standard errors less, the rise must still be half of its limit: one
	// line in 700 of noise alone comes as far.
	rateSure = 3
	// curveBin and curveLen: the past that a curve is fitted to.
	curveBin = Second / 2
	curveLen = 64
	// heatGap: a longer hole is not bridged.
	heatGap = 6 * Second
)

// heatTrack follows the temperature of one motor.
type heatTrack struct {
	ring   *window.Ring // the newest lines
	coarse *window.Ring // means of half seconds
	slot   int64        // half second being filled, -1 none
	sum    float64
	count  int
	step   float64 // smallest difference ever seen between lines: the sensor's last place

	known        bool
	temp         float64
	medium, high int // lines in a row over the limits
	hot          int // and over the others
	slope, se    float64
	sloped       bool // the slope is known
	curve        heatCurve
}

func newHeatTrack() heatTrack {
	return heatTrack{ring: window.New(rateLen), coarse: window.New(curveLen), slot: -1}
}

func (h *heatTrack) clear() {
	h.ring.Clear()
	h.coarse.Clear()
	*h = heatTrack{ring: h.ring, coarse: h.coarse, slot: -1, step: h.step}
}

// take adds one line; t, y and pairs are room for the fits.
func (h *heatTrack) take(b *Bench, temp float64, at int64, room *heatRoom) {
	if n := h.ring.Count(); n > 0 {
		last, v := h.ring.At(n - 1)
		if at-last > heatGap {
			h.clear()
		} else if at-last < ratePace {
			return
		}
		if d := math.Abs(temp - v); d > hair && (h.step == 0 || d < h.step) {
			h.step = d
		}
	}
	h.known, h.temp = true, temp
	count(&h.medium, over(temp, b.Limits.HeatMedium))
	count(&h.high, over(temp, b.Limits.HeatHigh))
	h.ring.Push(at, temp)
	h.ring.DropBefore(at - rateMost)
	slot := at / curveBin
	if h.slot >= 0 && slot > h.slot && h.count > 0 {
		h.coarse.Push(h.slot*curveBin, h.sum/float64(h.count))
		h.sum, h.count = 0, 0
	}
	h.sum += temp
	h.count++
	h.rate(room)
	if slot > h.slot {
		h.curve = heatCurve{}
		if h.sloped && h.slope > b.Limits.HeatRate/4 {
			h.bend(room)
		}
	}
	h.slot = slot
}

// count counts in a row.
func count(n *int, so bool) {
	if *n++; !so {
		*n = 0
	}
}

// rate works out the slope of the newest two seconds.
func (h *heatTrack) rate(room *heatRoom) {
	n := h.ring.Count()
	newest, _ := h.ring.At(n - 1)
	room.n = 0
	for i := n - 1; i >= 0; i-- {
		at, v := h.ring.At(i)
		if newest-at > rateTime+rateTime/20 && room.n >= rateLeast {
			break
		}
		room.t[room.n], room.y[room.n] = float64(at-newest)/float64(Second), v
		room.n++
	}
	h.sloped = false
	// Lines are lost and jitter: nine tenths of the time must be there.
	if room.n < rateLeast || room.t[room.n-1] > -0.9*float64(rateTime)/float64(Second) {
		return
	}
	h.slope, h.se, h.sloped = robustSlope(room.t[:room.n], room.y[:room.n], room.pairs[:])
}

// bend fits a curve to the longest past that one curve explains: the power may
// have changed before.
func (h *heatTrack) bend(room *heatRoom) {
	n := h.coarse.Count()
	for want := n; want >= curveLeast; want /= 2 {
		room.n = 0
		start, _ := h.coarse.At(n - want)
		for i := n - want; i < n; i++ {
			at, v := h.coarse.At(i)
			room.t[room.n], room.y[room.n] = float64(at-start)/float64(Second), v
			room.n++
		}
		// Rounding to steps of s has a variance of s^2/12. What is rounded to
		// steps is not white where it moves less than one a line: one more.
		if h.curve = fitCurve(room.t[:room.n], room.y[:room.n], h.step/math.Sqrt(6)); h.curve.known {
			h.curve.now = h.temp
			return
		}
	}
}

// rising reports whether the temperature surely rises by more than half of a
// rate.
func (h *heatTrack) rising(rate float64) bool {
	return h.known && h.sloped && h.slope-rateSure*h.se > rate/2
}

// until returns the seconds to a temperature at the rise of now; +Inf where it
// does not come there.
func (h *heatTrack) until(limit float64) float64 {
	switch {
	case h.temp >= limit:
		return 0
	case !h.sloped || h.slope <= 0:
		return math.Inf(1)
	}
	return (limit - h.temp) / h.slope
}

// heatRoom is what the fits work in.
type heatRoom struct {
	t, y  [curveLen]float64
	n     int
	pairs [ratePairs]float64
}

// heatMotors is how many motors there may be: where neither craft nor outputs
// tell, as many as have a temperature.
func heatMotors(b *Bench) int {
	if b.Motors > 0 {
		return b.Motors
	}
	for i := len(b.Temp); i > 0; i-- {
		if b.Temp[i-1].OK {
			return i
		}
	}
	return 0
}
