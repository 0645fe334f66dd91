package alarms

import (
	"fmt"
	"math"
	"slices"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// mostOddTags is how many tags that are not known are told apart.
const mostOddTags = 8

// An OddTag counts the lines of a tag that is not known. Such a line is good, and
// may be one of a later version of the protocol; it may also be that whoever built
// the bridge has written a tag wrongly, and wonders why nothing is watched.
type OddTag struct {
	Name   string
	Meant  decode.Tag // one letter off; Unknown: nobody can tell
	First  int64      // engine microseconds
	Stream detect.Stream
}

// Asks asks for the tag that one letter makes of another, "" where none is.
func (o *OddTag) Asks() string {
	if o.Meant == decode.Unknown {
		return ""
	}
	return "is " + o.Meant.String() + " meant?"
}

// oddTags follow them.
type oddTags struct {
	all   []OddTag
	paces []pace
	came  []linePace
	rest  uint64 // lines of still other tags
}

// take takes a line of engine time at. What was set aside, for another bridge has
// the say, has no name: its tag is known.
func (o *oddTags) take(b *detect.Bench, s *decode.Sample, at int64) {
	if len(s.Word) == 0 || s.Aside != decode.Unknown {
		return
	}
	i := slices.IndexFunc(o.all, func(t OddTag) bool { return t.Name == string(s.Word) })
	switch {
	case i >= 0:
	case len(o.all) == mostOddTags:
		o.rest++
		return
	default:
		i = len(o.all)
		o.all = append(o.all, OddTag{Name: string(s.Word), Meant: meantTag(string(s.Word)), First: at})
		o.paces, o.came = append(o.paces, pace{}), append(o.came, linePace{})
		if t := &o.all[i]; t.Meant != decode.Unknown && b.Misnamed[t.Meant] == "" {
			b.Misnamed[t.Meant] = fmt.Sprintf("no %s lines, but %s: %s", t.Meant, t.Name, t.Asks())
		}
	}
	o.paces[i].take(&o.all[i].Stream, at)
	o.came[i].line(b.Now)
}

// meantTag is the tag that is one letter off.
func meantTag(name string) decode.Tag {
	var known []string
	for t := decode.Unknown + 1; t < decode.TagCount; t++ {
		known = append(known, t.String())
	}
	tag, _ := decode.TagNamed(craft.NearestWithin(name, known, 1))
	return tag
}

// OddTags tell of the tags that are not known, in the order in which they came, from
// one of them on, and count the lines of still others. It allocates nothing where
// there are none.
func (e *Engine) OddTags(from int) (all []OddTag, rest uint64) {
	o := &e.known.odd
	from = min(from, len(o.all))
	all = slices.Clone(o.all[from:])
	for i := range all {
		// What comes in heaps has no pace that could be learned: it is counted.
		if n := o.came[from+i].rate(e.bench.Now); n >= 5 && math.Abs(n-all[i].Stream.Rate()) > n/2 {
			all[i].Stream.Period = float64(detect.Second) / n
		}
	}
	return all, o.rest
}

// Came reports whether a line of a tag came, since its bridge last began anew.
func (e *Engine) Came(tag decode.Tag) bool { return e.bench.Streams[tag].Count > 0 }

// Misnamed is the tag under which lines of another that never come most likely do.
func (s *Snapshot) Misnamed(tag decode.Tag) (OddTag, bool) {
	for i := range s.Odd {
		if s.Odd[i].Meant == tag && tag != decode.Unknown && s.Streams[tag].Count == 0 {
			return s.Odd[i], true
		}
	}
	return OddTag{}, false
}
