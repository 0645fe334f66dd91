package compare

import (
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// blockTime is the length of a block. It is as long as a loop rings on after a
// gust at a damping ratio of 0.05 and 10 Hz (time constant 1/(2 pi 10 0.05) =
// 0.3 s, and half of that in power), so that neighbours know little of each
// other; what they do know is estimated (see welch.go). Longer ones would leave
// a hold of a few seconds with no spread to go by.
const blockTime = detect.Second / 2

// How many samples a block needs, of the slowest streams of the protocol less
// a third that may be lost.
const (
	leastAxes  = 16
	leastOut   = 8
	leastAccel = 16
	leastLoad  = 3
	leastPack  = 1
)

// drift is how far the collective throttle of a block's second half may lie
// from that of its first.
const drift = 0.005

// A block is half a second of a steady hold.
type block struct {
	hold int32   // which one, counted from 0
	stay int32   // how often the throttle had moved: one stay may have several holds, with moves of the other sticks between
	idle bool    // armed idle
	at   float64 // when it began, s
	age  float64 // how long the throttle had stood then, s
	thr  float64 // collective throttle, NaN not known
	out  float64 // mean output of the motors, NaN not known
	v    [measureCount]float64
	temp [decode.MaxMotors]float64 // mean of each motor, NaN not known; heat is made of it

	force    [3]float64 // mean specific force, NaN not known; vibration is made of it
	trembles float64    // sum of the axes' variances about it
}

// A mean adds values up.
type mean struct {
	sum, squares float64
	n            int
}

func (m *mean) add(v float64) { m.sum += v; m.squares += v * v; m.n++ }

// take adds field i of a line, where it was measured.
func (m *mean) take(s *decode.Sample, i int) {
	if v, ok := value(s, i); ok {
		m.add(v)
	}
}

// of is the mean, NaN of fewer than least values.
func (m *mean) of(least int) float64 {
	if m.n < least || m.n == 0 {
		return math.NaN()
	}
	return m.sum / float64(m.n)
}

// rms is the root mean square.
func (m *mean) rms(least int) float64 {
	if m.n < least || m.n == 0 {
		return math.NaN()
	}
	return math.Sqrt(m.squares / float64(m.n))
}

// variance is about the mean.
func (m *mean) variance(least int) float64 {
	if m.n < max(least, 2) {
		return math.NaN()
	}
	n := float64(m.n)
	return max(m.squares-m.sum*m.sum/n, 0) / (n - 1)
}

// sums is a block in the making.
type sums struct {
	control, rate [3]mean
	force         [3]mean
	half          [2]mean // collective throttle of the first and the second half
	out, temp     [decode.MaxMotors]mean
	load          mean
	volts, amps   mean
}

// block works out the values. motors is how many the craft has, cells those of
// its pack, 0 not known.
func (s *sums) block(motors, cells int) (b block, steady bool) {
	first, second := s.half[0].of(1), s.half[1].of(1)
	steady = !(math.Abs(first-second) > drift) // not known is no reason to refuse
	both := mean{sum: s.half[0].sum + s.half[1].sum, n: s.half[0].n + s.half[1].n}
	b.thr = both.of(leastAxes)
	for i := range 3 {
		b.v[controlRoll+i] = s.control[i].rms(leastAxes)
		b.v[rateRoll+i] = s.rate[i].rms(leastAxes)
	}
	b.v[controlAll] = geometric(b.v[controlRoll:], &measures[controlRoll])
	b.v[rateAll] = geometric(b.v[rateRoll:], &measures[rateRoll])
	for i := range b.force {
		b.force[i] = s.force[i].of(leastAccel)
		b.trembles += s.force[i].variance(leastAccel)
	}
	b.out, b.v[balance] = s.outputs(motors)
	for i := range b.temp {
		b.temp[i] = s.temp[i].of(1)
	}
	b.v[heat], b.v[vibration] = math.NaN(), math.NaN() // of the whole hold, see finish
	volts, amps := s.volts.of(leastPack), s.amps.of(leastPack)
	b.v[current], b.v[cellVolts] = amps, volts/float64(cells)
	b.v[efficiency] = s.load.of(leastLoad) / (volts * amps)
	for i, v := range b.v {
		if math.IsInf(v, 0) {
			b.v[i] = math.NaN()
		}
	}
	return b, steady
}

// geometric is the geometric mean of three axes: each has its own size, and a
// change of all by one factor shows as that factor.
func geometric(v []float64, m *measure) float64 {
	return m.offScale((m.onScale(v[0]) + m.onScale(v[1]) + m.onScale(v[2])) / 3)
}

// outputs returns the mean of all motors and how far the most and the least of
// them lie apart, as a share of it.
func (s *sums) outputs(motors int) (level, apart float64) {
	least, most, sum := math.Inf(1), math.Inf(-1), 0.0
	for i := range motors {
		v := s.out[i].of(leastOut)
		if math.IsNaN(v) {
			return math.NaN(), math.NaN()
		}
		least, most, sum = min(least, v), max(most, v), sum+v
	}
	level = sum / float64(motors) // no motor: NaN
	if motors < 3 || !(level > 0) {
		return level, math.NaN()
	}
	return level, (most - least) / level
}
