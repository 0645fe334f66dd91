package simulator

import (
	"bytes"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// A heard is a line as it came, with when it came.
type heard struct {
	at  int64 // us since the start, to 5 ms
	s   decode.Sample
	bad bool
}

// hear plays a scenario and decodes what comes.
func hear(sc Scenario, seed uint64) (all []heard) {
	b := New(sc, seed)
	var d decode.Decoder
	var rest, buf []byte
	for done := false; !done; {
		var until int64
		buf, until, done = b.Next(buf[:0])
		rest = append(rest, buf...)
		for {
			n := bytes.IndexByte(rest, '\n')
			if n < 0 {
				break
			}
			h := heard{at: until}
			h.bad = d.Decode(rest[:n], &h.s) != nil
			h.s.Text, h.s.Word = slices.Clone(h.s.Text), slices.Clone(h.s.Word)
			all = append(all, h)
			rest = rest[n+1:]
		}
	}
	return all
}

// The streams keep their pace and their instants lie unevenly by the jitter
// asked for, about an even grid.
func TestPace(t *testing.T) {
	sc := quietScenario()
	sc.Seconds, sc.Link.Jitter = 10, 0.05
	count := map[decode.Tag]int{}
	var steps []float64
	last := uint32(0)
	for _, h := range hear(sc, 3) {
		require.False(t, h.bad)
		count[h.s.Tag]++
		if h.s.Tag == decode.Axes {
			if last > 0 {
				steps = append(steps, float64(h.s.Time-last))
			}
			last = h.s.Time
		}
	}
	for tag, hz := range map[decode.Tag]float64{
		decode.Axes: 400, decode.Out: 100, decode.ERPM: 50, decode.Accel: 100, decode.Load: 50,
		decode.Temp: 5, decode.Pack: 20, decode.Air: 20, decode.State: 50, decode.Hello: 1, decode.Craft: 0.1,
	} {
		assert.InDelta(t, 10*hz, count[tag], 1+0.01*10*hz, tag.String())
	}
	assert.Equal(t, len(settingNames), count[decode.Set])
	sum, square := 0.0, 0.0
	for _, s := range steps {
		sum += s
		square += (s - 2500) * (s - 2500)
	}
	assert.InDelta(t, 2500, sum/float64(len(steps)), 0.5)
	// A step is the difference of two jitters of 125 us.
	assert.InDelta(t, 125*math.Sqrt2, math.Sqrt(square/float64(len(steps))), 10)
}

// Hello and craft come first, then every setting, then the streams.
func TestStartOfBridge(t *testing.T) {
	all := hear(quietScenario(), 1)
	assert.Equal(t, decode.Hello, all[0].s.Tag)
	assert.Equal(t, decode.Craft, all[1].s.Tag)
	assert.Equal(t, "Marsh Heron", string(all[1].s.Text))
	for k, name := range settingNames {
		assert.Equal(t, decode.Set, all[2+k].s.Tag)
		assert.Equal(t, name, string(all[2+k].s.Word))
	}
}

// missing is the share of lines that did not come well between two times.
func missing(all []heard, from, to float64) float64 {
	good, gone := 0, 0
	last, first := uint16(0), true
	for _, h := range all {
		if s := float64(h.at) / 1e6; s < from || s >= to || h.bad {
			continue
		}
		good++
		if !first {
			gone += int(h.s.Seq - last - 1) // bad lines lie in the gaps too
		}
		last, first = h.s.Seq, false
	}
	return float64(gone) / float64(good+gone)
}

// noisy-link does what its text says: shares of lost and spoilt lines, a
// silence of 0.6 s, a restart with the next boot number, a clock that wraps.
func TestNoisyLink(t *testing.T) {
	sc, err := Load("noisy-link")
	require.NoError(t, err)
	all := hear(sc, 2)
	// Shares over six seeds: runs of lost lines are few.
	var calm, mild, bad, after float64
	for seed := range uint64(6) {
		h := hear(sc, seed)
		calm += missing(h, 0, 8) / 6
		mild += missing(h, 8, 13) / 6
		bad += missing(h, 13, 20) / 6
		after += missing(h, 30.1, 40) / 6
	}
	assert.Zero(t, calm)
	assert.InDelta(t, 0.05, mild, 0.008)
	assert.InDelta(t, 0.117, bad, 0.015)
	assert.Zero(t, after)

	var silences, boots []float64
	wrapped := false
	last := all[0]
	for _, h := range all[1:] {
		if h.bad {
			continue
		}
		if gap := float64(h.at-last.at) / 1e6; gap > 0.1 {
			silences = append(silences, gap)
		}
		if h.s.Tag == decode.Hello {
			if boot, _ := h.s.Get(decode.HelloBoot); boot == 43 && len(boots) == 0 {
				boots = append(boots, boot)
				assert.Zero(t, h.s.Seq)
				assert.Less(t, h.s.Time, uint32(10_000))
				assert.InDelta(t, 27.35, float64(h.at)/1e6, 0.01)
			}
		}
		wrapped = wrapped || last.s.Time > math.MaxUint32-100_000 && h.s.Time < 100_000
		last = h
	}
	require.Len(t, silences, 2)
	assert.InDelta(t, 0.6, silences[0], 0.05)
	assert.InDelta(t, 0.35, silences[1], 0.05)
	assert.Len(t, boots, 1)
	assert.True(t, wrapped)
}

// What happens on the cable changes nothing on the bench, and neither does how
// often the bridge looks.
func TestLinkDoesNotTouchTheCraft(t *testing.T) {
	sc, err := Load("gains-high")
	require.NoError(t, err)
	clean := New(sc, 5)
	sc.Link.Lost, sc.Link.Burst, sc.Link.Flipped = 0.3, 4, 0.2
	sc.Rates.Axes, sc.Rates.Accel, sc.Rates.Load = 123, 500, 0
	dirty := New(sc, 5)
	for done := false; !done; {
		var buf []byte
		buf, _, done = clean.Next(buf)
		dirty.Next(buf[:0])
		require.True(t, clean.body == dirty.body, "at %d us", clean.now)
	}
}

// Whoever starts to listen in the middle of a session learns every setting
// within ten seconds, once.
func TestSettingsAreToldAgain(t *testing.T) {
	told := map[string]int{}
	for _, h := range hear(quietScenario(), 1) {
		if s := float64(h.at) / 1e6; h.s.Tag == decode.Set && s >= 15 && s < 25 {
			told[string(h.s.Word)]++
		}
	}
	assert.Len(t, told, len(settingNames))
	for name, n := range told {
		assert.Equal(t, 1, n, name)
	}
}

// A setting that is typed is told at once, again ten seconds later, and taken.
func TestSet(t *testing.T) {
	sc, err := Load("idle-slip")
	require.NoError(t, err)
	var told []float64
	for _, h := range hear(sc, 1) {
		if v, _ := h.s.Get(decode.SetValue); h.s.Tag == decode.Set && string(h.s.Word) == "idle_ready" && v == 0.8 {
			told = append(told, float64(h.at)/1e6)
		}
	}
	assert.InDeltaSlice(t, []float64{2, 12}, told, 0.006)

	b := New(quietScenario(), 1)
	b.set("rate_d_pitch", 0.5)
	assert.Equal(t, 0.5, b.control.axis[1].d)
	b.set("rate_p_yaw", 0.25)
	assert.Equal(t, 0.25, b.control.axis[2].p)
	b.set("rate_i_roll", 0.125)
	assert.Equal(t, 0.125, b.control.axis[0].i)
	b.set("idle_least", 0.2)
	assert.Equal(t, 0.2, b.control.idleLeast)
}
