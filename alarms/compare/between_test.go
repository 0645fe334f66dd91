package compare

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// noisy is a bench whose craft trembles by chance: a tone at 12 Hz whose size
// wanders.
func noisy(seed uint64, size float64) *bench {
	rng := rand.New(rand.NewPCG(seed, 1))
	b := newBench()
	v := 0.0
	b.control = func(t float64) float64 {
		v += 0.02*(0-v) + 0.04*rng.NormFloat64()
		return size * (1 + v) * math.Sin(2*math.Pi*12*t)
	}
	b.turn = func(t float64) float64 { return 40 * b.control(t) }
	b.armed = 1
	return b
}

// session is an idle and holds of some throttles, in their order.
func session(b *bench, throttles ...float64) *Run {
	b.steady(0).run(7)
	for _, v := range throttles {
		b.ramp(v, 2).run(6)
	}
	b.ramp(0, 2)
	return b.c.Run()
}

// shaken turns a verdict about.
var turned = map[Word]Word{Better: Worse, Worse: Better, More: Less, Less: More, CannotTell: CannotTell, Same: Same, Mixed: Mixed, TooShort: TooShort}

// mirrored holds that two results are each other's mirror image.
func mirrored(t *testing.T, p, q *Result) {
	t.Helper()
	assert.Equal(t, turned[p.Verdict], q.Verdict)
	require.Len(t, q.Rows, len(p.Rows))
	for i := range p.Rows {
		x, y := p.Rows[i], q.Rows[i]
		assert.Equal(t, turned[x.Verdict], y.Verdict)
		assert.Equal(t, []any{x.Stage, x.Measure, x.Before, x.After, x.P, x.Confidence, x.BlocksA, x.BlocksB},
			[]any{y.Stage, y.Measure, y.After, y.Before, y.P, y.Confidence, y.BlocksB, y.BlocksA})
		assert.Equal(t, x.effect, -y.effect)
		low, high := -y.High, -y.Low
		if x.By == "ratio" {
			low, high = 1/y.High, 1/y.Low
		}
		assert.InDelta(t, 1, ratioOf(x.Low, low), 1e-9)
		assert.InDelta(t, 1, ratioOf(x.High, high), 1e-9)
	}
	if p.Louder == nil {
		assert.Nil(t, q.Louder)
	} else {
		want := *p.Louder
		want.After = !want.After
		assert.Equal(t, &want, q.Louder)
	}
	assert.Equal(t, p.SameRecording, q.SameRecording)
	for i := range p.Measures {
		assert.Equal(t, turned[p.Measures[i].Verdict], q.Measures[i].Verdict)
	}
	require.Len(t, q.Stages, len(p.Stages))
	for i := range p.Stages {
		x, y := p.Stages[i], q.Stages[i]
		assert.Equal(t, []any{x.Name, x.LevelA, x.LevelB, x.SecondsA}, []any{y.Name, y.LevelB, y.LevelA, y.SecondsB})
	}
	require.Len(t, q.Settings, len(p.Settings))
	for i := range p.Settings {
		assert.Equal(t, p.Settings[i].Before, q.Settings[i].After)
	}
}

func ratioOf(a, b float64) float64 {
	if a == b {
		return 1
	}
	return a / b
}

// sound holds what is true of every result: it can be written as JSON, says
// something, and every row's interval agrees with its verdict.
func sound(t *testing.T, r *Result) {
	t.Helper()
	text, err := json.Marshal(r)
	require.NoError(t, err)
	assert.NotContains(t, string(text), "null,\"stages")
	assert.NotEmpty(t, r.Sentence)
	assert.NotEmpty(t, r.Method)
	for i := range r.Rows {
		row := &r.Rows[i]
		m := &measures[keyed(row.Measure)]
		low, high := row.Low, row.High
		if row.By == "ratio" {
			low, high = math.Log(low), math.Log(high)
		}
		assert.True(t, low <= row.effect && row.effect <= high, "%+v", row)
		assert.NotEqual(t, Word(""), row.Verdict)
		switch row.Verdict {
		case Better, Worse, More, Less:
			assert.True(t, low > m.least-1e-9 || high < -m.least+1e-9, "%+v", row)
		}
	}
}

