package cable

import "fmt"

const (
	// millisFor of the host's clock, or millisLines where there is none, tell
	// whether the bridge's clock goes by; millisLasts in a row must agree.
	millisFor   = 2_000_000 // us
	millisLeast = 20        // lines
	millisLines = 256
	millisLasts = 3
	// A bridge that writes milliseconds in the place of microseconds has a clock
	// that is slow by a thousand. Between these no clock is that runs at all.
	slowFrom, slowTo = 500, 2000
	// offLeast times too slow or too fast is no oscillator, of which the worst, RC
	// ones, are off by a tenth (common practice, no source): it is the unit of the
	// times. soundMost is a clock that goes as it should, give or take what ticks
	// that are 100 ms apart tell of two seconds. alike is how nearly stretches of
	// one factor agree: heaps and trickles do not.
	offLeast  = 1.3
	soundMost = 1.1
	alike     = 1.15
	// lossyMost: where more than one line in so many is lost, it is the way that
	// is slow, not the clock.
	lossyMost = 4
	// fastestWire, bytes a second: more than a USB port of full speed carries (its
	// 12 Mbit/s: USB 2.0 specification, chapter 5, from memory). Without a host's
	// clock, times by which more came are too short.
	fastestWire = 1_500_000
)

// A millis looks whether the bridge's times are microseconds at all.
type millis struct {
	host   int64 // of the stretch's beginning; noHost: there is none
	bridge int64 // microseconds that went by on the bridge
	bytes  int64
	lines  int64
	lost   int64
	row    int // stretches in a row that were off, by one factor
	held   int64
	sound  bool    // the clock went as it should, since the bridge began
	factor float64 // of the stretches in the row: bridge time over host time
}

// line takes a good line and how far bridge time went on, and reports how many
// are in another unit, as far as is known now, and in which form.
func (m *millis) line(dt int64, size, gap int, host int64) (proven int64, f form) {
	m.bridge += dt
	m.bytes += int64(size)
	m.lost += int64(gap)
	if m.lines++; host != noHost && m.host != noHost && host-m.host < millisFor {
		return 0, formNone
	}
	return m.stretch(host)
}

// stretch looks at a stretch that may be over.
func (m *millis) stretch(host int64) (proven int64, f form) {
	off := 0.0 // the factor, where there is one
	switch {
	case host != noHost && (m.host == noHost || host < m.host):
		*m = millis{host: host, sound: m.sound}
		return 0, formNone
	case host != noHost:
		if took := host - m.host; took < millisFor {
			return 0, formNone
		} else {
			off = m.ratio(took)
		}
	default:
		if m.lines < millisLines {
			return 0, formNone
		}
		if m.bridge > 0 && m.bytes*1_000_000 > fastestWire*m.bridge {
			off = 1.0 / 1000
		}
	}
	if off == 0 || m.row > 0 && (off > m.factor*alike || off < m.factor/alike) {
		m.row, m.held = 0, 0
	}
	if off != 0 {
		m.held += m.lines
		m.row++
		m.factor = off
	}
	m.host, m.bridge, m.bytes, m.lines, m.lost = host, 0, 0, 0, 0
	if m.row < millisLasts {
		return 0, formNone
	}
	proven, m.held = m.held, 0
	if m.factor*slowFrom < 1 && m.factor*slowTo > 1 {
		return proven, formMillis
	}
	return proven, formFactor
}

// ratio returns how fast bridge time went in a stretch of host time, 0 where that
// is as it should be or cannot be told.
func (m *millis) ratio(took int64) float64 {
	ratio := float64(max(m.bridge, 1)) / float64(took) // of a clock that stands still, too
	switch {
	case m.bridge < 0: // it began anew
		m.sound = false
	case ratio < soundMost && ratio > 1/soundMost:
		m.sound = true
	case m.sound, m.lines < millisLeast, lossyMost*m.lost > m.lines:
	case ratio > offLeast, ratio < 1/offLeast:
		return ratio
	}
	return 0
}

// text words the factor.
func (m *millis) text() string {
	way, by := "fast", m.factor
	if by < 1 {
		way, by = "slow", 1/by
	}
	if by > stillBy {
		return "whose times stand still"
	}
	if by < 9.95 {
		return fmt.Sprintf("whose times go by %.1f times too %s", by, way)
	}
	return fmt.Sprintf("whose times go by %.0f times too %s", by, way)
}

// stillBy times too slow is no clock: those that count seconds are slow by a
// million.
const stillBy = 1_500_000
