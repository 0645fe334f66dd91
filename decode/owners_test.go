package decode

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A speech is what a bridge sends from one time to another, milliseconds,
// with so much between two lines.
type speech struct {
	bridge   int
	tag      Tag
	from, to int64
	each     int64
}

// passing plays speeches, and tells when axes passed to which bridge.
func passing(all ...speech) (at []int64, to []int) {
	var o Owners
	for ms := int64(0); ms < 60_000; ms++ {
		for _, x := range all {
			if ms < x.from || ms >= x.to || (ms-x.from)%x.each != 0 {
				continue
			}
			s := Sample{Tag: x.tag}
			if news, _ := o.Take(x.bridge, ms*1000, &s); news == Passed && x.tag == Axes {
				at, to = append(at, ms), append(to, x.bridge)
			}
		}
	}
	return at, to
}

// A tag passes on where its owner talks without it while another sends it, and not
// else.
func TestTagsPassOn(t *testing.T) {
	const end = 60_000
	hello := func(bridge int, from, to int64) speech { return speech{bridge, Hello, from, to, 1000} }
	for _, c := range []struct {
		name   string
		all    []speech
		at, to int64 // about when it passes on, and to whom; 0: it does not
	}{
		{"swapped", []speech{{1, Axes, 0, 5000, 5}, {2, Load, 10, 5000, 20}, {2, Axes, 5000, end, 5}, {1, Load, 5003, end, 20}}, 7000, 2},
		{"swapped, the other says hello alone", []speech{{1, Axes, 0, 5000, 5}, hello(1, 0, end), hello(2, 0, end), {2, Axes, 5000, end, 5}}, 7000, 2},
		{"the owner is lost, and another sends it", []speech{{1, Axes, 0, 5000, 5}, hello(1, 0, 5000), {2, Axes, 10, end, 5}}, 0, 0},
		{"it comes back after long", []speech{{1, Axes, 0, 5000, 5}, {1, Load, 30_000, 30_500, 20}, {1, Axes, 30_500, end, 5}, {2, Axes, 10, end, 5}}, 0, 0},
		{"it comes back, and axes do not", []speech{{1, Axes, 0, 5000, 5}, {1, Load, 30_000, end, 20}, {2, Axes, 10, end, 5}}, 32_000, 2},
		{"a short gap of the stream", []speech{{1, Axes, 0, 5000, 5}, {1, Load, 0, end, 20}, {1, Axes, 6900, end, 5}, {2, Axes, 10, end, 5}}, 0, 0},
		{"nobody else sends it", []speech{{1, Axes, 0, 5000, 5}, {1, Load, 0, end, 20}, {2, Temp, 0, end, 1000}}, 0, 0},
		{"another begins to long after", []speech{{1, Axes, 0, 5000, 5}, {1, Load, 0, end, 20}, {2, Axes, 40_000, end, 5}}, 42_000, 2},
		{"another sends it now and then", []speech{{1, Axes, 0, 5000, 5}, {1, Load, 0, end, 20}, {2, Axes, 6000, end, 9000}}, 0, 0},
		{"two send it: the first", []speech{{1, Axes, 0, 5000, 5}, {1, Load, 0, end, 20}, {3, Axes, 5002, end, 5}, {2, Axes, 5003, end, 5}}, 7000, 3},
		{"its pace is slow", []speech{{1, Axes, 0, 20_000, 1000}, {1, Load, 0, end, 20}, {2, Axes, 500, end, 1000}}, 24_500, 2},
	} {
		at, to := passing(c.all...)
		if c.at == 0 {
			assert.Empty(t, at, c.name)
			continue
		}
		if assert.Len(t, at, 1, c.name) {
			assert.InDelta(t, c.at, at[0], 1100, c.name)
			assert.GreaterOrEqual(t, at[0], c.at-10, c.name)
			assert.EqualValues(t, c.to, to[0], c.name)
		}
	}
}

// A craft line each ten seconds from both bridges, and a host's clock that is put
// back, move nothing; nothing is allocated.
func TestTagsStay(t *testing.T) {
	var o Owners
	s := Sample{}
	take := func(bridge int, tag Tag, us int64) News {
		s = Sample{Tag: tag}
		news, _ := o.Take(bridge, us, &s)
		return news
	}
	shift := int64(0)
	for ms := int64(0); ms < 200_000; ms += 100 {
		if ms == 100_000 {
			shift = -90_000_000
		}
		us := ms*1000 + shift
		assert.NotEqual(t, Passed, take(1, Axes, us))
		if ms%10_000 == 0 {
			assert.NotEqual(t, Passed, take(1, Craft, us))
		}
		if ms%10_000 == 5000 {
			assert.NotEqual(t, Passed, take(2, Craft, us))
		}
		assert.NotEqual(t, Passed, take(2, Axes, us))
	}
	assert.Zero(t, testing.AllocsPerRun(1000, func() { take(2, Axes, 400_000_000) }))
}

// Who sent a tag first keeps it; what another sends of it is said once of each.
func TestOwners(t *testing.T) {
	var o Owners
	take := func(bridge int, tag Tag) (Tag, bool) {
		s := Sample{Tag: tag, Seq: 7}
		news, _ := o.Take(bridge, 0, &s)
		assert.EqualValues(t, 7, s.Seq)
		if s.Tag != tag {
			assert.Equal(t, tag, s.Aside)
		}
		return s.Tag, news == Shared
	}
	for _, c := range []struct {
		bridge   int
		tag, got Tag
		news     bool
	}{
		{1, Axes, Axes, false},
		{2, Load, Load, false},
		{2, Axes, Unknown, true},
		{2, Axes, Unknown, false},
		{1, Axes, Axes, false},
		{2, Hello, Hello, false},
		{1, Hello, Hello, false},
		{3, Axes, Unknown, true},
		{1, Load, Unknown, true},
		{2, Axes, Unknown, false}, // however they take turns
		{3, Axes, Unknown, false},
		{4, Axes, Unknown, true},
	} {
		got, news := take(c.bridge, c.tag)
		assert.Equal(t, c.got, got, "%+v", c)
		assert.Equal(t, c.news, news, "%+v", c)
	}
	owner, other, ok := o.Also(Axes)
	assert.True(t, ok)
	assert.Equal(t, []int{1, 2}, []int{owner, other})
}
