package main

import (
	"fmt"

	"tetherbell/alarms"
	"tetherbell/decode"
)

// oddTags are what the desk tells of lines that are good and not, or not all of
// them, known.
type oddTags struct {
	told int // tags that are not known, of those that the engine tells apart
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

// isOdd reports whether the bytes of a good line are looked at, for some of its
// fields are not known.
func isOdd(tag decode.Tag, line []byte) bool {
	n, _ := decode.Surplus(tag, line)
	return n > 0
}

// tellOddTags tells of the first line of each tag that is not known.
func (d *desk) tellOddTags() {
	all, _ := d.eng.OddTags(d.oddTags.told)
	for _, o := range all {
		d.oddTags.told++
		if d.ailing != nil {
			text := d.ofCable(d.many.from-1) + fmt.Sprintf("tag %s is not known%s: its lines are ignored", o.Name, inBrackets(o.Asks()))
			d.ailing(d.eng.Now(), "line", text, "line: "+text)
		}
	}
}

func inBrackets(text string) string {
	if text == "" {
		return ""
	}
	return " (" + text + ")"
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

// misnamedLines word of the tags that most likely were meant for others what was
// lost by it, and what to do: all that is not watched for it follows.
func (d *desk) misnamedLines() (out []string) {
	all, _ := d.eng.OddTags(0)
	for i := range all {
		if o := &all[i]; d.misnamed(o) {
			out = append(out, fmt.Sprintf("  %s: %s %s of that tag came from %.1f s on, ignored, and none of %s; first: have the bridge name them %s",
				o.Name, o.Asks(), countedLines(o.Stream.Count), float64(o.First)/1e6, o.Meant, o.Meant))
		}
	}
	return out
}

// misnamed reports whether no line of the tag that was meant came.
func (d *desk) misnamed(o *alarms.OddTag) bool {
	return o.Meant != decode.Unknown && !d.eng.Came(o.Meant)
}

// oddTagLines word the others for a verdict, a line each.
func (d *desk) oddTagLines() (out []string) {
	all, rest := d.eng.OddTags(0)
	for i := range all {
		if o := &all[i]; !d.misnamed(o) {
			out = append(out, fmt.Sprintf("  ignored: %s of the tag %s, which is not known%s, first at %.1f s",
				countedLines(o.Stream.Count), o.Name, inBrackets(o.Asks()), float64(o.First)/1e6))
		}
	}
	if rest > 0 {
		out = append(out, fmt.Sprintf("  ignored: %s of still other tags", countedLines(rest)))
	}
	for t := range d.oddTags.more {
		if k := &d.oddTags.more[t]; k.count > 0 {
			out = append(out, fmt.Sprintf("  ignored: what is beyond the fields of %s, first at %.1f s: %s",
				countedLines(k.count), float64(k.first)/1e6, k.text(decode.Tag(t))))
		}
	}
	return out
}
