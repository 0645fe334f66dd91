package detect

import (
	"fmt"
	"math"
	"slices"

	"tetherbell/decode"
)

const (
	// vibBin: vibration is summed up over so long, vibBins of them are kept.
	vibBin  = Second / 10
	vibBins = 120
	// vibNow bins are vibration now: every one of them must be up, so that a
	// knock of under 0.2 s, which reaches three at most, rings nothing.
	vibNow = 4
	// vibSkip bins before them are not looked at: the break itself. With the
	// alarm's own time the step must happen within a second.
	vibSkip = 4
	// vibBefore bins before these are what it was, vibLeast of them at like speed.
	vibBefore = 20
	vibLeast  = 12
	// Rotors of nearly one speed beat with each other: speeds 0.8 % apart at 70
	// turns a second are up and down in two seconds, and shake near to nothing
	// between. So the most of all that is kept must be passed as well, by vibPeak,
	// brought to the speed of now from vibSpan of its square; and vibKnown bins of
	// it must be there (common practice, no source).
	vibSpan  = 2.0
	vibKnown = 40
	vibPeak  = 1.5
	// vibHold: the alarm holds while vibration stays over this much of what it
	// was.
	vibHold = 1.5
	// vibEach: every bin of now is at least so many times what it was.
	vibEach = 1.5
	// vibCut is the high-pass, Hz: oscillations of a loop and a craft that rocks
	// on its feet lie below it, rotors of craft up to 0.5 m above.
	vibCut = 30
	// vibCutRates is that of the rates: they carry the swing of the loop itself,
	// 2 to 30 Hz. Slow streams are cut at vibCutMost of their pace. And what is
	// not over vibLeak of what lies below the cut may be a swing that leaks
	// through: 30 Hz comes through a cut at 60 Hz by a quarter.
	vibCutRates = 60
	vibCutMost  = 0.3
	vibLeak     = 0.3
	// vibSlow: a stream under so many lines a second shows too little above the
	// high-pass.
	vibSlow = 80
	// vibFold: rotors turn at up to 1/vibFold of the pace of the lines, else their
	// shake folds down (sampling theorem), and goes through the cut as their speed
	// wanders. Where speeds are not known, vibBlind lines a second are asked for:
	// enough for 90 turns a second (common practice, no source).
	vibFold  = 2.2
	vibBlind = 200
	// vibSteady: speeds may differ by this share, for speed decides over vibration:
	// unbalance by speed squared, more near a resonance, and what lies beyond half
	// the lines' pace folds to another frequency.
	vibSteady = 0.07
	// Floors: what is less than that is no vibration that anybody would mind
	// (common practice, no source). Three times the sensor's noise
	// while disarmed counts too.
	vibForce = 0.5 // m/s^2 rms, three axes together
	vibRate  = 3.0 // deg/s rms
	vibNoise = 3
	vibHole  = 5 // periods without a line after which the filter starts anew
)

// highCut is a second-order Butterworth filter by the bilinear transform
// (Oppenheim and Schafer, Discrete-Time Signal Processing; from memory, the
// response is tested).
type highCut struct {
	b0, b1, b2, a1, a2 float64
	x1, x2, y1, y2     float64
	count              int
}

// tune sets the cut at a share of the sampling rate and forgets the past.
func (h *highCut) tune(share float64) {
	k := math.Tan(math.Pi * share)
	n := 1 / (1 + math.Sqrt2*k + k*k)
	*h = highCut{b0: n, b1: -2 * n, b2: n, a1: 2 * (k*k - 1) * n, a2: (1 - math.Sqrt2*k + k*k) * n}
}

// next filters one value. The first sets the filter at rest on it.
func (h *highCut) next(x float64) float64 {
	if h.count == 0 {
		h.x1, h.x2 = x, x
	}
	h.count++
	y := h.b0*x + h.b1*h.x1 + h.b2*h.x2 - h.a1*h.y1 - h.a2*h.y2
	h.x2, h.x1, h.y2, h.y1 = h.x1, x, h.y1, y
	return y
}

