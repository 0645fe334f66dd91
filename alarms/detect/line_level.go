package detect

import (
	"math"
	"slices"

	"tetherbell/decode"
)

// MMS turns an acceleration in g at a frequency in hertz into the velocity of
// the same vibration, mm/s: v = a/(2 pi f). Both are of one kind, peak or rms.
func MMS(g, hz float64) float64 { return g * gravity * 1000 / (2 * math.Pi * hz) }

// Zone is the severity zone of a velocity in mm/s rms, A to D: ISO 10816-1:1995
// annex B, class I (small machines up to 15 kW): 0.71, 1.8 and 4.5 mm/s. They
// are for machines on foundations: for a craft on a tether they are a
// yardstick, not a limit.
func Zone(mms float64) string {
	for i, limit := range [...]float64{0.71, 1.8, 4.5} {
		if mms <= limit {
			return "ABC"[i : i+1]
		}
	}
	return "D"
}

// A Line is one rotor line as it was last heard.
type Line struct {
	Hz     float64 // where the rotor's speed puts it
	SeenHz float64 // where it shows in the stream that its size was taken from
	Folded bool    // the two differ
	Seen   bool    // it stands out of the noise
	Shared bool    // with another motor, whose line lies within the same cell
	G      float64 // acceleration, g rms, the three axes together; 0 where specific force is not measured
	MMS    float64 // velocity, mm/s rms, of the same
	Rate   float64 // body rate, deg/s, peak; 0 where rates are not measured
}

// A LineView is what is known of the rotors' lines: for a screen or a report.
type LineView struct {
	Motors, Orders int
	Order          [3]float64 // times the rotor's speed
	Lines          [decode.MaxMotors][3]Line

	AccelRate, AxesRate float64 // lines a second of the streams that are heard, 0 none

	Stated     int     // magnet poles by craft file or bridge, 0 not known
	Poles      int     // that fit best, 0 while nothing was heard
	Likelihood float64 // of Poles among the plausible counts
	Sure       bool    // enough was heard to name it
	Agree      int     // motors that fit it best by themselves
	Speak      int     // motors whose lines can be told

	G, MMS  float64 // vibration, g rms and mm/s rms, all lines together
	Trend   float64 // power of the rotors' speed by which g grows; unbalance: 2
	TrendOK bool    // over enough different speeds
}

const (
	// levelKeep smooths what is told of a line over about five segments.
	levelKeep = 0.3
	// lineStands: a peak so far over the noise is a line: one in 3000 of noise
	// alone is so high (exp(-8)).
	lineStands = 8.0
	trendStep  = 0.05
	trendBins  = 140 // up to 1000 turns a second
	// A trend needs speeds that differ by a third, in five steps or more: with
	// less its slope is chance (common practice, no source).
	trendLeast = 5
	trendRange = 0.30
)

// lineLevels measures the rotors' lines.
type lineLevels struct {
	line  [decode.MaxMotors][3]Line
	g     float64
	mms   float64
	sum   [trendBins]float64 // logarithm of g at each speed
	count [trendBins]float64
}

// measure takes one segment: of specific force, or of body rates.
func (l *lineLevels) measure(e *lineEar, force bool, hz, spread *[decode.MaxMotors]float64, o [3]float64, n, motors, poles int) {
	var used [3][decode.MaxMotors * 3]int // bins of the lines so far
	var owner [decode.MaxMotors * 3]*Line
	taken := 0
	g2, v2, mean, turning := 0.0, 0.0, 0.0, 0.0
	for m := range motors {
		turn := hz[m] * 2 / float64(poles)
		if turn > 0 {
			mean, turning = mean+turn, turning+1
		}
		for k := range n {
			x := &l.line[m][k]
			x.Hz = turn * o[k]
			at, room, ok := e.place(x.Hz, spread[m]*o[k]*2/float64(poles))
			if turn == 0 || !ok {
				fade(x, force)
				continue
			}
			sum, fresh := 0.0, 0.0
			x.Seen, x.Shared = false, false
			for axis := range 3 {
				used[axis][taken] = -1
				over, power, bin := e.near(axis, at, room)
				if over < lineStands {
					continue
				}
				x.Seen = true
				sum += power
				if i := slices.Index(used[axis][:taken], bin); i >= 0 {
					owner[i].Shared, x.Shared = true, true
				} else {
					fresh += power
				}
				used[axis][taken] = bin
			}
			owner[taken] = x
			taken++
			x.SeenHz, x.Folded = at, math.Abs(at-x.Hz) > 0.01
			if force {
				g := math.Sqrt(sum/2) / gravity
				x.G += levelKeep * (g - x.G)
				x.MMS = MMS(x.G, x.Hz)
				g2 += fresh / 2 / (gravity * gravity)
				f := MMS(math.Sqrt(fresh/2)/gravity, x.Hz)
				v2 += f * f
			} else {
				x.Rate += levelKeep * (math.Sqrt(sum) - x.Rate)
			}
		}
	}
	if !force || turning == 0 {
		return
	}
	l.g += levelKeep * (math.Sqrt(g2) - l.g)
	l.mms += levelKeep * (math.Sqrt(v2) - l.mms)
	if g2 > 0 {
		b := min(max(int(math.Log(mean/turning)/trendStep), 0), trendBins-1)
		l.sum[b] += 0.5 * math.Log(g2)
		l.count[b]++
	}
}

// fade lets a line sink that cannot be heard any more.
func fade(x *Line, force bool) {
	x.Seen = false
	if force {
		x.G *= 1 - levelKeep
		x.MMS *= 1 - levelKeep
	} else {
		x.Rate *= 1 - levelKeep
	}
}

// trend is the slope of log g against log speed, each speed counting once.
func (l *lineLevels) trend() (slope float64, ok bool) {
	n, sx, sy, sxx, sxy := 0.0, 0.0, 0.0, 0.0, 0.0
	low, high := math.Inf(1), math.Inf(-1)
	for b := range l.sum {
		if l.count[b] == 0 {
			continue
		}
		x := float64(b) * trendStep
		y := l.sum[b] / l.count[b]
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
		low, high = min(low, x), max(high, x)
	}
	d := n*sxx - sx*sx
	if n < trendLeast || high-low < trendRange || d <= 0 {
		return 0, false
	}
	return (n*sxy - sx*sy) / d, true
}
