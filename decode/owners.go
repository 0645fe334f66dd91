package decode

import "math/bits"

// MaxBridges is the most bridges that are heard together.
const MaxBridges = 4

// Owners decides, where several bridges are heard, whose lines of a tag are
// taken: two series of one kind, laid into each other, would be neither. A tag
// belongs to the bridge that sent it first, and does not pass to another. hello,
// set and note are taken from all. The zero value is ready.
type Owners struct {
	of   [TagCount]uint8 // its bridge, from 1; 0: nobody's
	also [TagCount]uint8 // who else has sent it, a bit each from 1 << 1 on
}

// Take takes a good line of a bridge, from 1. A line whose tag belongs to
// another becomes one of no known tag: it counts as a line, and its seq and time
// tell of the link. news is true with the first of them from each bridge.
func (o *Owners) Take(bridge int, s *Sample) (news bool) {
	switch s.Tag {
	case Unknown, Hello, Set, Note:
		return false
	}
	n := uint8(bridge)
	switch of := &o.of[s.Tag]; *of {
	case n:
		return false
	case 0:
		*of = n
		return false
	}
	news = o.also[s.Tag]&(1<<n) == 0
	o.also[s.Tag] |= 1 << n
	*s = Sample{Seq: s.Seq, Time: s.Time}
	return news
}

// Settled is who owns what, without what else was sent: for lines of the midst
// of a recording whose beginning is known.
func (o *Owners) Settled() Owners { return Owners{of: o.of} }

// Also tells of a tag that a second bridge sends too: whose lines are taken, and
// who else sends them, the first of several, from 1. ok is false where there is no
// such bridge.
func (o *Owners) Also(tag Tag) (owner, other int, ok bool) {
	if o.also[tag] == 0 {
		return int(o.of[tag]), 0, false
	}
	return int(o.of[tag]), bits.TrailingZeros8(o.also[tag]), true
}
