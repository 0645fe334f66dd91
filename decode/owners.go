package decode

import "math/bits"

// MaxBridges is the most bridges that are heard together.
const MaxBridges = 4

// Times of the host's clock, microseconds, by which a tag passes on.
const (
	// passAfter is how long its owner must have talked without sending it, while
	// another has sent it: long enough for a stream that starts late after a restart
	// to be there, short enough for two cables that were swapped to be put up with.
	passAfter = 2_000_000
	// passPeriods: a tag that comes seldom is missed by its own pace.
	passPeriods = 5
	// passOther is passAfter for tags that come when there is something to say; a
	// bridge tells of its craft each ten seconds.
	passOther = 30_000_000
	// talkGap: a bridge talks whose lines lie no further apart; it says hello once a
	// second. One that is silent for longer has stopped talking and begins anew.
	talkGap = 1_200_000
)

// Owners decides, where several bridges are heard, whose lines of a tag are
// taken: two series of one kind, laid into each other, would be neither. A tag
// belongs to the bridge that sent it first. It passes on where that one talks
// and does not send it any more while another does, as where two cables were
// swapped; what a silent bridge sent passes on to nobody. hello, set and note are
// taken from all. It depends on the lines, their order and the host's times that
// are recorded with them alone. The zero value is ready.
type Owners struct {
	of   [TagCount]uint8 // its bridge, from 1; 0: nobody's
	also [TagCount]uint8 // who else has sent it since it is that one's, a bit each from 1 << 1 on

	begun bool
	host  int64 // as last handed in
	now   int64 // the same without its steps back

	talks [MaxBridges + 1]talk
	tags  [TagCount]tagTimes
}

// A talk tells since when a bridge has talked, and when it last did.
type talk struct {
	begun       bool
	since, last int64
}

// A tagTimes tells how a tag comes.
type tagTimes struct {
	sent, pace  int64 // when its owner last sent it, and the time between two of them, smoothed
	heir        uint8 // who sends it since then, from 1; 0: nobody
	since, last int64 // when that one began, and last did
}

// News are what there is to be told of a line's tag.
type News uint8

// The kinds of News.
const (
	NoNews News = iota
	Shared      // this bridge sends what is another's, for the first time
	Passed      // from here on the tag is this bridge's
)

// Take takes a good line of a bridge, from 1, in a piece that was read at a time of
// the host's clock, microseconds. A line whose tag belongs to another becomes one of
// no known tag, which names it: it counts as a line, and its seq and time tell of the
// link. owner is whose the tag is, or was until it passed on with this line.
func (o *Owners) Take(bridge int, hostUS int64, s *Sample) (news News, owner int) {
	if bridge < 1 || bridge > MaxBridges {
		return NoNews, 0
	}
	o.passes(hostUS)
	n := uint8(bridge)
	o.talks[n].line(o.now)
	switch s.Tag {
	case Unknown, Hello, Set, Note:
		return NoNews, 0
	}
	t := &o.tags[s.Tag]
	switch of := o.of[s.Tag]; of {
	case n:
	case 0:
		o.of[s.Tag] = n
	default:
		owner = int(of)
		if !o.comes(s.Tag, n) {
			if o.also[s.Tag]&(1<<n) == 0 {
				news = Shared
			}
			o.also[s.Tag] |= 1 << n
			*s = Sample{Seq: s.Seq, Time: s.Time, Aside: s.Tag}
			return news, owner
		}
		o.of[s.Tag], o.also[s.Tag], *t = n, 0, tagTimes{}
		news, s.Passed = Passed, true
	}
	switch gap := o.now - t.sent; {
	case t.sent == 0 || gap == 0: // the first, or one of the same piece
	case t.pace == 0:
		t.pace = gap
	default:
		t.pace += (gap - t.pace) / 8
	}
	t.sent, t.heir = o.now, 0
	return news, owner
}

// passes takes the host's clock, whose steps back are no time.
func (o *Owners) passes(host int64) {
	if !o.begun {
		o.begun, o.host, o.now = true, host, 1
	}
	o.now += max(0, host-o.host)
	o.host = host
}

func (t *talk) line(now int64) {
	if !t.begun || now-t.last > talkGap {
		t.begun, t.since = true, now
	}
	t.last = now
}

// comes takes a line of a tag from another bridge than its owner, and reports
// whether it passes on to that one. The owner must have talked, and that one sent
// it, for long enough since the owner last sent it.
func (o *Owners) comes(tag Tag, n uint8) bool {
	t, owner := &o.tags[tag], &o.talks[o.of[tag]]
	most := int64(passOther)
	if tag >= Axes && tag <= State {
		most = max(passAfter, min(passPeriods*t.pace, passOther))
	}
	if t.heir == 0 || t.heir != n && o.now-t.last > most {
		t.heir, t.since, t.last = n, o.now, o.now
	}
	if t.heir != n {
		return false
	}
	if o.now-t.last > most {
		t.since = o.now
	}
	t.last = o.now
	return o.now-t.since >= most && owner.begun && o.now-owner.last <= talkGap &&
		owner.last-max(t.sent, owner.since) >= most
}

// Settled is who owns what, without what else was sent and when: for lines of the
// midst of a recording whose beginning is known.
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
