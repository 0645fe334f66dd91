package main

import (
	"fmt"
	"strings"

	"tetherbell/decode"
)

// maxWays is how many rows are kept of what comes from where: once for each two
// bridges, and some swaps.
const maxWays = 24

const (
	// wayJoins: what passes on so soon after the first tag of two bridges is of the
	// same swap; those that come seldom wait half a minute.
	wayJoins = 60_000_000 // engine microseconds
	// wayGathers is how long a row waits for further tags before it is told.
	wayGathers = 1_000_000 // us of the host's clock
)

// A wayRow is what is said of the lines of one port that were, or are, another's.
type wayRow struct {
	news        decode.News
	from, owner int    // the ports, from 1
	tags, said  uint32 // all, and those that were told, a bit each
	t           int64  // engine time of the first
	us          int64  // the host's time of the first that was not told
}

// A way is what a line brings of where tags come from. The zero value is nothing new.
type way struct {
	news  decode.News
	owner int    // the port, from 1
	tags  uint32 // a bit each
}

// own sets a line aside whose tag is another bridge's.
func (m *several) own(what lineKind, s *decode.Sample) way {
	if m.from == 0 || what != goodLine {
		return way{}
	}
	tags := uint32(1) << s.Tag
	news, owner := m.owners.Take(m.from, m.us, s)
	if news == decode.Moved {
		tags = s.Carries &^ (1 << decode.Unknown)
	}
	return way{news, owner, tags}
}

// heed notes what there is to be told of that. A recording says the same as the day.
// It reports whether another bridge is at this port, without the clocks saying so.
func (m *several) heed(w way) (swapped bool) {
	switch w.news {
	case decode.NoNews:
		return false
	case decode.Passed:
		m.passed(w.owner, w.tags)
	}
	return m.note(w.news, w.owner, w.tags) && w.news == decode.Passed
}

// note takes tags into the row that they belong to, and reports whether it is new.
func (m *several) note(news decode.News, owner int, tags uint32) (fresh bool) {
	t := int64(0)
	if m.now != nil {
		t = m.now()
	}
	for i := len(m.rows) - 1; i >= 0; i-- {
		r := &m.rows[i]
		if r.news == news && r.from == m.from && r.owner == owner && news != decode.Moved && (news == decode.Shared || t-r.t < wayJoins) {
			if r.tags == r.said {
				r.us = m.us
			}
			r.tags |= tags
			return false
		}
	}
	if len(m.rows) >= maxWays {
		m.untold++
		return true
	}
	m.rows = append(m.rows, wayRow{news: news, from: m.from, owner: owner, tags: tags, t: t, us: m.us})
	return true
}

// passed drops what was to be said of tags that were set aside until they passed on.
func (m *several) passed(owner int, tags uint32) {
	for i := range m.rows {
		if r := &m.rows[i]; r.news == decode.Shared && r.from == m.from && r.owner == owner {
			if r.tags &^= tags; r.tags == 0 {
				m.rows = append(m.rows[:i], m.rows[i+1:]...)
			}
			return
		}
	}
}

// tellWays tells what has come together by a time of the host's; all of it at the end.
func (m *several) tellWays(us int64, end bool) {
	if m.news == nil {
		return
	}
	for i := range m.rows {
		r := &m.rows[i]
		if fresh := r.tags &^ r.said; fresh != 0 && (end || us-r.us >= wayGathers) {
			r.said |= fresh
			m.news(r.text(m, fresh))
		}
	}
}

// text words a row.
func (r *wayRow) text(m *several, tags uint32) string {
	from, owner, names := m.name(r.from), m.name(r.owner), tagList(tags)
	switch r.news {
	case decode.Moved:
		return fmt.Sprintf("cables swapped at %.1f s: %s carries what %s did: %s; used from there on", float64(r.t)/1e6, from, owner, names)
	case decode.Passed:
		return fmt.Sprintf("cables swapped, it seems, at %.1f s: %s carries %s, which %s sends no more; used from there on", float64(r.t)/1e6, from, names, owner)
	}
	return fmt.Sprintf("%s also sends %s: what %s sends of it is used", from, names, owner)
}

// tagList names tags, a bit each.
func tagList(tags uint32) string {
	var names []string
	for tag := decode.Hello; tag < decode.TagCount; tag++ {
		if tags&(1<<tag) != 0 {
			names = append(names, tag.String())
		}
	}
	if len(names) == 0 {
		return "nothing that is used"
	}
	return strings.Join(names, ", ")
}
