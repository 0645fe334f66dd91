package detect

// frozenNews tells what hangs from what begins to hang beside it: the next
// happening is heard although the first was acknowledged.
type frozenNews struct {
	was   Where // place of the last finding
	from  int64 // when that place last took on a field
	began int64 // since when the newest of it stands
	first int64 // since when a fresh field waits for those that began with it, 0 none does
	turn  uint8 // of the happenings: one more for each
}

// look brings the place of a stream up to date with the fields that hang now,
// and reports whether one of them is a new happening: a field that is not named
// yet, or one that has moved since it was.
func (s *frozenStream) look(k int, least int64) bool {
	n := &s.news
	fields, whole := s.find(least)
	fresh, began := uint16(0), int64(0)
	for i := range s.part {
		if bit := uint16(1) << uint(i); fields&bit != 0 && s.fresh(i) {
			fresh |= bit
			began = max(began, s.part[i].since)
		}
	}
	if fresh == 0 {
		n.first = 0
		return false
	}
	if s.waits(fields, began) {
		if n.first == 0 {
			n.first = s.at
		}
		if s.at-n.first < joinAfter {
			return false
		}
	}
	s.which = whole && s.place == 0
	for i := range s.part {
		if s.fresh(i) { // what has moved again is named no more
			s.place &^= 1 << uint(i)
		}
	}
	s.place |= fields
	s.mask = frozenPlace(frozenStreams[k].tag, s.place)
	is := began > n.from || s.mask != n.was
	*n = frozenNews{was: s.mask, from: s.at, began: began, turn: n.turn}
	return is
}

// fresh reports whether a field is not of the finding, or has moved since.
func (s *frozenStream) fresh(i int) bool {
	return s.place&(1<<uint(i)) == 0 || s.part[i].since > s.news.from
}

// waits reports whether another field stands since the same moment, but not yet
// for long enough: both are one happening.
func (s *frozenStream) waits(fields uint16, began int64) bool {
	for i := range s.part {
		p := &s.part[i]
		if fields&(1<<uint(i)) == 0 && s.fresh(i) && p.alive() && p.run > 0 && together(p.since, began) {
			return true
		}
	}
	return false
}

func together(a, b int64) bool { return max(a-b, b-a) <= joinAfter }

// arrive makes a new happening of a stream that hangs at a place, for all that
// hang there, unless it began together with one of them.
func (d *frozenSensor) arrive(s *frozenStream) {
	for k := range d.s {
		o := &d.s[k]
		if o != s && o.mask == s.mask && together(o.news.began, s.news.began) {
			s.news.turn = o.news.turn
			return
		}
	}
	d.turn++
	for k := range d.s {
		if n := &d.s[k].news; n.was == s.mask {
			n.turn = d.turn
		}
	}
}

// lead returns the stream that has hung longest at a place, -1 where none does.
func (d *frozenSensor) lead(w Where) int {
	best := -1
	for k := range d.s {
		if s := &d.s[k]; s.mask == w && (best < 0 || s.span() > d.s[best].span()) {
			best = k
		}
	}
	return best
}

// span returns for how many seconds what was found has stood.
func (s *frozenStream) span() float64 { return float64(s.at-s.since()) / float64(Second) }
