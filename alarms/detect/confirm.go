package detect

const (
	// fastPace: a stream of so many samples a second, or more, must say a thing
	// twice in a row; a slower one is believed at once, since its second word
	// would come too late (common practice, no source).
	fastPace = 20
	// confirmBy: where the second sample of a fast stream does not come (5 % of
	// lines are lost), the first alone is believed after this long. With the
	// 10 ms of the grid this keeps an alarm within 100 ms of its first evidence.
	confirmBy = 80 * Second / 1000
	// holeTime: a value that is not measured for up to this long leaves a hole in
	// what is being followed and no new beginning: what is on both sides of it is
	// joined, as over a lost line. While the hole lasts the value is unknown. Five
	// lines of the slowest fast streams, 10 a second (common practice, no source).
	holeTime = Second / 2
	// zeroOutput: an output up to this counts as zero. A thousandth is the last
	// place that many bridges send (common practice, no source).
	zeroOutput = 0.001
	// gravity is standard gravity, m/s^2 (ISO 2533:1975; from memory).
	gravity = 9.80665
	// airDensity at sea level, kg/m^3 (ISO 2533:1975; constants from memory).
	airDensity = 1.2250
	// hair absorbs the rounding of sums like 0.06 + 0.10: a value at its limit
	// is not over it.
	hair = 1e-9
)

// over reports whether v lies beyond its limit, not at it.
func over(v, limit float64) bool { return v > limit+hair }

// confirm counts successive samples that say the same, so that one odd sample
// of a fast stream rings nothing.
type confirm struct {
	count int
	first int64 // engine time of the first of them
}

// see takes what one sample says.
func (c *confirm) see(so bool, at int64) {
	if !so {
		*c = confirm{}
		return
	}
	if c.count == 0 {
		c.first = at
	}
	c.count++
}

// met reports whether enough samples of the stream have said so.
func (c *confirm) met(now int64, s *Stream) bool {
	if c.count != 1 {
		return c.count > 1
	}
	rate := s.Rate()
	return rate > 0 && rate < fastPace || now-c.first >= confirmBy
}

// thrustOver reports whether the motors are driven beyond armed idle, with a
// margin over idle_ready, or over bare where no idle is known. What is not
// known counts as driven.
func thrustOver(b *Bench, margin, bare float64) bool {
	limit := bare
	if b.IdleReady.OK {
		limit = b.IdleReady.V + margin
	}
	if v, ok := b.MeanOut(); ok {
		return over(v, limit)
	}
	if b.Thr.OK {
		return over(b.Thr.V, limit)
	}
	if b.Stick[0].OK {
		return over(b.Stick[0].V, limit)
	}
	return true
}

// anyOutput reports whether some motor is driven at all, one that the craft does not
// count too.
func anyOutput(b *Bench) bool {
	for i := range b.Out {
		if b.Out[i].OK && over(b.Out[i].V, zeroOutput) {
			return true
		}
	}
	return false
}

// polePairs is how many electrical turns make one of the shaft. Where the
// craft does not say, 14 poles are taken: the most common count on multirotors
// (common practice, no source); only thresholds for "standing" depend on it.
func polePairs(b *Bench) float64 {
	if b.Craft.Poles >= 2 {
		return float64(b.Craft.Poles) / 2
	}
	return 7
}
