package detect

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
)

// factOf returns a story's fact, nil where it is not told.
func factOf(s Story, name string) any {
	for _, f := range s.More {
		if f.Name == name {
			return f.Value
		}
	}
	return nil
}

// temps is a stream of four motor temperatures in steps of a sensor's last
// place.
func temps(hz, step float64, of func(s float64) [4]float64) stream {
	return stream{tag: decode.Temp, hz: hz, value: func(s float64) []float64 {
		v := of(s)
		for i := range v {
			v[i] = math.Round(v[i]/step) * step
		}
		return v[:]
	}}
}

// spinning are the streams of a run in steady hold.
func spinning(out [4]float64) []stream {
	return []stream{
		{tag: decode.State, hz: 20, value: steady(state(1, 0, 1, 0.3)...)},
		{tag: decode.Out, hz: 100, value: steady(out[:]...)},
		{tag: decode.ERPM, hz: 50, value: func(float64) []float64 {
			return []float64{out[0] * 1e5, out[1] * 1e5, out[2] * 1e5, out[3] * 1e5}
		}},
	}
}

var even = [4]float64{0.3, 0.3, 0.3, 0.3}

// heatRamp heats motors of a mask from 5 s on.
func heatRamp(rate, start float64, w Where) func(float64) [4]float64 {
	return func(s float64) (v [4]float64) {
		for i := range v {
			v[i] = start
			if w&Motor(i) != 0 {
				v[i] += rate * max(s-5, 0)
			}
		}
		return v
	}
}

const allFour = M1 | M2 | M3 | M4

// sensors are what temperatures come as: lines a second, last place, jitter
// and loss.
var sensors = []struct{ hz, step, jitter, loss float64 }{
	{1, 1, 0, 0}, {1, 0.1, 0.2, 0}, {1, 1, 0.2, 0.05}, {5, 1, 0, 0}, {5, 0.1, 0.3, 0.05}, {20, 0.1, 0.3, 0.05}, {20, 1, 0, 0},
}

func TestMotorHeatByRate(t *testing.T) {
	for _, c := range sensors {
		for _, rate := range []float64{1.7, 2.4} {
			tr := newTrial(NewMotorHeat(), heron)
			s := temps(c.hz, c.step, heatRamp(rate, 20, M2))
			s.jitter, s.loss = c.jitter, c.loss
			tr.run(0, 11, append(spinning(even), s)...)
			if rate < 2 {
				tr.silent(t)
				continue
			}
			// Two seconds of it, as many lines as make a slope, and lost ones.
			got := tr.one(t, M2, Medium, 6, 5+2+5/c.hz+0.2)
			assert.Equal(t, "degC/s", got.story.Unit)
			assert.InDelta(t, rate, got.value, 0.9, "%+v", c)
			assert.Equal(t, 2.0, got.limit)
			assert.Contains(t, got.story.Cause, "one motor alone")
			assert.Equal(t, "straight line", factOf(got.story, "model"))
			assert.InEpsilon(t, (80-20-rate*(got.at-5))/rate, factOf(got.story, "time_to_limit_s"), 0.35, "%+v", c)
			watchful(t, tr, true)
		}
	}
}

func TestMotorHeatByLevel(t *testing.T) {
	for _, c := range []struct {
		temp float64
		want Priority
	}{{60, None}, {60.1, Medium}, {80, Medium}, {80.1, High}} {
		for _, armed := range []float64{1, 0, no} {
			tr := newTrial(NewMotorHeat(), heron)
			out, idle := 0.3*armed, state(armed, 0, 1, 0.3)
			if math.IsNaN(armed) {
				out = 0.3
			}
			tr.run(0, 5, stream{tag: decode.State, hz: 20, value: steady(idle...)}, stream{tag: decode.Out, hz: 50, value: steady(all4(out)...)},
				temps(5, 0.1, func(s float64) [4]float64 { return [4]float64{c.temp, c.temp, c.temp, c.temp} }))
			if c.want == None {
				tr.silent(t)
				continue
			}
			got := tr.one(t, allFour, c.want, 0.2, 0.21)
			assert.Equal(t, "degC", got.story.Unit)
			assert.InDelta(t, c.temp, got.value, 1e-9)
			assert.Contains(t, got.story.Cause, "all motors alike")
			if armed == 0 {
				assert.Contains(t, got.story.Action, "leave the motors off")
			}
			if c.want == High {
				assert.Regexp(t, "^(cut throttle|press stop)", got.story.Action)
			}
		}
	}
}

