package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// TestStages: what happened is cut where it happened.
func TestStages(t *testing.T) {
	b := newBench()
	b.steady(0).run(2) // disarmed
	b.armed = 1
	b.run(4)               // 1 s to settle, 3 s of idle
	b.ramp(0.2, 4).run(5)  // half a second to settle
	b.ramp(0.3, 2).run(3)  // the same
	b.ramp(0.2, 2).run(2)  // the lower one again
	b.ramp(0, 2).run(0.25) // too short for anything
	b.stopped = 1
	b.run(3)
	r := b.c.Run()
	got := []string{}
	for _, s := range r.stages(byThrottle) {
		got = append(got, fmt.Sprintf("%s for %g s", s.name(), s.seconds()))
	}
	assert.Equal(t, []string{"armed idle, output 0.08 for 3 s", "throttle 0.20 for 6 s", "throttle 0.30 for 2.5 s"}, got)
	for _, k := range r.blocks {
		assert.True(t, k.idle || math.Abs(k.thr-0.2) < 0.001 || math.Abs(k.thr-0.3) < 0.001, "%v", k.thr)
	}
}

// TestLeftOut: stretches that must not be measured, each beside its twin that
// may.
func TestLeftOut(t *testing.T) {
	hold := func(b *bench) *bench {
		b.armed = 1
		return b.steady(0.25).run(3)
	}
	whole := 2.0 // 3 s less the second after arming
	for _, c := range []struct {
		name string
		do   func(b *bench)
		want float64
	}{
		{"a hold", func(b *bench) { hold(b) }, whole},
		{"disarmed", func(b *bench) { hold(b); b.armed = 0; b.run(9) }, whole},
		{"stopped", func(b *bench) { b.stopped = 1; hold(b) }, 0},
		{"a slow ramp", func(b *bench) { hold(b).ramp(0.35, 5) }, whole},
		{"a stick that moves", func(b *bench) {
			hold(b)
			for range 40 {
				b.stick[1] = 0.03 - b.stick[1]
				b.run(0.2)
			}
		}, whole},
		{"a stick that trembles", func(b *bench) {
			hold(b)
			for range 20 {
				b.stick[1] = 0.01 - b.stick[1]
				b.run(0.2)
			}
		}, whole + 4},
		{"a stick far out", func(b *bench) { b.stick[2] = 0.2; hold(b) }, 0},
		{"a height keeper at the throttle", func(b *bench) {
			hold(b)
			for i := range 30 {
				b.throttle = 0.25 + 0.03*float64(i%3)
				b.run(0.4)
			}
		}, whole},
		{"armed untold, turning", func(b *bench) { b.out[decode.State] = true; hold(b) }, 2.5},
		{"armed untold, at rest", func(b *bench) {
			b.out[decode.State] = true
			hold(b).steady(0)
			b.outs = [4]float64{}
			b.run(5)
		}, 2.5},
		{"a hole in the stream", func(b *bench) { hold(b); b.t += 0.3; b.run(2.4) }, whole + 2},
		{"a bridge that began anew", func(b *bench) {
			b.send(decode.Hello, 1, 7)
			hold(b)
			b.send(decode.Hello, 1, 7)
			b.run(1)
			b.send(decode.Hello, 1, 8)
			b.run(2.6)
		}, whole + 1 + 2},
		{"not numbers", func(b *bench) { hold(b); b.spoil = math.NaN(); b.run(3) }, whole},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench()
			c.do(b)
			r := b.c.Run()
			assert.InDelta(t, c.want, r.steady(), 0.51)
			for _, k := range r.blocks {
				for i, v := range k.v {
					assert.False(t, math.IsInf(v, 0), "%s %v", measures[i].key, v)
				}
			}
		})
	}
}