func keyed(key string) int {
	for k := range measures {
		if measures[k].key == key {
			return k
		}
	}
	return -1
}

func TestBetterAndWorse(t *testing.T) {
	before := session(noisy(1, 0.02), 0.2, 0.3)
	after := session(noisy(2, 0.01), 0.2, 0.3)
	r := Between(before, after)
	sound(t, r)
	assert.Equal(t, Better, r.Verdict)
	assert.Contains(t, r.Sentence, "B against A, better: ")
	assert.Contains(t, r.Sentence, "times as much")
	back := Between(after, before)
	assert.Equal(t, Worse, back.Verdict)
	mirrored(t, r, back)
	assert.Equal(t, r, Between(before, after), "the same again, and neither was changed")

	t.Run("the ratio is right", func(t *testing.T) {
		for _, row := range r.Rows {
			if row.Measure == "control_roll" {
				assert.InDelta(t, 0.5, *row.Ratio, 0.08, row.Stage)
				assert.Equal(t, Better, row.Verdict, row.Stage)
			}
		}
	})
	t.Run("against itself", func(t *testing.T) {
		r := Between(before, before)
		sound(t, r)
		assert.Equal(t, CannotTell, r.Verdict)
		for _, row := range r.Rows {
			assert.Zero(t, row.effect)
			assert.Equal(t, 1.0, row.P)
		}
		mirrored(t, r, r)
	})
	t.Run("stages in another order", func(t *testing.T) {
		again := Between(before, session(noisy(2, 0.01), 0.3, 0.2))
		sound(t, again)
		assert.Equal(t, Better, again.Verdict)
		require.Len(t, again.Stages, len(r.Stages))
		for i := range r.Stages {
			assert.Equal(t, r.Stages[i].Name, again.Stages[i].Name)
		}
	})
	t.Run("a small difference, as sure as can be", func(t *testing.T) {
		a, b := session(noisy(3, 0.02), 0.2, 0.3, 0.2, 0.3, 0.2, 0.3), session(noisy(4, 0.021), 0.2, 0.3, 0.2, 0.3, 0.2, 0.3)
		assert.Equal(t, CannotTell, Between(a, b).Verdict)
	})
	t.Run("twice next to nothing", func(t *testing.T) {
		a, b := session(noisy(5, 0.0001), 0.2, 0.3), session(noisy(6, 0.0002), 0.2, 0.3)
		r := Between(a, b)
		sound(t, r)
		assert.Equal(t, CannotTell, r.Verdict)
		for _, row := range r.Rows {
			if row.Measure == "control_roll" {
				assert.Equal(t, Same, row.Verdict, row.Stage)
			}
		}
	})
	t.Run("better here, worse there", func(t *testing.T) {
		low, high := noisy(7, 0.01), noisy(8, 0.01)
		session(low, 0.2)
		low.control = func(t float64) float64 { return 0.05 * math.Sin(2*math.Pi*12*t) }
		low.ramp(0.3, 2).run(6)
		session(high, 0.3)
		high.control = func(t float64) float64 { return 0.05 * math.Sin(2*math.Pi*12*t) }
		high.ramp(0.2, 2).run(6)
		r := Between(low.c.Run(), high.c.Run())
		sound(t, r)
		assert.Equal(t, Mixed, r.Verdict)
		mirrored(t, r, Between(high.c.Run(), low.c.Run()))
	})
}