// One line that is wild, a value that is not measured, a hole and a restart
// ring nothing, whatever stood before.
func TestMotorHeatTakesNoOddLine(t *testing.T) {
	for name, of := range map[string]func(s float64) float64{
		"spike": func(s float64) float64 { return map[bool]float64{true: 250, false: 55}[s > 3 && s < 3.1] },
		"dip":   func(s float64) float64 { return map[bool]float64{true: -40, false: 55}[s > 3 && s < 3.1] },
		"gone and back": func(s float64) float64 {
			return map[bool]float64{true: no, false: 40 + 10*math.Floor(s/3)}[math.Mod(s, 3) > 2]
		},
		"noise of 0.5": func(s float64) float64 { return 40 + 0.5*math.Sin(1e4*s) + 0.5*math.Sin(7e3*s) },
		"frozen":       func(s float64) float64 { return 59 },
	} {
		tr := newTrial(NewMotorHeat(), heron)
		tr.run(0, 9, append(spinning(even), stream{tag: decode.Temp, hz: 10, value: func(s float64) []float64 {
			return all4(of(s))
		}})...)
		if len(tr.said) > 0 {
			t.Errorf("%s: %s", name, tr.list())
		}
	}
	tr := newTrial(NewMotorHeat(), heron)
	tr.run(0, 5, append(spinning(even), temps(5, 0.1, heatRamp(0, 20, 0)))...)
	tr.d.Reset()
	tr.run(5, 6, append(spinning(even), temps(5, 0.1, heatRamp(0, 45, 0)))...)
	tr.silent(t)
}

func TestMotorHeatByOthers(t *testing.T) {
	hot := func(v float64) stream {
		return temps(5, 0.1, func(s float64) [4]float64 { return [4]float64{30, 31, 30 + v, 29} })
	}
	for v, rings := range map[float64]bool{15: false, 15.2: true} {
		tr := newTrial(NewMotorHeat(), heron)
		tr.run(0, 5, append(spinning(even), hot(v))...)
		if !rings {
			tr.silent(t)
			continue
		}
		got := tr.one(t, M3, Medium, 0.2, 0.3)
		assert.InDelta(t, 30+v, got.value, 1e-9)
		assert.InDelta(t, 45, got.limit, 1e-9)
		assert.Equal(t, 30.0, factOf(got.story, "others_median_c"))
	}
	// At rest one that is still warm is nobody's danger.
	tr := newTrial(NewMotorHeat(), heron)
	tr.run(0, 5, stream{tag: decode.State, hz: 20, value: steady(state(0, 0, 1, 0)...)}, stream{tag: decode.Out, hz: 50, value: steady(all4(0)...)}, hot(25))
	tr.silent(t)
	// Of two motors that are measured none is the odd one.
	tr = newTrial(NewMotorHeat(), heron)
	tr.run(0, 5, append(spinning(even), stream{tag: decode.Temp, hz: 5, value: steady(30, 50, no, no)})...)
	tr.silent(t)
	if m := tr.d.Missing(&tr.b); !strings.Contains(m, "m3+m4") {
		t.Error(m)
	}
}

// A rise is high from where the high limit is ten seconds away.
func TestMotorHeatIsHighInTime(t *testing.T) {
	tr := newTrial(NewMotorHeat(), heron)
	tr.run(0, 20, append(spinning(even), temps(5, 0.1, heatRamp(4, 15, M1)))...)
	var raised, worse change
	for _, c := range tr.said {
		switch c.word {
		case "raised":
			raised = c
		case "worsened":
			worse = c
		}
	}
	assert.Equal(t, Medium, raised.level)
	assert.InDelta(t, 6.6, raised.at, 0.6)
	// 80 at 4 a second is met at 21.25 s.
	assert.InDelta(t, 11.25, worse.at, 0.4)
	assert.InDelta(t, 10, factOf(worse.story, "time_to_limit_s"), 0.5)
	assert.Regexp(t, "^cut throttle", worse.story.Action)
	// And one of twenty degrees a second at once.
	tr = newTrial(NewMotorHeat(), heron)
	tr.run(0, 7, append(spinning(even), temps(5, 0.1, heatRamp(20, 15, M1)))...)
	tr.one(t, M1, High, 5.2, 6.3)
}

// Why: each cause has its words, and the run without it does not.
func TestMotorHeatTellsWhy(t *testing.T) {
	shaking := func(float64) []stream {
		s := spinning(even)
		s[1].value = func(s float64) []float64 { return all4(0.3 + 0.2*math.Sin(2*math.Pi*87*s)) }
		return s
	}
	stands := func(float64) []stream {
		s := spinning(even)
		s[2].value = func(float64) []float64 { return []float64{3e4, 0, 3e4, 3e4} }
		return s
	}
	drags := func(float64) []stream {
		s := spinning(even)
		s[2].value = func(float64) []float64 { return []float64{3e4, 2.5e4, 3e4, 3e4} }
		return s
	}
	for _, c := range []struct {
		name    string
		streams []stream
		where   Where
		cause   string
	}{
		{"all, shaking", shaking(0), allFour, "controller's noise"},
		{"all, steady", spinning(even), allFour, "overload"},
		{"one, its rotor stands", stands(0), M2, "blocked"},
		{"one, slow", drags(0), M2, "slower than its output asks"},
		{"one, works hard", spinning([4]float64{0.3, 0.45, 0.3, 0.3}), M2, "works harder"},
		{"one, nothing else", spinning(even), M2, "one motor alone"},
		{"two", spinning(even), M2 | M3, "several motors alike"},
	} {
		tr := newTrial(NewMotorHeat(), heron)
		tr.run(0, 8, append(c.streams, temps(5, 0.1, heatRamp(3, 20, c.where)))...)
		r := tr.raised()
		if assert.NotEmpty(t, r, c.name) {
			assert.Equal(t, c.where, r[0].where, c.name)
			assert.Contains(t, r[0].story.Cause, c.cause, c.name)
		}
	}
}

