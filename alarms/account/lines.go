package account

import "tetherbell/decode"

// lines counts what came, by tag.
type lines struct {
	tags       [decode.TagCount]tagLines
	causes     [decode.CauseCount]uint64
	unrecorded uint64
}

type tagLines struct {
	count       uint64
	last        int64
	begun       bool // a line has come since the start or a restart
	longest     int64
	span, steps int64 // time from line to line, and how many such, holes left out
}

// holeOf: a line later than so many periods was preceded by a hole, which says
// nothing of the pace.
const holeOf = 4

func (l *lines) take(tag decode.Tag, at int64) {
	t := &l.tags[tag]
	t.count++
	if !t.begun {
		t.begun, t.last = true, at
		return
	}
	d := at - t.last
	if d <= 0 {
		return
	}
	t.last = at
	t.longest = max(t.longest, d)
	if t.steps < 16 || d*t.steps < holeOf*t.span {
		t.span += d
		t.steps++
	}
}

// restart: the time until the bridge spoke again is silence of the link.
func (l *lines) restart() {
	for i := range l.tags {
		l.tags[i].begun = false
	}
}

// period of a stream, microseconds, 0 not known.
func (l *lines) period(tag decode.Tag) float64 {
	t := &l.tags[tag]
	if t.steps == 0 {
		return 0
	}
	return float64(t.span) / float64(t.steps)
}

func (l *lines) account(c *Collector, out *Link) {
	b := c.bench
	*out = Link{
		Lines: b.Link.Good, Bad: b.Link.Bad, Lost: b.Link.Lost, Causes: map[string]uint64{},
		Unrecorded: l.unrecorded, Restarts: c.f.Restarts(), LongestS: seconds(c.spans.longest), Streams: []Stream{},
	}
	if all := out.Lines + out.Bad + out.Lost; all > 0 {
		out.Share = float64(out.Bad+out.Lost) / float64(all)
	}
	if b.Now > 0 {
		out.BytesPerS = float64(b.Link.Bytes) / (float64(b.Now) / 1e6)
	}
	for cause, n := range l.causes {
		if n > 0 {
			out.Causes[decode.Cause(cause).String()] = n
		}
	}
	for tag := range decode.TagCount {
		t := &l.tags[tag]
		if t.count == 0 {
			continue
		}
		s := Stream{Tag: tag.String(), Lines: t.count, LongestS: seconds(t.longest)}
		switch p := l.period(tag); {
		case irregular(tag): // they come when there is something to say
			if b.Now > 0 {
				s.PerS = float64(t.count) / (float64(b.Now) / 1e6)
			}
		case p > 0:
			s.PerS = 1e6 / p
		}
		out.Streams = append(out.Streams, s)
	}
}

// irregular reports whether lines of a tag come when there is something to say,
// not by the clock.
func irregular(tag decode.Tag) bool {
	switch tag {
	case decode.Unknown, decode.Craft, decode.Set, decode.Note:
		return true
	}
	return false
}
