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
// are recorded with them alone. A bridge is told by its clock, at whatever port it
// is plugged in: what it sent comes from there from its first line on. The zero value
// is ready.
type Owners struct {
	of   [TagCount]uint8       // its bridge, from 1; 0: nobody's
	also [TagCount]uint8       // who else has sent it since it is that one's, a bit each from 1 << 1 on
	at   [MaxBridges + 1]uint8 // which bridge is at a port; 0: the one of its own number
	home [MaxBridges + 1]uint8 // the port that a bridge was last heard at; 0: none
	port [TagCount]uint8       // the port that a tag was last taken from; 0: none
	runs [MaxBridges + 1]run   // the clock of each bridge

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
	Moved       // the bridge is another than before at this port: cables were swapped
)

// Take takes a good line of a port, from 1, in a piece that was read at a time of
// the host's clock, microseconds. A line whose tag belongs to another becomes one of
// no known tag, which names it: it counts as a line, and its seq and time tell of the
// link. owner is the port whose the tag is, or was until it passed on with this line;
// of a bridge that was moved the port that it was at before.
func (o *Owners) Take(port int, hostUS int64, s *Sample) (news News, owner int) {
	if port < 1 || port > MaxBridges {
		return NoNews, 0
	}
	o.passes(hostUS)
	if o.recognise(uint8(port), s); s.Held {
		o.hold(s)
		return NoNews, 0
	}
	n := o.who(uint8(port))
	if was := o.home[n]; was != 0 && int(was) != port {
		s.Moved, s.Carries = was, o.Carries(port)
	}
	o.home[n] = uint8(port)
	o.talks[n].line(o.now)
	news, owner = o.take(uint8(port), n, s)
	if s.Moved != 0 {
		return Moved, int(s.Moved)
	}
	return news, owner
}

// hold sets a line aside of which nobody knows whose it is.
func (o *Owners) hold(s *Sample) {
	switch s.Tag {
	case Unknown, Hello, Set, Note:
	default:
		*s = Sample{Seq: s.Seq, Time: s.Time, Aside: s.Tag, Held: true}
	}
}

// take takes a line of bridge n.
func (o *Owners) take(port, n uint8, s *Sample) (news News, owner int) {
	switch s.Tag {
	case Unknown, Hello, Set, Note:
		return NoNews, 0
	}
	t := &o.tags[s.Tag]
	switch of := o.of[s.Tag]; of {
	case n:
		s.Passed = o.port[s.Tag] != 0 && o.port[s.Tag] != port
	case 0:
		o.of[s.Tag] = n
	default:
		owner = o.where(of)
		if !o.comes(s.Tag, n) {
			if o.also[s.Tag]&(1<<n) == 0 {
				news = Shared
			}
			o.also[s.Tag] |= 1 << n
			*s = Sample{Seq: s.Seq, Time: s.Time, Aside: s.Tag, Moved: s.Moved, Carries: s.Carries}
			return news, owner
		}
		o.of[s.Tag], o.also[s.Tag], *t = n, 0, tagTimes{}
		news, s.Passed, s.Seems = Passed, true, true
	}
	o.port[s.Tag] = port
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

// Settled is who owns what, and is where, without what else was sent and when: for
// lines of the midst of a recording whose beginning is known.
func (o *Owners) Settled() Owners { return Owners{of: o.of, at: o.at} }

// Carries are the tags that are taken from a port, a bit each.
func (o *Owners) Carries(port int) (tags uint32) {
	n := o.who(uint8(port))
	for tag, of := range o.of {
		if of == n {
			tags |= 1 << tag
		}
	}
	return tags
}

// Also tells of a tag that a second bridge sends too: whose lines are taken, and
// who else sends them, the first of several, by their ports, from 1. ok is false
// where there is no such bridge.
func (o *Owners) Also(tag Tag) (owner, other int, ok bool) {
	if o.also[tag] == 0 {
		return o.where(o.of[tag]), 0, false
	}
	return o.where(o.of[tag]), o.where(uint8(bits.TrailingZeros8(o.also[tag]))), true
}
