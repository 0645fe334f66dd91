package dashboard

import (
	"time"

	"tetherbell/alarms/detect"
)

// Flashing of the banner, after IEC 60601-1-8 as a published pattern (rates
// and the high duty from secondary sources, the medium duty from memory): high
// 1.4 to 2.8 Hz, medium 0.4 to 0.8 Hz, each lit for 20 to 60 % of the time;
// low is steady. Both stay under the three flashes a second of WCAG SC 2.3.1
// (from memory). The words can be read in either half.
const (
	highFlash   = 500 * time.Millisecond  // 2 Hz
	mediumFlash = 1600 * time.Millisecond // 0.625 Hz
	flashDuty   = 0.5
)

// flashPeriod is how long a priority's flash takes; 0 where it is steady.
func flashPeriod(p detect.Priority) time.Duration {
	switch {
	case p >= detect.High:
		return highFlash
	case p == detect.Medium:
		return mediumFlash
	}
	return 0
}

// lit tells whether a flash that began so long ago is in its bright half. It
// begins with it: an alarm that has just come is seen at once.
func lit(p detect.Priority, since time.Duration) bool {
	period := flashPeriod(p)
	if period == 0 || since < 0 {
		return true
	}
	return since%period < time.Duration(flashDuty*float64(period))
}

// leastFlash is the least time from one lighting up to the next: what comes
// and goes with every picture flashes no faster than three times a second.
const leastFlash = 400 * time.Millisecond

// flash follows the banner: a new priority begins a new flash. What stands
// still stays lit.
func (b *board) flash(bul *bulletin, still bool) bool {
	level := detect.None
	if bul.filled && bul.flashing {
		level = bul.level
	}
	now := b.now()
	if level != b.flashing {
		b.flashing, b.flashSince = level, now
	}
	b.turnAt.Store(0)
	since := now.Sub(b.flashSince)
	bright := still || lit(level, since)
	if half := time.Duration(flashDuty * float64(flashPeriod(level))); half > 0 && !still {
		b.turnAt.Store(now.Add(half - since%half).UnixNano())
	}
	was := b.bright
	b.bright = bright && bul.filled
	switch {
	case was || !b.bright:
	case now.Sub(b.litAt) < leastFlash:
		b.bright, bright = false, false
		b.turnAt.Store(b.litAt.Add(leastFlash).UnixNano())
	default:
		b.litAt = now
	}
	return bright
}

// turned tells, from any goroutine, whether the flash has turned since it was
// drawn. Both halves are of one length.
func (b *board) turned() bool {
	at := b.turnAt.Load()
	return at != 0 && time.Now().UnixNano() >= at
}