// TestDemandsSpeakWhereSticksDoNot: a craft that tells no sticks moves them all
// the same.
func TestDemandsSpeakWhereSticksDoNot(t *testing.T) {
	steady := func(demand func(t float64) float64) float64 {
		c := NewCollector(craft.Craft{})
		for i := range 4000 {
			at := float64(i) / 400
			s := decode.Sample{Tag: decode.Axes}
			for k, v := range []float64{0, 0, 0, demand(at), 0, 0, 0, 0, 0, 0.3} {
				s.Put(k, v)
			}
			c.Sample(int64(at*1e6), &s)
			s = decode.Sample{Tag: decode.Out}
			for k := range 4 {
				s.Put(k, 0.3)
			}
			c.Sample(int64(at*1e6), &s)
		}
		return c.Run().steady()
	}
	assert.Greater(t, steady(func(float64) float64 { return 0 }), 9.0)
	assert.Greater(t, steady(func(t float64) float64 { return 20 * math.Sin(2*math.Pi*14*t) }), 9.0, "a loop's own trembling")
	assert.Less(t, steady(func(t float64) float64 { return 60 * math.Sin(2*math.Pi*0.7*t) }), 1.0, "a hand")
}

// TestValues: every measure of a bench whose figures are known.
func TestValues(t *testing.T) {
	b := newBench()
	b.armed = 1
	sine := func(size, hz, offset float64) func(float64) float64 {
		return func(t float64) float64 { return offset + size*math.Sin(2*math.Pi*hz*t) }
	}
	b.control, b.turn = sine(0.05, 10, 0.2), sine(6, 10, -3) // steady parts do not count
	b.force = sine(2, 24, -9.81)
	b.temp = func(t float64) float64 { return 20 + 0.8*t }
	b.steady(0.4).run(12)
	r := b.c.Run()
	require.Greater(t, len(r.blocks), 18)
	// The band passes 10 Hz by 0.97 of its size (TestBand has the formula).
	low, high := bandLow*pair, bandHigh/pair
	pass := 100 / (100 + low*low) / (1 + 100/high/high)
	root := math.Sqrt2
	third := math.Pow(1./6, 1./3) // geometric mean of 1, 1/2 and 1/3
	want := map[int]float64{
		controlRoll: 0.05 / root * pass, controlPitch: 0.025 / root * pass, controlYaw: 0.05 / 3 / root * pass, controlAll: 0.05 / root * pass * third,
		rateRoll: 6 / root * pass, ratePitch: 3 / root * pass, rateYaw: 2 / root * pass, rateAll: 6 / root * pass * third,
		vibration: 2 / root, balance: 0.1, heat: 0.8, efficiency: 3 / 32., current: 2, cellVolts: 4,
	}
	require.Len(t, want, int(measureCount))
	for k, w := range want {
		var m mean
		for i := range r.blocks {
			if v := r.blocks[i].v[k]; !math.IsNaN(v) {
				m.add(v)
			}
		}
		assert.InEpsilon(t, w, m.of(10), 0.05, measures[k].key)
	}
}

// TestFoldedLine: a rotor line that folds to a fifth of a hertz shakes as hard
// as one that folds to twenty.
func TestFoldedLine(t *testing.T) {
	for _, hz := range []float64{0.2, 20, 99.8} {
		b := newBench()
		b.armed = 1
		b.force = func(t float64) float64 { return -9.81 + 2*math.Sin(2*math.Pi*hz*t) }
		r := b.steady(0.4).run(21).c.Run()
		var m mean
		for i := range r.blocks {
			m.add(r.blocks[i].v[vibration])
		}
		assert.InEpsilon(t, math.Sqrt2, m.rms(20), 0.03, "%v Hz", hz)
	}
}

// TestCollectorIsSmall: an hour at 1400 lines a second, all of it steady.
func TestCollectorIsSmall(t *testing.T) {
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	b := newBench()
	b.rate, b.armed = 1000, 1
	b.steady(0.3)
	seconds := 3600.0
	if testing.Short() || raceOn {
		seconds = 600
	}
	b.run(seconds)
	r := b.c.Run()
	runtime.GC()
	runtime.ReadMemStats(&after)
	require.InDelta(t, seconds, r.steady(), 2)
	assert.Less(t, int64(after.HeapAlloc)-int64(before.HeapAlloc), int64(8<<20))
	runtime.KeepAlive(b)
}

