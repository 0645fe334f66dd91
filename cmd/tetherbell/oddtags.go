package main

import (
	"bytes"
	"fmt"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// mostOddTags is how many tags that are not known are told apart.
const mostOddTags = 8

// oddTags count the lines whose tag is not known. Such a line is good, and may be
// one of a later version of the protocol; it may also be that whoever built the
// bridge has written a tag wrongly, and wonders why nothing is watched.
type oddTags struct {
	all  []oddTag
	rest uint64 // lines of still other tags
	more [decode.TagCount]moreFields
}

// moreFields count the lines of a tag that have more fields than it is known to
// have. A later version of the protocol may; a decimal comma makes such lines too.
type moreFields struct {
	count  uint64
	fields int   // of the first
	known  int   // of the tag
	first  int64 // engine microseconds
}

type oddTag struct {
	name  string
	count uint64
	first int64 // engine microseconds
}

// isOdd reports whether the bytes of a good line are looked at, for its tag or some
// of its fields are not known.
func isOdd(tag decode.Tag, line []byte) bool {
	n, _ := decode.Surplus(tag, line)
	return tag == decode.Unknown || n > 0
}

// keepOddTag counts a good line without a tag that is known, and tells of the
// first of each.
func (d *desk) keepOddTag(line []byte) {
	name := line[:max(0, bytes.IndexByte(line, ','))]
	o := &d.oddTags
	for i := range o.all {
		if o.all[i].name == string(name) {
			o.all[i].count++
			return
		}
	}
	if _, known := decode.TagNamed(string(name)); known || len(name) == 0 {
		return // another bridge's line, of a kind that is taken from one of them alone
	}
	if len(o.all) == mostOddTags {
		o.rest++
		return
	}
	o.all = append(o.all, oddTag{name: string(name), count: 1, first: d.eng.Now()})
	if d.ailing != nil {
		text := d.ofCable(d.many.from-1) + fmt.Sprintf("tag %s is not known%s: its lines are ignored", name, meantTag(string(name)))
		d.ailing(d.eng.Now(), "line", text, "line: "+text)
	}
}

// keepSurplus counts a good line that has more fields than are known, and tells of
// the first of each tag.
func (d *desk) keepSurplus(tag decode.Tag, line []byte) {
	n, known := decode.Surplus(tag, line)
	if n == 0 {
		return
	}
	k := &d.oddTags.more[tag]
	if k.count++; k.count > 1 {
		return
	}
	k.fields, k.known, k.first = n, known, d.eng.Now()
	if d.ailing != nil {
		text := d.ofCable(d.many.from-1) + k.text(tag) + " what is beyond is ignored"
		d.ailing(d.eng.Now(), "line", text, "line: "+text)
	}
}

// text asks what has made them.
func (k *moreFields) text(tag decode.Tag) string {
	known := "1 is"
	if k.known != 1 {
		known = fmt.Sprintf("%d are", k.known)
	}
	return fmt.Sprintf("%s: %d fields, %s known: decimal commas?", tag, k.fields, known)
}

// meantTag asks for the tag that one letter makes of another.
func meantTag(name string) string {
	var known []string
	for t := decode.Unknown + 1; t < decode.TagCount; t++ {
		known = append(known, t.String())
	}
	if best := craft.NearestWithin(name, known, 1); best != "" {
		return fmt.Sprintf(" (is %s meant?)", best)
	}
	return ""
}

// oddTagLines word them for a verdict, a line each.
func (d *desk) oddTagLines() (out []string) {
	for i := range d.oddTags.all {
		k := &d.oddTags.all[i]
		out = append(out, fmt.Sprintf("  ignored: %s of the tag %s, which is not known%s, first at %.1f s",
			countedLines(k.count), k.name, meantTag(k.name), float64(k.first)/1e6))
	}
	if n := d.oddTags.rest; n > 0 {
		out = append(out, fmt.Sprintf("  ignored: %s of still other tags", countedLines(n)))
	}
	for t := range d.oddTags.more {
		if k := &d.oddTags.more[t]; k.count > 0 {
			out = append(out, fmt.Sprintf("  ignored: what is beyond the fields of %s, first at %.1f s: %s",
				countedLines(k.count), float64(k.first)/1e6, k.text(decode.Tag(t))))
		}
	}
	return out
}
