package alarms

import (
	"slices"
	"strconv"

	"tetherbell/alarms/detect"
)

// A Summary tells a session in numbers.
type Summary struct {
	Lines, Bad, Lost uint64
	Duration         int64                    // engine time of the last good line
	Raised           [detect.KindCount]uint64 // how often each alarm was raised
	NotWatched       []Lack
	Disagree         []string        // where craft file and bridge differ, a sentence each
	Worst            detect.Priority // the highest priority any alarm ever had
	Last             State           // as the newest lines told it
}

// Summary tells the session so far.
func (e *Engine) Summary() Summary {
	l := e.bench.Link
	s := Summary{
		Lines: l.Good, Bad: l.Bad, Lost: l.Lost, Duration: e.lastGood,
		Last:   e.State(),
		Raised: e.life.raised, Worst: e.life.worst,
		NotWatched: slices.Concat(e.stood(), e.blindTime(), e.cover.whole(), e.cover.absent(), doubted(&e.bench), e.mute()), Disagree: disagreements(&e.bench),
	}
	return s
}

// AppendJSON writes the summary as one JSON object without a line end.
func (s *Summary) AppendJSON(dst []byte, file string) []byte {
	dst = append(dst, `{"summary":{"file":`...)
	dst = appendString(dst, file)
	for _, c := range []struct {
		name string
		n    uint64
	}{{"lines", s.Lines}, {"bad", s.Bad}, {"lost", s.Lost}} {
		dst = append(dst, `,"`...)
		dst = append(dst, c.name...)
		dst = append(dst, `":`...)
		dst = strconv.AppendUint(dst, c.n, 10)
	}
	dst = append(dst, `,"duration_s":`...)
	dst = strconv.AppendFloat(dst, float64((s.Duration+500)/1000)/1000, 'f', -1, 64)
	dst = append(dst, `,"alarms":{`...)
	comma := false
	for k, n := range s.Raised {
		if n == 0 {
			continue
		}
		if comma {
			dst = append(dst, ',')
		}
		comma = true
		dst = appendString(dst, detect.Kind(k).String())
		dst = append(dst, ':')
		dst = strconv.AppendUint(dst, n, 10)
	}
	dst = append(dst, `},"not_watched":{`...)
	for i, l := range s.NotWatched {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = appendString(dst, l.Name)
		dst = append(dst, ':')
		dst = appendString(dst, l.Why)
	}
	return append(dst, `}}}`...)
}
