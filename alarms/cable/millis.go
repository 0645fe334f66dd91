package cable

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
	row    int // stretches in a row that were too slow by a thousand
	held   int64
}

// line takes a good line, and reports how many are in milliseconds, as far as is
// known now.
func (m *millis) line(dt int64, size int, host int64) (proven int64) {
	m.bridge += max(dt, 0)
	m.bytes += int64(size)
	if m.lines++; host != noHost && m.host != noHost && host-m.host < millisFor {
		return 0
	}
	return m.stretch(host)
}

// stretch looks at a stretch that may be over.
func (m *millis) stretch(host int64) (proven int64) {
	slow := false
	switch {
	case host != noHost && m.host == noHost:
		*m = millis{host: host}
		return 0
	case host != noHost:
		took := host - m.host
		if took < millisFor {
			return 0
		}
		slow = m.lines >= millisLeast && took > slowFrom*m.bridge && took < slowTo*m.bridge
	default:
		if m.lines < millisLines {
			return 0
		}
		slow = m.bridge > 0 && m.bytes*1_000_000 > fastestWire*m.bridge
	}
	m.held += m.lines
	if m.row++; !slow {
		m.row, m.held = 0, 0
	}
	m.host, m.bridge, m.bytes, m.lines = host, 0, 0, 0
	if m.row < millisLasts {
		return 0
	}
	proven, m.held = m.held, 0
	return proven
}
