package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// A shaken axis: what roll's controller output does beside the quiet others.
type shaken struct {
	rate    float64
	ringer  *ringer
	extra   func(t float64) float64 // beside the ringing
	demand  func(t float64) float64 // of roll, deg/s
	noRate  bool
	noCtrl  bool
	perUnit float64 // deg/s of rate for an output of one
}

func (s *shaken) stream() stream {
	if s.perUnit == 0 {
		s.perUnit = 300
	}
	quiet := newRinger(77, s.rate/8, 0.5, 0.0005, s.rate)
	return stream{tag: decode.Axes, hz: s.rate, value: func(t float64) []float64 {
		u := 0.0
		if s.ringer != nil {
			u = s.ringer.next()
		}
		if s.extra != nil {
			u += s.extra(t)
		}
		n := quiet.next()
		v := []float64{s.perUnit * (u + n), s.perUnit * n, 0, 0, 0, 0, u + n, n, n, 0.3}
		if s.demand != nil {
			v[3] = s.demand(t)
		}
		for i := range 3 {
			if s.noRate {
				v[i] = no
			}
			if s.noCtrl {
				v[6+i] = no
			}
		}
		return v
	}}
}

func hears(s *shaken, seconds float64) *trial {
	tr := newTrial(NewLowMargin(), heron)
	armed := stream{tag: decode.State, hz: 20, value: steady(state(1, 0, 1, 0.3)...)}
	tr.run(0, seconds, armed, s.stream())
	return tr
}

// TestLowMarginRings: it tells frequency and damping within three of its
// standard errors, whatever the stream brings.
func TestLowMarginRings(t *testing.T) {
	for _, c := range []struct {
		name           string
		hz, zeta, rate float64
		noRate, noCtrl bool
	}{
		{"200", 12.3, 0.02, 200, false, false}, {"1000", 31, 0.01, 1000, false, false},
		{"50", 6, 0.02, 50, false, false}, {"20", 3, 0.015, 20, false, false},
		{"outputs alone", 12.3, 0.02, 200, true, false}, {"rates alone", 12.3, 0.02, 200, false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := hears(&shaken{rate: c.rate, ringer: newRinger(4, c.hz, c.zeta, 0.02, c.rate), noRate: c.noRate, noCtrl: c.noCtrl}, 40)
			said := tr.one(t, Roll, Low, 8, 40)
			facts := map[string]float64{}
			for _, f := range said.story.More {
				if v, ok := f.Value.(float64); ok {
					facts[f.Name] = v
				}
			}
			assert.Equal(t, facts["damping_ratio"], said.value)
			assert.Equal(t, 0.05, said.limit)
			assert.InDelta(t, c.zeta, said.value, 3*facts["damping_error"])
			assert.InEpsilon(t, c.hz, facts["frequency_hz"], 0.02)
			rms := 0.02
			if c.noCtrl {
				rms *= 300
			}
			assert.InEpsilon(t, rms, facts["amplitude"], 0.5)
			assert.Contains(t, said.story.Text, "roll rings on noise at ")
			assert.Equal(t, "lower the gains before you go on", said.story.Action)
			for _, x := range tr.said {
				assert.LessOrEqual(t, x.level, Low)
			}
		})
	}
}

// TestLowMarginStaysSilent: the same without the cause, or with another one.
func TestLowMarginStaysSilent(t *testing.T) {
	sine := func(hz, amplitude float64) func(float64) float64 {
		return func(t float64) float64 { return amplitude * math.Sin(2*math.Pi*hz*t) }
	}
	const rate = 200.0
	driven := newRinger(8, 5, 0.02, 1, rate)
	asks := 0.0
	for name, s := range map[string]*shaken{
		"quiet":         {},
		"damped":        {ringer: newRinger(4, 12.3, 0.15, 0.02, rate)},
		"immaterial":    {ringer: newRinger(4, 12.3, 0.02, 0.001, rate)},
		"a line":        {extra: sine(23, 0.02)},
		"a limit cycle": {extra: func(t float64) float64 { return 0.03 * math.Tanh(3*math.Sin(2*math.Pi*9*t)) }},
		"grows": {extra: func(t float64) float64 {
			return 1e-4 * math.Exp(0.35*t) * math.Sin(2*math.Pi*9*t)
		}},
		// The pilot, or a loop outside, asks for it.
		"asked for": {
			demand: func(float64) float64 { asks = driven.next(); return 20 * asks },
			extra:  func(float64) float64 { return 0.02 * asks }, perUnit: 1000,
		},
	} {
		t.Run(name, func(t *testing.T) {
			s.rate = rate
			seconds := 40.0
			if name == "grows" {
				seconds = 20
			}
			hears(s, seconds).silent(t)
		})
	}
}