// One alarm, not ten: a value that comes and goes about its limit holds.
func TestMotorHeatHolds(t *testing.T) {
	tr := newTrial(NewMotorHeat(), heron)
	tr.run(0, 20, append(spinning(even), temps(5, 0.1, func(s float64) [4]float64 {
		v := 60 + 1.2*math.Sin(s)
		return [4]float64{v, v - 20, v - 10, v - 12}
	}))...)
	assert.Len(t, tr.raised(), 1, tr.list())
	tr.run(20, 24, append(spinning(even), temps(5, 0.1, heatRamp(0, 50, 0)))...)
	assert.Equal(t, "cleared", tr.said[len(tr.said)-1].word)
	// Where the stream goes away nothing is better.
	tr = newTrial(NewMotorHeat(), heron)
	tr.run(0, 3, append(spinning(even), temps(5, 0.1, heatRamp(0, 85, 0)))...)
	tr.run(3, 9, spinning(even)...)
	assert.Len(t, tr.said, 1, tr.list())
	watchful(t, tr, false)
}

// Motors that began alike, of which one goes on: the words name that one.
func TestMotorHeatNamesWhatIsHot(t *testing.T) {
	for _, by := range []float64{0, 10} {
		tr := newTrial(NewMotorHeat(), heron)
		tr.run(0, 20, append(spinning(even), temps(5, 0.1, func(s float64) [4]float64 {
			v := all4(20 + 5*min(max(s-5, 0), 8.6)) // to 63 degC at 13.6 s
			v[2] += by * min(max(s-17, 0), 2.2)     // m3 alone to 85 degC
			return [4]float64(v)
		}))...)
		assert.Len(t, tr.raised(), 1, tr.list())
		assert.Contains(t, tr.raised()[0].story.Text, "m1+m2+m3+m4 heat by")
		last := tr.said[len(tr.said)-1]
		if by == 0 {
			assert.Equal(t, "eased", last.word)
			assert.Contains(t, last.story.Text, "m1+m2+m3+m4 are at 63 degC")
			continue
		}
		assert.Equal(t, "worsened", last.word)
		assert.Regexp(t, "^m3 (heats by|is at)", last.story.Text)
		assert.Contains(t, last.story.Cause, "one motor alone")
	}
}

func TestMotorHeatMissing(t *testing.T) {
	tr := newTrial(NewMotorHeat(), heron)
	watchful(t, tr, false)
	tr.run(0, 3, stream{tag: decode.Temp, hz: 5, value: steady(no, no, no, no)})
	watchful(t, tr, false)
	tr.run(3, 4, temps(5, 0.1, heatRamp(0, 20, 0)))
	watchful(t, tr, true)
	tr.run(4, 30, temps(0.3, 0.1, heatRamp(0, 20, 0)))
	assert.Contains(t, tr.d.Missing(&tr.b), "too slowly")
	// Without a craft, as many motors as are hot.
	tr = newTrial(NewMotorHeat(), heron)
	tr.b.Motors = 0
	tr.run(0, 3, temps(5, 0.1, func(float64) [4]float64 { return [4]float64{20, 20, 90, 20} }))
	tr.one(t, M3, High, 0.2, 0.3)
}

// TestPowerHotPathsAllocateNothing: of heat, sag and current, alarms ringing.
func TestPowerHotPathsAllocateNothing(t *testing.T) {
	rated := heron
	rated.RatedA = 10
	for _, d := range []Detector{NewMotorHeat(), NewPackSag(), NewOverCurrent()} {
		tr := newTrial(d, rated)
		at, found := int64(0), make([]Finding, 0, 16)
		samples := []decode.Sample{
			sampleOf(decode.State, state(1, 0, 1, 0.3)), sampleOf(decode.Out, all4(0.3)), sampleOf(decode.ERPM, all4(30000)),
			sampleOf(decode.Temp, []float64{50, 51, 52, 85}), sampleOf(decode.Pack, []float64{12.5, 20}),
		}
		inputs := make([]Input, len(samples))
		rang := false
		allocs := testing.AllocsPerRun(400, func() {
			samples[3].Put(0, 20+float64(at)/4e5)
			samples[4].Put(1, 20+math.Sin(float64(at)/1e6))
			for i := range samples {
				at += 20_000
				tr.b.Now = at
				tr.learn(&samples[i], at, 10)
				inputs[i] = Input{S: &samples[i], At: at}
				d.Observe(&tr.b, &inputs[i])
				found = d.Judge(&tr.b, found[:0])
				rang = rang || len(found) > 0
			}
		})
		assert.Zero(t, allocs, "%s", d.Kind())
		assert.True(t, rang, "%s", d.Kind())
		d.Reset()
		assert.Empty(t, d.Judge(&tr.b, nil), "%s after a reset", d.Kind())
		assert.Empty(t, d.Missing(&tr.b))
	}
}
