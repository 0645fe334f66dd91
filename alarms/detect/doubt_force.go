package detect

import (
	"math"

	"tetherbell/decode"
)

const (
	// A craft at rest feels gravity and nothing else: 9.78 to 9.83 m/s^2 anywhere
	// on the ground (the Earth's field). forceLow and forceHigh leave room for a
	// sensor that is off by a quarter, more than any that was calibrated once
	// (common practice, no source). In g it is 1, in cm/s^2 or mg no line is taken.
	forceLow, forceHigh = 7.0, 12.0
	// A mean over forceBin, of forceFew lines or more, forceLooks running: the
	// shake of rotors that run out is gone from it, and nobody who carries a craft
	// makes or takes away a quarter of gravity for two seconds.
	forceBin   = Second / 2
	forceFew   = 10
	forceLooks = 4
)

// forceOdd is why the values of accel are not to be believed; forceUp is a
// question alone: a craft may well lie on its back.
const (
	forceOdd = "no gravity of 9.8 m/s^2 in accel at rest: are its values in m/s^2?"
	forceUp  = "accel has z at about +9.8 at rest: does its z point up, or does the craft lie upside down? Level it is -9.8"
)

// forceSense finds gravity in specific force while the craft rests, disarmed.
type forceSense struct {
	slot           int64
	sum            [3]float64
	lines          int
	spoilt         bool // the craft moved, or was driven
	odd, well, ups int  // bins running that say so
	level          bool // it was seen so: z points down, however the craft lies later
}

func (s *forceSense) see(b *Bench, tag decode.Tag, at int64) {
	if tag != decode.Accel {
		return
	}
	if slot := at / forceBin; slot > s.slot {
		s.look(b)
		s.slot, s.sum, s.lines, s.spoilt = slot, [3]float64{}, 0, false
	}
	s.spoilt = s.spoilt || b.Armed != No || anyOutput(b)
	for i := range b.Force {
		turns := b.Rate[i].OK && math.Abs(b.Rate[i].V) > windTurn
		s.spoilt = s.spoilt || turns || !b.Force[i].OK
		s.sum[i] += b.Force[i].V
	}
	s.lines++
}

// look weighs the bin that has ended.
func (s *forceSense) look(b *Bench) {
	if s.spoilt || s.lines < forceFew {
		s.odd, s.well, s.ups = 0, 0, 0
		return
	}
	n := float64(s.lines)
	x, y, z := s.sum[0]/n, s.sum[1]/n, s.sum[2]/n
	all := math.Sqrt(x*x + y*y + z*z)
	next := func(count *int, so bool) bool {
		if *count = min(*count+1, forceLooks); !so {
			*count = 0
		}
		return *count == forceLooks
	}
	fits := all >= forceLow && all <= forceHigh
	if next(&s.odd, !fits) {
		b.Doubt[decode.Accel] = forceOdd
	}
	if next(&s.well, fits) {
		b.Doubt[decode.Accel] = ""
	}
	s.level = s.level || fits && z <= -forceLow
	b.Asks = ""
	if next(&s.ups, fits && z >= forceLow) && !s.level {
		b.Asks = forceUp
	}
}