// TestCollectorAllocatesNothing for a line.
func TestCollectorAllocatesNothing(t *testing.T) {
	b := newBench()
	b.armed = 1
	b.steady(0.3).run(5)
	name := []byte("rate_p_roll")
	s := decode.Sample{Tag: decode.Set, Word: name}
	s.Put(decode.SetValue, 0.002)
	craftLine := decode.Sample{Tag: decode.Craft, Text: []byte("Marsh Heron"), Word: []byte("quad-x")}
	b.c.Sample(int64(b.t*1e6), &craftLine)
	b.c.Sample(int64(b.t*1e6), &s)
	axes, out := decode.Sample{Tag: decode.Axes}, decode.Sample{Tag: decode.Out}
	for i := range 10 {
		axes.Put(i, 0.3)
		out.Put(i%8, 0.3)
	}
	assert.Zero(t, testing.AllocsPerRun(3000, func() {
		b.t += 1. / 400
		at := int64(b.t * 1e6)
		b.c.Sample(at, &axes)
		b.c.Sample(at, &out)
		b.c.Sample(at, &s)
		b.c.Sample(at, &craftLine)
		b.c.Event(&alarms.Event{Kind: detect.Windup, Priority: detect.Low})
	}))
	assert.Greater(t, b.c.Run().steady(), 10.0)
}

// TestBoundsOfTheCollector: nothing that a bridge sends makes it grow without
// end.
func TestBoundsOfTheCollector(t *testing.T) {
	b := newBench()
	for i := range 3 * maxSettings {
		b.set(fmt.Sprintf("made_up_%d", i), 1)
	}
	b.set("made_up_1", 2).set("made_up_1", 1)
	b.c.run.blocks = make([]block, maxBlocks-2)
	b.armed = 1
	b.steady(0.3).run(6)
	b.c.Sample(1, &decode.Sample{Tag: decode.TagCount + 3})
	b.c.Event(&alarms.Event{Kind: detect.KindCount})
	r := b.c.Run()
	assert.Len(t, r.settings, maxSettings)
	assert.Equal(t, setting{1, true}, r.settings["made_up_1"])
	assert.Len(t, r.blocks, maxBlocks)
	assert.True(t, r.full)
}

// TestAnythingGoes: no line, however absurd, breaks a comparison.
func TestAnythingGoes(t *testing.T) {
	rng := rand.New(rand.NewPCG(100000, 5))
	odd := []float64{0, 1, -1, 0.3, 1e308, -1e308, 1e9, math.NaN(), math.Inf(1), math.Inf(-1), math.SmallestNonzeroFloat64}
	var runs []*Run
	for k := range 40 {
		b := newBench()
		b.armed = 1
		b.steady(0.3)
		for range 6 {
			for range k * 5 {
				s := decode.Sample{Tag: decode.Tag(rng.IntN(int(decode.TagCount))), Word: []byte("w"), Text: []byte("t")}
				for i := range decode.MaxNum {
					if rng.IntN(3) > 0 {
						s.Put(i, odd[rng.IntN(len(odd))])
					}
				}
				if s.Tag == decode.State && rng.IntN(2) == 0 {
					s.Tag = decode.Temp
				}
				b.c.Sample(int64((b.t+rng.NormFloat64()*0.05)*1e6), &s)
			}
			b.run(2.5)
		}
		runs = append(runs, b.c.Run())
	}
	steady := 0.0
	for i := range runs {
		steady += runs[i].steady()
		for j := range i {
			sound(t, Between(runs[i], runs[j]))
		}
	}
	assert.Greater(t, steady, 100.0, "there was something to compare")
}

// BenchmarkCollector is a second of a bench, lines made by the way.
func BenchmarkCollector(b *testing.B) {
	k := newBench()
	k.rate, k.armed = 1000, 1
	k.steady(0.3)
	b.ReportAllocs()
	for b.Loop() {
		k.run(1)
	}
}