// vibBinOf is one bin of vibration, with what drove it.
type vibBinOf struct {
	slot   int64
	square float64 // mean of the squares of three axes
	low    float64 // the same of what lies below the cut
	drive  float64 // speeds squared, or outputs squared, mean of the motors
	ok     bool
}

// vibChannel follows the vibration of one stream.
type vibChannel struct {
	tag    decode.Tag
	pass   [3]highCut
	rate   float64 // lines a second that the filters are tuned for, 0 not watched
	last   int64
	settle int // lines until the filters have settled

	cur       vibBinOf
	n         int
	squareSum float64
	lowSum    float64    // squares of what the filter took away
	lowMean   [3]float64 // sums of it
	bins      [vibBins]vibBinOf
	sorted    [vibBefore]float64
	fresh     bool

	noise  float64 // least mean square while disarmed, 0 unknown
	now    float64 // rms now
	before float64 // rms before; as of the raise while it rings
	drive  float64 // and what drove it then
	ratio  float64
	up     bool
	told   bool
}

// vibrationStep tells of vibration that doubles at steady throttle: in the
// specific force, or in the body's rates, where a mount that is bypassed shows.
type vibrationStep struct {
	ch       [2]vibChannel
	driveSum float64 // speeds squared, or outputs squared, since the last bin
	driveN   int
	bySpeed  bool
	slot     int64
	worst    int // channel of the last finding
}

// NewVibrationStep returns the detector of vibration-step.
func NewVibrationStep() Detector {
	d := &vibrationStep{}
	d.Reset()
	return d
}

func (*vibrationStep) Kind() Kind { return VibrationStep }

// Reset drops every window. The sensors' noise stays.
func (d *vibrationStep) Reset() {
	for k, tag := range [2]decode.Tag{decode.Accel, decode.Axes} {
		c := &d.ch[k]
		*c = vibChannel{tag: tag, noise: c.noise, last: -1}
		c.cur.slot = -1
		for i := range c.bins {
			c.bins[i].slot = -1
		}
	}
	d.driveSum, d.driveN, d.bySpeed, d.slot, d.worst = 0, 0, false, -1, 0
}

// readings are the values of a channel.
func (c *vibChannel) readings(b *Bench) *[3]Reading {
	if c.tag == decode.Accel {
		return &b.Force
	}
	return &b.Rate
}

// cut is where the high-pass begins, Hz.
func (c *vibChannel) cut() float64 {
	hz := float64(vibCut)
	if c.tag == decode.Axes {
		hz = vibCutRates
	}
	return min(hz, vibCutMost*c.rate)
}

// folds reports whether the rotors turn too fast for the stream.
func (c *vibChannel) folds(b *Bench) bool {
	fastest, known := 0.0, false
	for _, r := range b.RPM {
		if r.OK {
			fastest, known = max(fastest, r.V/60), true
		}
	}
	if !known {
		return c.rate < vibBlind*0.97 // for a pace that is measured
	}
	return c.rate < vibFold*fastest
}

// watched reports whether the stream tells anything, often enough.
func (c *vibChannel) watched(b *Bench) bool {
	r := c.readings(b)
	return b.Streams[c.tag].Rate() >= vibSlow && (r[0].OK || r[1].OK || r[2].OK)
}

// Observe filters what shakes, and follows what drives it.
func (d *vibrationStep) Observe(b *Bench, in *Input) {
	if slot := in.At / vibBin; slot > d.slot {
		for k := range d.ch {
			d.ch[k].end(b, d.driveSum/float64(max(d.driveN, 1)), slot)
		}
		d.slot, d.driveSum, d.driveN = slot, 0, 0
	}
	switch in.S.Tag {
	case decode.Out:
		if !d.bySpeed {
			d.driven(&b.Out, b.Motors)
		}
	case decode.ERPM:
		if sum, n := sumSquares(&b.ERPM, b.Motors); n > 0 && sum > 0 && !d.bySpeed {
			d.Reset() // speeds from now on: the two must not be joined
			d.bySpeed, d.slot = true, in.At/vibBin
		}
		if d.bySpeed {
			d.driven(&b.ERPM, b.Motors)
		}
	case decode.Accel:
		d.ch[0].shaken(b, in)
	case decode.Axes:
		d.ch[1].shaken(b, in)
	}
}

