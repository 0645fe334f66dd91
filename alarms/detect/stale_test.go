package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// staleBench has four steady streams, each heard at now.
func staleBench(armed Tri, now int64) *Bench {
	b := &Bench{Now: now, Limits: craft.Limits{}.WithDefaults(0), Armed: armed, LastArmed: armed, RestartAt: -1}
	for tag, hz := range map[decode.Tag]float64{decode.Axes: 500, decode.Out: 100, decode.State: 10, decode.Temp: 1} {
		b.Streams[tag] = Stream{Count: 100, Last: now, Period: 1e6 / hz, Steady: true}
	}
	return b
}

func TestSilence(t *testing.T) {
	for _, c := range []struct {
		name   string
		armed  Tri
		silent int64
		want   Priority
	}{
		{"armed, not yet", Yes, 299_999, None}, {"armed", Yes, 300_000, High},
		{"armed unknown counts as armed", Unknown, 300_000, High},
		{"disarmed", No, 300_000, Low}, {"disarmed, not yet", No, 290_000, None},
	} {
		b := staleBench(c.armed, 20*Second)
		b.Now += c.silent
		b.Silent = c.silent
		f := NewStaleLink().Judge(b, nil)
		if c.want == None {
			assert.Empty(t, f, c.name)
			continue
		}
		if assert.Len(t, f, 1, c.name) {
			assert.Equal(t, c.want, f[0].Level, c.name)
			assert.Equal(t, Link, f[0].Where)
			assert.InDelta(t, 0.3, f[0].Value, 1e-9)
			assert.InDelta(t, 0.3, f[0].Limit, 1e-9)
		}
	}
}

func TestOneStreamAway(t *testing.T) {
	for _, c := range []struct {
		name  string
		tag   decode.Tag
		armed Tri
		away  int64
		want  Priority
	}{
		{"quick stream, not yet", decode.Axes, Yes, 299_000, None},
		{"axes", decode.Axes, Yes, 301_000, High}, {"out", decode.Out, Yes, 301_000, High},
		{"state, five of its periods", decode.State, Yes, 510_000, None}, {"state", decode.State, Yes, 521_000, High},
		{"temp, after the shortest wait", decode.Temp, Yes, 5_100_000, None}, {"temp", decode.Temp, Yes, 5_210_000, Medium},
		{"axes of a disarmed craft", decode.Axes, No, 301_000, Low}, {"axes, armed unknown", decode.Axes, Unknown, 301_000, High},
		{"temp of a disarmed craft", decode.Temp, No, 5_210_000, Low},
	} {
		b := staleBench(c.armed, 20*Second)
		b.Streams[c.tag].Last -= c.away
		d := NewStaleLink()
		f := d.Judge(b, nil)
		if c.want == None {
			assert.Empty(t, f, c.name)
			continue
		}
		if assert.Len(t, f, 1, c.name) {
			assert.Equal(t, c.want, f[0].Level, c.name)
			s := d.Describe(b, f[0])
			assert.Contains(t, s.Cause, "sensor")
			assert.Contains(t, s.More, Fact{"stream", c.tag.String()})
		}
		b.Streams[c.tag].Steady = false
		assert.Empty(t, d.Judge(b, nil), "a stream without a pace cannot stay away")
	}
}

// TestWorstStreamIsNamed: the most urgent first, then the longest.
func TestWorstStreamIsNamed(t *testing.T) {
	b := staleBench(Yes, 20*Second)
	b.Streams[decode.Temp].Last -= 9 * Second
	b.Streams[decode.Out].Last -= 400_000
	b.Streams[decode.Axes].Last -= 350_000
	d := NewStaleLink()
	f := d.Judge(b, nil)
	if assert.Len(t, f, 1) {
		assert.Equal(t, High, f[0].Level)
		assert.Contains(t, d.Describe(b, f[0]).Text, "stream out stays away for 0.4 s")
	}
}

func TestRestartIsShownForAMoment(t *testing.T) {
	b := staleBench(Yes, 20*Second)
	b.RestartAt, b.RestartSilent, b.RestartTags = b.Now, 700_000, ^uint32(0) // of the only bridge
	d := NewStaleLink()
	assert.Empty(t, d.Judge(b, nil), "disarmed when last known")
	b.RestartArmed = true
	b.Armed, b.LastArmed = No, No // what its first line says comes after the restart
	f := d.Judge(b, nil)
	if assert.Len(t, f, 1) {
		assert.Equal(t, High, f[0].Level)
		assert.InDelta(t, 0.7, f[0].Value, 1e-9)
		assert.Contains(t, d.Describe(b, f[0]).Cause, "supply")
	}
	b.Now += restartShown + 1
	assert.Empty(t, NewStaleLink().Judge(&Bench{Now: b.Now, Limits: b.Limits, RestartAt: b.RestartAt, RestartArmed: true}, nil))
}

// TestSlowBench: where nothing is quick, the holes between lines are no pauses,
// and a stream that stays away is still found.
func TestSlowBench(t *testing.T) {
	d := NewStaleLink()
	b := &Bench{Limits: craft.Limits{}.WithDefaults(0), Armed: Yes, LastArmed: Yes, RestartAt: -1}
	for _, tag := range []decode.Tag{decode.State, decode.Load} {
		b.Streams[tag] = Stream{Period: 125_000, Steady: true}
	}
	var s decode.Sample
	rang := int64(0)
	for at := int64(0); at < 5*Second; at += 125_000 {
		b.Now = at
		b.Streams[decode.State].Last = at
		if at < 2*Second {
			b.Streams[decode.Load].Last = at
		}
		d.Observe(b, &Input{S: &s, At: at})
		if f := d.Judge(b, nil); len(f) > 0 && rang == 0 {
			rang = at
			assert.Equal(t, Medium, f[0].Level)
		}
	}
	assert.InDelta(t, 2.625, float64(rang)/1e6, 0.13)
}

// TestVitalStreamThatNeverHadAPace: a few lines at the start, then none: the
// last word of state, axes or out is no truth for ever.
func TestVitalStreamThatNeverHadAPace(t *testing.T) {
	for _, c := range []struct {
		name  string
		tag   decode.Tag
		armed Tri
		count uint64
		away  int64
		want  Priority
	}{
		{"one line of state, armed", decode.State, Yes, 1, 3_100_000, High},
		{"not yet", decode.State, Yes, 1, 2_900_000, None},
		{"five lines, disarmed", decode.State, No, 5, 40 * Second, Low},
		{"axes", decode.Axes, Yes, 3, 4 * Second, High},
		{"out", decode.Out, Unknown, 3, 4 * Second, High},
		{"never heard", decode.State, Yes, 0, 40 * Second, None},
		{"temp may come when it likes", decode.Temp, Yes, 1, 40 * Second, None},
	} {
		b := staleBench(c.armed, 60*Second)
		b.Streams[c.tag] = Stream{Count: c.count, Last: b.Now - c.away}
		d := NewStaleLink()
		f := d.Judge(b, nil)
		if c.want == None {
			assert.Empty(t, f, c.name)
			continue
		}
		if assert.Len(t, f, 1, c.name) {
			assert.Equal(t, c.want, f[0].Level, c.name)
			assert.NotContains(t, d.Describe(b, f[0]).Text, "times a second", c.name)
		}
	}
}
