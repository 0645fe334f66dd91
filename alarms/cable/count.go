package cable

import (
	"fmt"

	"tetherbell/decode"
)

const (
	// countLines that do not follow the last one by one are looked at together;
	// countLasts such lots in a row must agree.
	countLines = 256
	countLasts = 3
	// countShare of all lines count in that way; of a count for each tag, those do
	// that follow a line of another tag.
	countNum, countDenom = 9, 10
	tagsNum, tagsDenom   = 19, 20
	tagsLeast            = 8 // one in so many follows a line of another tag
	// stepMost lines that one count skips each time: more were lost.
	stepMost = 16
	// twice is how often a boot number changes, or a tag is behind, before that is
	// how the bridge writes.
	twice = 2
)

// A counting looks how a bridge counts that does not count as it should. Sound
// lines never come here.
type counting struct {
	from    uint64 // good lines before these
	odd     int    // that do not follow the last one by one
	own     int    // of them, those that follow the last one of their tag by one
	still   int    // that have the count of the last one
	down    int    // that have one less
	stepped int    // that are further by step
	step    uint16
	row     int
	as      form
	held    uint64
}

// miscount takes a good line whose count is so far after the last line's, and so
// far after the last one of its tag.
func (w *Watch) miscount(ahead, own uint16) {
	c := &w.counting
	if c.odd == 0 {
		c.from = w.heard - 1
	}
	c.odd++
	switch {
	case own == 1:
		c.own++
	case ahead == 0:
		c.still++
	case ahead == 1<<16-1:
		c.down++
	case ahead == c.step:
		c.stepped++
	default:
		c.step = ahead
	}
	if c.odd < countLines {
		return
	}
	lines := w.heard - c.from
	f := c.judge(lines)
	if f == formNone || f != c.as {
		c.row, c.held = 0, 0
	}
	c.row, c.held = c.row+1, c.held+lines
	*c = counting{step: c.step, row: c.row, held: c.held, as: f}
	if f != formNone && c.row >= countLasts {
		w.always(f, c.held)
		c.held = 0
	}
}

// judge tells how some lines were counted.
func (c *counting) judge(lines uint64) form {
	most := func(n int) bool { return uint64(n)*countDenom >= lines*countNum }
	switch {
	case c.own*tagsDenom >= c.odd*tagsNum && uint64(c.odd)*tagsLeast >= lines:
		return countTags
	case most(c.still):
		return countStill
	case most(c.down):
		return countDown
	case most(c.stepped) && c.step >= 2 && c.step <= stepMost:
		return countBy
	}
	return formNone
}

// A back is a step back of the bridge's clock while its count went on: what it
// is, the next line shows.
type back struct {
	open   bool
	tag    decode.Tag
	by     int64 // us
	kind   Kind
	figure float64
}

// steppedBack notes such a step, and what it is unless the next line is where the
// clock was before.
func (w *Watch) steppedBack(tag decode.Tag, by int64, k Kind, figure float64) {
	w.back = back{open: true, tag: tag, by: by, kind: k, figure: figure}
}

// behind takes the line after a step back. Where that one has the time of before
// again, the clock did not step: the line was stamped behind the others.
func (w *Watch) behind(tag decode.Tag, ahead uint16, dt int64) bool {
	b := &w.back
	off := dt - b.by
	if ahead != 1 || tag == b.tag || 4*dt < 3*b.by || off > behindOff || off < -behindOff {
		w.closeBack()
		return false
	}
	b.open = false
	w.late.tag, w.late.by = b.tag, b.by
	w.habitual(b.kind, formBehind)
	return true
}

// behindOff is how far the lines around one that is behind may lie apart.
const behindOff = 50_000 // us

// closeBack tells of a step back that was one.
func (w *Watch) closeBack() {
	if w.back.open {
		w.back.open = false
		w.see(w.back.kind).figure = w.back.figure
	}
}

// habitual takes what is of a kind, unless it comes again and is a form.
func (w *Watch) habitual(k Kind, f form) {
	w.wrote(f)
	if w.habit(f) {
		w.miswrote(f, 1)
		w.own(f)
		return
	}
	w.hold(k, f)
}

// countText words the forms of this file.
func (w *Watch) countText(f form) string {
	switch f {
	case countBy:
		return fmt.Sprintf("whose counts go by %d each time", w.counting.step)
	case formBehind:
		return fmt.Sprintf("of %s that are stamped %d ms behind the others", w.late.tag, (w.late.by+5_000)/10_000*10)
	}
	return forms[f].text
}