// driven adds the mean square of the motors' speeds or outputs.
func (d *vibrationStep) driven(v *[decode.MaxMotors]Reading, motors int) {
	if sum, n := sumSquares(v, motors); n > 0 {
		d.driveSum += sum / float64(n)
		d.driveN++
	}
}

// shaken filters one line.
func (c *vibChannel) shaken(b *Bench, in *Input) {
	if !c.watched(b) {
		c.rate = 0
		return
	}
	rate := b.Streams[c.tag].Rate()
	hole := c.last >= 0 && float64(in.At-c.last)*rate > vibHole*float64(Second)
	if c.rate == 0 || math.Abs(rate/c.rate-1) > 0.1 || hole {
		c.rate = rate
		for i := range c.pass {
			c.pass[i].tune(c.cut() / rate)
		}
		c.settle = int(2 * rate / c.cut())
	}
	c.last = in.At
	sum, low := 0.0, 0.0
	for i, r := range c.readings(b) {
		if r.OK {
			y := c.pass[i].next(r.V)
			sum += y * y
			low += (r.V - y) * (r.V - y)
			c.lowMean[i] += r.V - y
		}
	}
	if c.settle > 0 {
		c.settle--
		c.lowMean = [3]float64{}
		return
	}
	c.squareSum += sum
	c.lowSum += low
	c.n++
}

// end closes a bin, with what drove the rotors in it, and begins the next.
func (c *vibChannel) end(b *Bench, drive float64, next int64) {
	if c.cur.slot >= 0 {
		// Half of the lines of a bin must have come.
		n := float64(c.n)
		whole := c.rate > 0 && n > 0.5*c.rate*float64(vibBin)/float64(Second)
		if whole {
			c.cur.square, c.cur.low, c.cur.drive, c.cur.ok = c.squareSum/n, c.lowSum/n, drive, drive > 0 && !c.folds(b)
			for _, sum := range c.lowMean {
				c.cur.low -= sum / n * sum / n
			}
		}
		c.bins[c.cur.slot%vibBins] = c.cur
		c.fresh = true
		if whole && b.Armed == No && (c.noise == 0 || c.cur.square < c.noise) {
			c.noise = c.cur.square
		}
	}
	c.cur = vibBinOf{slot: next}
	c.n, c.squareSum, c.lowSum, c.lowMean = 0, 0, 0, [3]float64{}
}

// bin returns the bin that lies so many before the one being filled.
func (c *vibChannel) bin(back int64) (*vibBinOf, bool) {
	s := c.cur.slot - back
	if s < 0 {
		return nil, false
	}
	v := &c.bins[s%vibBins]
	return v, v.slot == s && v.ok
}

// floor returns the least rms that counts.
func (c *vibChannel) floor() float64 {
	least := vibForce
	if c.tag == decode.Axes {
		least = vibRate
	}
	return max(least, vibNoise*math.Sqrt(c.noise))
}