// TestLowMarginGoesAgain: with the gains lowered the alarm goes, and while
// nothing is armed nothing is said.
func TestLowMarginGoesAgain(t *testing.T) {
	tr := newTrial(NewLowMargin(), heron)
	armed := stream{tag: decode.State, hz: 20, value: steady(state(1, 0, 1, 0.3)...)}
	ringing := shaken{rate: 200, ringer: newRinger(4, 12.3, 0.015, 0.02, 200)}
	damped := shaken{rate: 200, ringer: newRinger(5, 12.3, 0.2, 0.006, 200)}
	tr.run(0, 40, armed, ringing.stream())
	tr.run(40, 100, armed, damped.stream())
	tr.one(t, Roll, Low, 8, 40)
	last := tr.said[len(tr.said)-1]
	require.Equal(t, "cleared", last.word, tr.list())
	assert.Greater(t, last.at, 40.0)
	assert.Less(t, last.at, 95.0)

	tr = hears(&shaken{rate: 200, ringer: newRinger(4, 12.3, 0.015, 0.02, 200)}, 40)
	require.Len(t, tr.d.Judge(&tr.b, nil), 1)
	tr.d.Reset()
	assert.Empty(t, tr.d.Judge(&tr.b, nil), "nothing is joined over a restart")
	tr = newTrial(NewLowMargin(), heron)
	tr.run(0, 40, stream{tag: decode.State, hz: 20, value: steady(state(0, 0, 1, 0)...)},
		(&shaken{rate: 200, ringer: newRinger(4, 12.3, 0.015, 0.02, 200)}).stream())
	tr.silent(t)
}

// TestLowMarginSaysWhatItMisses: every reason has its words.
func TestLowMarginSaysWhatItMisses(t *testing.T) {
	d := NewLowMargin()
	var b Bench
	assert.Contains(t, d.Missing(&b), "no axes stream")
	s := &b.Streams[decode.Axes]
	s.Count = 1
	assert.Contains(t, d.Missing(&b), "no steady pace")
	s.Steady, s.Period = true, 1e6/15.0
	assert.Contains(t, d.Missing(&b), "too slow: 15 a second")
	s.Period = 1e6 / 100
	assert.Contains(t, d.Missing(&b), "roll: neither")
	for i := range 3 {
		b.Rate[i].OK = true
	}
	assert.Contains(t, d.Missing(&b), "over 25 Hz")
	s.Period = 1e6 / 200
	assert.Empty(t, d.Missing(&b))
}

// TestLowMarginAllocatesNothing: with three axes at a thousand lines a second,
// one of them ringing.
func TestLowMarginAllocatesNothing(t *testing.T) {
	feed, found := marginFeed(), 0
	for range 30000 {
		found += feed()
	}
	require.Positive(t, found)
	assert.Zero(t, testing.AllocsPerRun(5000, func() { feed() }))
}

// marginFeed returns what feeds one line of a thousand a second, and tells how
// many findings there are.
func marginFeed() func() int {
	tr := newTrial(NewLowMargin(), heron)
	tr.b.Armed = Yes
	r := newRinger(4, 31, 0.01, 0.02, 1000)
	var s decode.Sample
	var in Input
	found := make([]Finding, 0, 8)
	at := int64(0)
	return func() int {
		at += 1000
		u := r.next()
		s = decode.Sample{Tag: decode.Axes}
		for i, v := range [...]float64{300 * u, 0, 0, 0, 0, 0, u, 0, 0, 0.3} {
			s.Put(i, v)
		}
		tr.b.Now = at
		tr.learn(&s, at, 1000)
		in = Input{S: &s, At: at}
		tr.d.Observe(&tr.b, &in)
		found = tr.d.Judge(&tr.b, found[:0])
		return len(found)
	}
}

// BenchmarkLowMargin is one line of three axes, one of them ringing: a
// thousand of them are a second's work.
func BenchmarkLowMargin(b *testing.B) {
	feed := marginFeed()
	for range 30000 {
		feed()
	}
	b.ReportAllocs()
	for b.Loop() {
		feed()
	}
}
