package runcard

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// A reading is of now while it is no older than so many times as long as it
// usually takes from one to the next, and than freshLeast where they come fast.
// freshFirst holds while a stream's pace is not known yet: half as long again as
// the gap of the slowest, one line a second (common practice, no source).
const (
	freshTimes = 3
	freshLeast = detect.Second / 2
	freshFirst = 3 * detect.Second / 2
)

// usualGap is the age up to which a stream's newest line is of now; first holds
// where its pace is not known yet.
func usualGap(s *detect.Stream, first int64) int64 {
	if s.Period <= 0 {
		return first
	}
	return max(freshTimes*int64(s.Period), freshLeast)
}

// fresh reports whether what was measured at a time is of now.
func fresh(b *detect.Bench, tag decode.Tag, at int64) bool {
	s := &b.Streams[tag]
	return s.Count > 0 && b.Now-at <= usualGap(s, freshFirst)
}

// ofNow is a reading that counts as not measured once it is old.
func ofNow(b *detect.Bench, tag decode.Tag, v detect.Reading) detect.Reading {
	v.OK = v.OK && fresh(b, tag, v.At)
	return v
}

func outNow(b *detect.Bench, motor int) detect.Reading   { return ofNow(b, decode.Out, b.Out[motor]) }
func speedNow(b *detect.Bench, motor int) detect.Reading { return ofNow(b, decode.ERPM, b.ERPM[motor]) }
func stickNow(b *detect.Bench, stick int) detect.Reading {
	return ofNow(b, decode.State, b.Stick[stick])
}
func loadNow(b *detect.Bench) detect.Reading { return ofNow(b, decode.Load, b.Load) }

// armedNow is whether the craft is armed, unknown once the last word is old.
func armedNow(b *detect.Bench) detect.Tri { return triNow(b, b.Armed) }

// stoppedNow is the same of the stop switch.
func stoppedNow(b *detect.Bench) detect.Tri { return triNow(b, b.Stopped) }

func triNow(b *detect.Bench, v detect.Tri) detect.Tri {
	if !fresh(b, decode.State, b.Streams[decode.State].Last) {
		return detect.Unknown
	}
	return v
}
