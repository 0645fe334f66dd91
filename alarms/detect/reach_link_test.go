package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// TestReachOfTheLink: the gauges of the link show what its alarms show.
func TestReachOfTheLink(t *testing.T) {
	b := staleBench(Yes, 20*Second)
	b.Link.Good = 1000
	b.Streams[decode.Out].Last -= 5_800_000
	d := NewStaleLink().(*staleLink)
	f := d.Judge(b, nil)
	require.Len(t, f, 1)
	r := d.Reach(b, nil)
	require.Len(t, r, 1)
	assert.InDelta(t, f[0].Value, r[0].Value, 1e-9, "one stream away")
	assert.GreaterOrEqual(t, r[0].Share, 1.0)

	b.Streams[decode.Out].Last = b.Now
	d.Judge(b, nil)
	r = d.Reach(b, nil)
	require.Len(t, r, 1)
	assert.Zero(t, r[0].Share, "it is back")

	b.Bridges = []Bridge{{Name: "a", Heard: true, Tags: 1 << decode.Axes}, {Name: "b", Heard: true, Tags: 1 << decode.Load, Silent: 7_400_000}}
	f = d.Judge(b, nil)
	require.Len(t, f, 1)
	r = d.Reach(b, nil)
	require.Len(t, r, 1)
	assert.InDelta(t, 7.4, r[0].Value, 1e-9, "a dead bridge")

	for _, c := range []struct {
		name   string
		moment func(b *Bench)
	}{
		{"a bridge at another port", func(b *Bench) { b.Moved = Move{At: b.Now, From: 0, To: 1, Silent: Second} }},
		{"a bridge that began anew", func(b *Bench) {
			b.RestartAt, b.RestartArmed, b.RestartTags, b.RestartSilent = b.Now, true, ^uint32(0), 15_801_000
		}},
	} {
		m := staleBench(Yes, 20*Second)
		m.Link.Good = 1000
		m.Bridges = []Bridge{{Name: "a", Heard: true, Tags: 1 << decode.Axes}, {Name: "b", Heard: true, Tags: 1 << decode.Load}}
		c.moment(m)
		d = NewStaleLink().(*staleLink)
		f = d.Judge(m, nil)
		require.Len(t, f, 1, c.name)
		assert.GreaterOrEqual(t, f[0].Value, 1.0, "%s: the silence before it", c.name)
		assert.True(t, d.Describe(m, f[0]).Before, c.name)
		r = d.Reach(m, nil)
		require.Len(t, r, 1)
		assert.Zero(t, r[0].Value, "%s: nothing is silent now", c.name)
	}

	none := &Bench{Limits: craft.Limits{}.WithDefaults(0), Link: LinkCounts{Bad: 4241}}
	assert.Empty(t, NewStaleLink().(*staleLink).Reach(none, nil), "nothing has begun")
	bad := NewBadLink().Reach(none, nil)
	require.Len(t, bad, 1)
	assert.InDelta(t, 1, bad[0].Value, 1e-9, "nothing good came")
}

// TestStreamsThatFallSilentTogether are one happening, whose words grow; one that
// goes later is another.
func TestStreamsThatFallSilentTogether(t *testing.T) {
	b := staleBench(Yes, 20*Second)
	d := NewStaleLink()
	last := b.Now
	var cases []uint8
	for b.Now = last; b.Now < last+3*Second; b.Now += 10_000 {
		for tag := decode.Axes; tag <= decode.State; tag++ {
			switch s := &b.Streams[tag]; {
			case tag == decode.Axes || tag == decode.State: // fell silent at once, each missed by its own pace
			case tag == decode.Out && b.Now >= last+1_500_000:
			case s.Steady:
				s.Last = b.Now
			}
		}
		for _, f := range d.Judge(b, nil) {
			if len(cases) == 0 {
				assert.LessOrEqual(t, b.Now-last, int64(310_000), "the first is not held up")
			}
			if n := len(cases); n == 0 || cases[n-1] != f.Case {
				cases = append(cases, f.Case)
			}
		}
	}
	assert.Len(t, cases, 2, "axes and state together, out later")
}
