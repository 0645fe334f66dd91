package dashboard

import (
	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// oldValues is how old a value may be before the screen says that it is old.
const oldValues = int64(alarms.StreamOld) // microseconds

// slowPeriods a stream may stay away before its values are old, the patience that
// alarms have with it (common practice, no source).
const slowPeriods = 5

// isOld tells whether the last values of a stream say nothing of now: it has
// stayed away, at its own pace, or nobody can hear it, since the port that it
// comes over is known to be lost.
func isOld(f *Frame, tag decode.Tag) bool {
	s := f.Snap
	st := &s.Streams[tag]
	if oldBench(f) || lostTags(f)&(1<<tag) != 0 {
		return true
	}
	age := s.T - st.Last
	return st.Count > 0 && age > max(oldValues, int64(slowPeriods*st.Period)) && (st.Period > 0 || age > listenTime)
}

// lostTags are the streams of bridges whose ports are known to be lost, a bit a tag.
func lostTags(f *Frame) (tags uint32) {
	for i := range f.Snap.Bridges {
		if i < len(f.Status.Bridges) && f.Status.Bridges[i].Lost {
			tags |= f.Snap.Bridges[i].Tags
		}
	}
	return tags
}

// lostTag is the first of them, those ahead that the alarms live on.
func lostTag(f *Frame) (decode.Tag, bool) {
	lost := lostTags(f)
	for _, tag := range [...]decode.Tag{decode.State, decode.Axes, decode.Out} {
		if lost&(1<<tag) != 0 {
			return tag, true
		}
	}
	for tag := decode.ERPM; tag < decode.State; tag++ {
		if lost&(1<<tag) != 0 {
			return tag, true
		}
	}
	return 0, false
}

// oldWord says that the values of a stream are old; empty when they are not.
func oldWord(f *Frame, tag decode.Tag) string {
	st := &f.Snap.Streams[tag]
	if st.Count == 0 || !isOld(f, tag) {
		return ""
	}
	return ": OLD, " + span(float64(f.Snap.T-st.Last)/1e6) + " ago"
}

// oldReach tells whether a distance to a limit is made of old values. Those of
// the link are of now: they tell how old the others are.
func oldReach(f *Frame, r *detect.Reach) bool {
	if r.Where == detect.Link {
		return false
	}
	if oldBench(f) {
		return true
	}
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if r.Kind.Measures(tag) && isOld(f, tag) {
			return true
		}
	}
	return false
}

// oldBench tells whether all that is known of the craft is of some time ago.
func oldBench(f *Frame) bool {
	return f != nil && f.Snap != nil && f.Snap.Lines > 0 && (f.Status.Lost || silentLong(f.Snap))
}

// silentLong tells of a whole line that has been silent for so long that nothing it
// said last is of now.
func silentLong(s *alarms.Snapshot) bool { return s.Lines > 0 && s.SilentUS >= oldValues }

// oldState tells whether what the craft says of itself is of some time ago:
// nobody knows whether it is armed. What has come no more since its bridge began
// anew, or comes from another bridge and is not used, is of before at once.
func oldState(s *alarms.Snapshot) bool {
	st, most := &s.Streams[decode.State], oldValues
	if st.Awaited || st.Aside > st.Last {
		most = silentAlready
	}
	return silentLong(s) || (st.Count > 0 || st.Awaited) && s.T-st.Last > most
}