// TestOneThing: each cause shows in its own measure and in no other.
func TestOneThing(t *testing.T) {
	for _, c := range []struct {
		measure string
		change  func(b *bench)
		want    Word
		overall Word
	}{
		{"balance", func(b *bench) { b.outs = [4]float64{0.4, 0.2, 0.4, 0.2} }, Worse, Worse},
		{"heat", func(b *bench) { b.temp = func(t float64) float64 { return 20 + t } }, Worse, Worse},
		{"efficiency", func(b *bench) { b.load = 1.5 }, Worse, Worse},
		{"efficiency", func(b *bench) { b.load = 6 }, Better, Better},
		{"vibration", func(b *bench) { b.force = func(t float64) float64 { return math.Sin(140 * t) } }, Worse, Worse},
		{"cell_volts", func(b *bench) { b.volts, b.amps = 14.4, 2/0.9 }, Less, CannotTell},
		{"current", func(b *bench) { b.amps, b.load = 3, 4.5 }, More, CannotTell},
	} {
		t.Run(c.measure+" "+string(c.want), func(t *testing.T) {
			a, b := newBench(), newBench()
			for _, k := range []*bench{a, b} {
				k.armed = 1
				k.steady(0.3)
			}
			c.change(b)
			r := Between(a.run(12).c.Run(), b.run(12).c.Run())
			sound(t, r)
			assert.Equal(t, c.overall, r.Verdict, r.Sentence)
			for _, f := range r.Measures {
				switch {
				case f.Measure == c.measure:
					assert.Equal(t, c.want, f.Verdict)
				case f.Counts:
					assert.Contains(t, []Word{CannotTell, Same}, f.Verdict, f.Measure)
				}
			}
		})
	}
}

// TestNothingInCommon says why.
func TestNothingInCommon(t *testing.T) {
	still := func(do func(b *bench)) *Run {
		b := newBench()
		do(b)
		return b.c.Run()
	}
	armedAt := func(throttle, seconds float64) *Run {
		return still(func(b *bench) { b.armed = 1; b.steady(throttle).run(seconds) })
	}
	good := armedAt(0.3, 8)
	for _, c := range []struct {
		name string
		a, b *Run
		say  string
	}{
		{"empty", good, still(func(*bench) {}), "nothing came in B"},
		{"both empty", NewCollector(craft.Craft{}).Run(), NewCollector(craft.Craft{}).Run(), "nothing came in A"},
		{"disarmed", still(func(b *bench) { b.run(9) }), good, "A was never armed"},
		{"short", good, armedAt(0.3, 1.2), "B never stood still"},
		{"a second and a half", good, armedAt(0.3, 2.6), "B held it for under 2 s"},
		{"other throttles", armedAt(0.2, 8), good, "A held throttle 0.20 for 6.5 s, B never did"},
		{"idle and a hold", armedAt(0, 8), good, "A held armed idle, output 0.08 for 6.5 s, B never did"},
		{"nothing measured", still(func(b *bench) {
			b.armed = 1
			for _, tag := range []decode.Tag{decode.Accel, decode.Temp, decode.Pack, decode.Load, decode.Axes} {
				b.out[tag] = true
			}
			b.outs = [4]float64{0, 0, 0, 0}
			b.steady(0.3).run(8)
		}), still(func(b *bench) {
			b.armed = 1
			b.out[decode.Out], b.out[decode.Accel], b.out[decode.Temp], b.out[decode.Pack] = true, true, true, true
			b.steady(0.3).run(8)
		}), "no measure was told by both"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := Between(c.a, c.b)
			sound(t, r)
			assert.Equal(t, CannotTell, r.Verdict)
			assert.Contains(t, r.Sentence, c.say)
			assert.Empty(t, r.Rows)
			assert.Len(t, r.Missing, int(measureCount))
			mirrored(t, r, Between(c.b, c.a))
		})
	}
}