// look works out vibration now over before.
func (c *vibChannel) look(b *Bench) {
	c.told = false
	now, low, least, drive := 0.0, 0.0, math.Inf(1), 0.0
	for k := range int64(vibNow) {
		v, ok := c.bin(k + 1)
		if !ok {
			return
		}
		now += v.square / vibNow
		low += v.low / vibNow
		least = min(least, v.square)
		drive += v.drive / vibNow
	}
	c.now = math.Sqrt(now)
	if c.up {
		c.ratio = c.now / max(c.before*drive/max(c.drive, hair), hair)
		c.told = true
		return
	}
	n, known, peak := 0, 0, 0.0
	for k := int64(vibNow + vibSkip + 1); k < vibBins; k++ {
		v, ok := c.bin(k)
		if !ok || v.drive*vibSpan < drive || v.drive > drive*vibSpan {
			continue
		}
		// Speed by x changes an unbalance's force by x squared, its square by the
		// fourth power: F = U w^2.
		square := v.square * (drive / v.drive) * (drive / v.drive)
		peak = max(peak, square)
		known++
		// Speeds go with outputs, drive with their squares: twice the change.
		if k <= vibNow+vibSkip+vibBefore && math.Abs(drive/v.drive-1) < 2*vibSteady {
			c.sorted[n] = square
			n++
		}
	}
	if n < vibLeast || known < vibKnown {
		return
	}
	s := c.sorted[:n]
	slices.Sort(s)
	c.before, c.drive = math.Sqrt(max(s[n/2], hair)), drive
	c.ratio = c.now / c.before
	limit := b.Limits.VibrationStep
	leaks := now < vibLeak*vibLeak*low
	c.told = true
	c.up = !leaks && c.now > c.floor() && over(c.ratio, limit) && over(now, vibPeak*vibPeak*peak) && over(least, vibEach*vibEach*s[n/2])
}

// Judge rings while vibration stays up.
func (d *vibrationStep) Judge(b *Bench, dst []Finding) []Finding {
	on := b.ArmedOrUnknown() && b.Stopped != Yes && thrustOver(b, 0, zeroOutput)
	limit := b.Limits.VibrationStep
	found, f := false, Finding{Where: Craft, Limit: limit}
	for k := range d.ch {
		c := &d.ch[k]
		if !on {
			c.up = false
			continue
		}
		if c.fresh {
			c.fresh = false
			c.look(b)
		}
		if c.up && c.told && c.ratio < min(vibHold, limit) {
			c.up = false
		}
		if !c.up {
			continue
		}
		if c.told { // else a hole: nothing is better for it
			if over(c.ratio, limit) {
				f.Level = High
			}
			if c.ratio > f.Value {
				f.Value, d.worst = c.ratio, k
			}
		}
		found = true
	}
	if !found {
		return dst
	}
	return append(dst, f)
}

// Describe tells how much more it shakes.
func (d *vibrationStep) Describe(_ *Bench, f Finding) Story {
	c := &d.ch[d.worst]
	unit, name := "m_s2", "specific force"
	if c.tag == decode.Axes {
		unit, name = "deg_s", "body rates"
	}
	return Story{
		Unit:   "1",
		Text:   fmt.Sprintf("vibration in the %s is %.1f times what it was a second before, at steady throttle", name, f.Value),
		Cause:  "blade broken, or motor or mount loose",
		Action: "cut throttle; keep out of the propeller plane",
		More: []Fact{
			{"measured_in", name}, {"rms_now_" + unit, c.now}, {"rms_before_" + unit, c.before},
			{"over_hz", c.cut()}, {"scaled_by_speed", d.bySpeed},
		},
	}
}

// Missing: a stream that is fast enough, and what drives the rotors.
func (d *vibrationStep) Missing(b *Bench) string {
	if _, ok := b.MeanOut(); !ok && !d.bySpeed {
		return b.never(decode.Out, b.never(decode.ERPM, "no motor outputs or rotor speeds"))
	}
	force, rates := b.Streams[decode.Accel].Rate(), b.Streams[decode.Axes].Rate()
	odd := b.Doubt[decode.Accel] // in another unit its shake seldom passes the floor
	one := func(c *vibChannel) bool { return c.watched(b) && !c.folds(b) }
	switch {
	case odd == "" && one(&d.ch[0]) || one(&d.ch[1]):
		return ""
	case odd != "" && one(&d.ch[0]):
		return odd
	case d.ch[0].watched(b) || d.ch[1].watched(b):
		return noShake(b, "force and rates come too seldom for rotors this fast")
	case force == 0 && rates == 0:
		return noShake(b, "no specific force or body rates")
	case max(force, rates) < vibSlow:
		return noShake(b, "force and rates come under 80 times a second")
	}
	return noShake(b, "specific force and body rates not known")
}