// TestBeside: what stands beside the figures.
func TestBeside(t *testing.T) {
	side := func(name string, mass float64, change func(b *bench)) *Run {
		b := noisy(uint64(mass), 0.01)
		b.c.run.Craft.Name, b.c.run.Craft.MassG = "Heron", mass
		b.set("rate_p_roll", 0.004).set("idle_ready", 0.08).set("same", 3)
		change(b)
		r := session(b, 0.3)
		r.Name = name
		return r
	}
	rang := func(b *bench, k detect.Kind, p detect.Priority, times int) {
		for range times {
			b.c.Event(&alarms.Event{Kind: k, Priority: detect.Low})
			b.c.Event(&alarms.Event{Kind: k, Priority: p, Change: alarms.Worsened})
			b.c.Event(&alarms.Event{Kind: k, Priority: detect.Low, Change: alarms.Eased})
			b.c.Event(&alarms.Event{Kind: k, Change: alarms.Cleared})
		}
	}
	a := side("first.bell", 655, func(b *bench) {
		b.set("lost", 1).set("nought", 0)
		rang(b, detect.RisingOscillation, detect.High, 2)
		rang(b, detect.Windup, detect.Low, 1)
		b.out[decode.Temp] = true
	})
	b := side("second.bell", 700, func(b *bench) {
		b.set("rate_p_roll", 0.002).set("new", 7).set("nought", 1)
		rang(b, detect.Windup, detect.Medium, 1)
		b.out[decode.Temp], b.out[decode.Load] = true, true
	})
	r := Between(a, b)
	sound(t, r)
	v := func(x float64) *float64 { return &x }
	assert.Equal(t, []Setting{
		{"lost", v(1), nil, nil, ""},
		{"new", nil, v(7), nil, ""},
		{"nought", v(0), v(1), nil, ""},
		{"rate_p_roll", v(0.004), v(0.002), v(0.5), "changed during second.bell"},
	}, r.Settings)
	assert.Equal(t, []Difference{{"mass", "655 g", "700 g"}}, r.Craft)
	assert.Equal(t, []Alarm{{"rising-oscillation", 2, 0, "high", "none"}, {"windup", 1, 1, "low", "medium"}}, r.Alarms)
	missing := map[string]string{}
	for _, l := range r.Missing {
		missing[l.Measure] = l.Why
	}
	assert.Equal(t, map[string]string{
		"heat":       "first.bell and second.bell have no temp to tell it",
		"efficiency": "second.bell has no load and pack to tell it",
	}, missing)
	all := strings.Join(r.Remarks, "\n")
	assert.Contains(t, all, "not the same craft: mass 655 g and 700 g")
	assert.True(t, strings.HasPrefix(r.Sentence, "rising-oscillation rang at high priority in first.bell, nothing over medium in second.bell; "), r.Sentence)
	assert.Contains(t, all, "rate_p_roll changed during second.bell")
	mirrored(t, r, Between(b, a))
}

// TestUnlikeLevels: what a difference in throttle may explain is no verdict.
func TestUnlikeLevels(t *testing.T) {
	at := func(throttle float64) *Run {
		b := newBench()
		b.armed = 1
		b.force = func(t float64) float64 { return 20 * throttle * throttle * math.Sin(140*t) }
		return b.steady(throttle).run(20).c.Run()
	}
	for _, c := range []struct {
		a, b     float64
		compared bool
	}{{0.10, 0.125, true}, {0.30, 0.329, true}, {0.30, 0.34, false}} {
		r := Between(at(c.a), at(c.b))
		sound(t, r)
		assert.Equal(t, CannotTell, r.Verdict, r.Sentence)
		assert.Equal(t, c.compared, r.Stages[0].Compared)
	}
}

// TestOnlyTheSameStretch: a motor warms more slowly the longer it runs, and a
// longer hold is no cooler craft.
func TestOnlyTheSameStretch(t *testing.T) {
	hold := func(seconds float64) *Run {
		b := newBench()
		b.armed = 1
		b.temp = func(t float64) float64 { return 20 + 30*(1-math.Exp(-t/8)) }
		return b.steady(0.3).run(seconds).c.Run()
	}
	r := Between(hold(9), hold(60))
	sound(t, r)
	assert.Equal(t, CannotTell, r.Verdict, r.Sentence)
	for _, row := range r.Rows {
		if row.Measure == "heat" {
			assert.InEpsilon(t, row.Before, row.After, 0.1)
		}
	}
}

// TestByOutput: without a collective throttle the outputs tell the level.
func TestByOutput(t *testing.T) {
	hold := func(size float64) *Run {
		b := noisy(9, size)
		b.throttle = math.NaN()
		b.stick[0], b.outs = 0.3, [4]float64{0.3, 0.3, 0.3, 0.3}
		return b.run(12).c.Run()
	}
	r := Between(hold(0.02), hold(0.005))
	sound(t, r)
	assert.Equal(t, Better, r.Verdict)
	assert.Equal(t, "output 0.30", r.Stages[0].Name)
}
