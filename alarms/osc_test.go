package alarms_test

import (
	"fmt"
	"math"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

func quantile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	sort.Float64s(x)
	return x[min(int(q*float64(len(x))), len(x)-1)]
}

// hard adds everything that a bench does besides: stick steps, throttle up
// and down, rotor lines, drift of the integrators, five percent lost lines.
func hard(b bench) bench {
	b.loss, b.steps, b.ramps, b.rotors, b.windup = 0.05, true, true, 0.01, true
	return b
}

// TestOscillationGrows: whatever grows by no more than 0.35 a cycle, at ten
// samples a cycle and more, is heard before the limit and at the right axis,
// on a quiet bench and on a busy one.
func TestOscillationGrows(t *testing.T) {
	seeds := 6
	switch {
	case quick:
		seeds = 1
	case testing.Short():
		seeds = 3
	}
	for _, rate := range []float64{200, 400, 1000} {
		for _, r := range []struct{ hz, growth float64 }{
			{3, 0.3}, {3, 1}, {5, 0.5}, {8, 1}, {8, 2.5}, {15, 1}, {15, 5}, {25, 2}, {40, 1}, {40, 5},
		} {
			if r.hz*10 > rate {
				continue
			}
			t.Run(fmt.Sprintf("%.0f per s, %.0f Hz, %.1f per s", rate, r.hz, r.growth), func(t *testing.T) {
				t.Parallel()
				for _, busy := range []bool{false, true} {
					var amps []float64
					for seed := range seeds {
						b := bench{rate: rate, jitter: 0.1, loss: 0.03, noise: 1, axis: seed % 3, hz: r.hz, growth: r.growth, top: 0.3, erpm: true}
						b.start, b.begin = 0.001, 6
						b.seconds = b.begin + math.Log(200)/r.growth
						if busy {
							b = hard(b)
						}
						res := b.run(uint64(1000 + seed))
						require.False(t, res.silent, "passed the limit in silence: seed %d, busy %v", seed, busy)
						assert.Greater(t, res.at, b.begin, "rang before there was anything")
						assert.Equal(t, detect.Axis(b.axis), res.where)
						amps = append(amps, res.amplitude)
					}
					t.Logf("busy %-5v amplitude at the alarm: median %.4f, worst %.4f of %d", busy, quantile(amps, 0.5), quantile(amps, 1), seeds)
				}
			})
		}
	}
}

// loudAlarms counts raises and worsenings of medium and high priority.
func loudAlarms(t *testing.T, events []alarms.Event) (n int) {
	t.Helper()
	for _, ev := range events {
		if ev.Kind != detect.RisingOscillation || ev.Priority < detect.Medium {
			continue
		}
		if ev.Change == alarms.Raised || ev.Change == alarms.Worsened {
			n++
			t.Log(ev.Plain(), ev.Story.More)
		}
	}
	return n
}

// TestOscillationQuiet: nothing rings without its cause.
func TestOscillationQuiet(t *testing.T) {
	seconds := 90.0
	if quick || testing.Short() {
		seconds = 20
	}
	for name, b := range map[string]bench{
		"noise": {noise: 1}, "much noise": {noise: 4},
		"steps": {noise: 1, steps: true}, "steps, demand not measured": {noise: 1, steps: true, empty: true},
		"ramps": {noise: 1, ramps: true, rotors: 0.01}, "rotors moving": {noise: 1, rotors: 0.05, ramps: true, erpm: true},
		"rotors steady": {noise: 1, rotors: 0.05, erpm: true}, "rotors steady, speeds not measured": {noise: 1, rotors: 0.05},
		"taps": {noise: 1, taps: true}, "windup": {noise: 1, windup: true},
		"all": {noise: 1, steps: true, ramps: true, rotors: 0.02, taps: true, windup: true, erpm: true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, rate := range []float64{50, 100, 400, 1000} {
				b.rate, b.axis, b.jitter, b.loss, b.seconds = rate, -1, 0.1, 0.05, seconds
				res := b.run(uint64(rate) + 5)
				assert.Zero(t, loudAlarms(t, res.events), "at %.0f lines a second", rate)
			}
		})
	}
}

// TestOscillationCarriedByDemand: an attitude loop that swings up swings the
// demand too. It is heard as any other, whether the answer to the demand was
// taught by the sticks before or not.
func TestOscillationCarriedByDemand(t *testing.T) {
	for _, steps := range []bool{false, true} {
		for _, hz := range []float64{4, 9, 18} {
			b := bench{rate: 400, jitter: 0.1, loss: 0.02, noise: 1, axis: 1, hz: hz, growth: 0.8, start: 0.0008, top: 0.4, begin: 10, seconds: 22,
				steps: steps, rests: 8, carried: 200}
			for seed := range uint64(4) {
				res := b.run(seed)
				assert.False(t, res.silent, "%v Hz, taught %v, seed %d", hz, steps, seed)
				assert.Equal(t, detect.Pitch, res.where)
			}
		}
	}
}

// TestOscillationTooFastForTheStream: from four lines a cycle to two, and where
// faster ones fold, what swings over the limit rings high and stays up.
func TestOscillationTooFastForTheStream(t *testing.T) {
	for _, hz := range []float64{14, 18, 21, 32} { // at 50 lines a second; 32 folds to 18
		b := bench{rate: 50, jitter: 0.05, loss: 0.02, noise: 1, axis: 0, hz: hz, top: 0.4, start: 0.4, begin: 5, seconds: 20, watch: true}
		res := b.run(uint64(hz))
		ev, ok := firstOscillation(res.events)
		require.True(t, ok, "%v Hz", hz)
		assert.Less(t, ev.T, 7*detect.Second, "%v Hz", hz)
		for _, ev := range res.events {
			if ev.Kind == detect.RisingOscillation && ev.Where == detect.Roll {
				assert.NotEqual(t, alarms.Cleared, ev.Change, "%v Hz: %s", hz, ev.Plain())
				assert.Equal(t, detect.High, ev.Priority, "%v Hz: %s", hz, ev.Plain())
			}
		}
	}
	quiet := bench{rate: 50, jitter: 0.05, loss: 0.02, noise: 1, axis: 0, hz: 18, top: 0.05, start: 0.05, begin: 5, seconds: 20, watch: true}
	_, ok := firstOscillation(quiet.run(1).events)
	assert.False(t, ok, "half the limit is not over it")
}

// firstOscillation is the first raise of rising-oscillation.
func firstOscillation(events []alarms.Event) (alarms.Event, bool) {
	for _, ev := range events {
		if ev.Kind == detect.RisingOscillation && ev.Change == alarms.Raised {
			return ev, true
		}
	}
	return alarms.Event{}, false
}

// TestOscillationSteady: one over the limit rings at once and high, whatever
// its growth; one well under it does not.
func TestOscillationSteady(t *testing.T) {
	for _, c := range []struct {
		amp  float64
		want bool
	}{{0.13, true}, {0.2, true}, {0.05, false}, {0.08, false}} {
		for _, hz := range []float64{4, 12, 30} {
			b := bench{rate: 400, jitter: 0.1, loss: 0.05, noise: 1, axis: 1, hz: hz, top: c.amp, start: c.amp, begin: 5, seconds: 15, watch: true}
			if !c.want {
				b.begin = 0 // there from the start: one that leaps up is another matter
			}
			res := b.run(uint64(hz))
			ev, rang := firstOscillation(res.events)
			if !c.want {
				assert.Zero(t, loudAlarms(t, res.events), "%.2f at %.0f Hz", c.amp, hz)
				continue
			}
			require.True(t, rang, "%.2f at %.0f Hz", c.amp, hz)
			assert.Equal(t, detect.High, ev.Priority)
			assert.Equal(t, detect.Pitch, ev.Where)
			assert.InEpsilon(t, c.amp, ev.Value, 0.15)
			// Eight cycles, or the window that fits them, after it began.
			assert.Less(t, float64(ev.T)/1e6, 5+max(12/hz, 0.5), "%.0f Hz", hz)
		}
	}
}

// TestOscillationEases: one that stops growing well under the limit steps down
// to low and stays up; it is no longer said to grow.
func TestOscillationEases(t *testing.T) {
	b := bench{rate: 400, jitter: 0.1, noise: 1, axis: 0, hz: 9, growth: 0.5, top: 0.03, start: 0.001, begin: 6, seconds: 22, watch: true}
	res := b.run(12)
	var changes []alarms.Change
	for _, ev := range res.events {
		if ev.Kind != detect.RisingOscillation {
			continue
		}
		changes = append(changes, ev.Change)
		assert.NotEqual(t, detect.High, ev.Priority, ev.Plain())
		if ev.Change == alarms.Eased {
			assert.Equal(t, detect.Low, ev.Priority)
			assert.Contains(t, ev.Story.Text, "does not grow now")
			assert.Greater(t, float64(ev.T)/1e6, 6+math.Log(30)/0.5, "it still grew then")
		}
	}
	assert.Equal(t, []alarms.Change{alarms.Raised, alarms.Eased}, changes)
}

// TestOscillationFromSteady: a tone that has stood there since arming is usual;
// it must be heard before the limit all the same when it begins to grow.
func TestOscillationFromSteady(t *testing.T) {
	for _, level := range []float64{0.02, 0.04, 0.06} {
		for _, hz := range []float64{4, 9, 25} {
			if quick && level != 0.04 {
				continue
			}
			b := bench{rate: 400, jitter: 0.1, noise: 1, axis: 1, hz: hz, growth: 0.6, start: level, top: 0.3, stand: 15, seconds: 15 + math.Log(0.3/level)/0.6}
			res := b.run(uint64(hz))
			assert.False(t, res.silent, "%.0f Hz from %.2f", hz, level)
			assert.Greater(t, res.at, 15.0, "%.0f Hz from %.2f: rang while it stood", hz, level)
		}
	}
}

// TestOscillationHalfOutputs: outputs in every second line do not make the axis
// flip between two signals and watch neither.
func TestOscillationHalfOutputs(t *testing.T) {
	b := bench{rate: 400, jitter: 0.1, noise: 1, axis: 1, hz: 9, growth: 0.8, top: 0.3, start: 0.001, begin: 6, seconds: 13, halfCtrl: true}
	res := b.run(5)
	require.False(t, res.silent)
	assert.Equal(t, detect.Pitch, res.where)
}

// TestOscillationDeadSpeeds: speeds that are reported as nothing are not known:
// the rotors' lines are then told by how they move with the throttle.
func TestOscillationDeadSpeeds(t *testing.T) {
	for _, rate := range []float64{200, 400} {
		b := bench{rate: rate, jitter: 0.1, noise: 1, axis: -1, ramps: true, rotors: 0.05, erpm: true, deadERPM: true, seconds: 60}
		assert.Zero(t, loudAlarms(t, b.run(uint64(rate)).events), "%.0f a second", rate)
	}
}

// TestOscillationKeptOverHole: a hole in the stream does not say that what rang
// is gone.
func TestOscillationKeptOverHole(t *testing.T) {
	b := bench{rate: 400, jitter: 0.1, noise: 1, axis: 0, hz: 7, growth: 0.8, start: 0.002, top: 0.09, begin: 4, seconds: 20, watch: true, hole: 13}
	for _, ev := range b.run(3).events {
		if ev.Kind == detect.RisingOscillation {
			assert.NotEqual(t, alarms.Cleared, ev.Change, ev.Plain())
		}
	}
}

// TestOscillationFacts: what is said of it is true.
func TestOscillationFacts(t *testing.T) {
	b := bench{rate: 400, jitter: 0.1, loss: 0.03, noise: 1, axis: 0, hz: 9, growth: 0.8, top: 0.3, start: 0.001, begin: 6, seconds: 13}
	res := b.run(4)
	ev, ok := firstOscillation(res.events)
	require.True(t, ok)
	facts := map[string]any{}
	for _, f := range ev.Story.More {
		facts[f.Name] = f.Value
	}
	assert.InEpsilon(t, 9, facts["frequency_hz"], 0.03)
	assert.InEpsilon(t, 0.8, facts["growth_per_s"], 0.35)
	assert.InEpsilon(t, math.Ln2/0.8, facts["doubling_s"], 0.4)
	assert.InEpsilon(t, res.amplitude, ev.Value, 0.2)
	assert.InEpsilon(t, math.Log(0.1/res.amplitude)/0.8, facts["time_to_limit_s"], 0.4)
	// zeta = -sigma/sqrt(sigma^2+omega^2), from the pole.
	assert.InEpsilon(t, -0.8/math.Hypot(0.8, 2*math.Pi*9), facts["damping_ratio"], 0.35)
	assert.Equal(t, "cut throttle", ev.Story.Action)
}

// TestOscillationOneStream: with only rates, or only controller outputs, the
// oscillation is still heard, and it is said that this is less sure.
func TestOscillationOneStream(t *testing.T) {
	base := bench{rate: 400, jitter: 0.1, loss: 0.03, noise: 1, axis: 2, hz: 9, growth: 0.8, top: 0.3, start: 0.001, begin: 6, seconds: 13}
	for _, c := range []struct {
		name           string
		noRate, noCtrl bool
		unit           string
	}{{"rates alone", false, true, "deg/s"}, {"outputs alone", true, false, "1"}} {
		t.Run(c.name, func(t *testing.T) {
			b := base
			b.noRate, b.noCtrl = c.noRate, c.noCtrl
			res := b.run(8)
			ev, ok := firstOscillation(res.events)
			require.True(t, ok)
			assert.Equal(t, detect.Yaw, ev.Where)
			assert.Equal(t, c.unit, ev.Story.Unit)
			assert.Contains(t, fmt.Sprint(ev.Story.More), "less_sure")
			b.axis = -1
			b.seconds = 60
			assert.Zero(t, loudAlarms(t, b.run(9).events), "without the oscillation")
		})
	}
}

// TestOscillationDisarmed: a disarmed craft that is shaken by hand is silent.
func TestOscillationDisarmed(t *testing.T) {
	b := bench{rate: 400, noise: 1, axis: 0, hz: 5, growth: 0.5, top: 0.3, start: 0.01, begin: 3, seconds: 10, disarmed: true, watch: true}
	_, rang := firstOscillation(b.run(3).events)
	assert.False(t, rang)
}

// TestOscillationSlow: what a slow stream cannot show is said.
func TestOscillationSlow(t *testing.T) {
	for rate, want := range map[float64]string{
		15: "too slow: 15 a second", 50: "over 12 Hz", 100: "over 25 Hz", 200: "", 1000: "",
	} {
		b := bench{rate: rate, axis: -1, noise: 1, seconds: 10}
		var why string
		for _, l := range b.run(1).summary.NotWatched {
			if l.Name == "rising-oscillation" {
				why = l.Why
			}
		}
		if want == "" {
			assert.Empty(t, why, "%.0f a second", rate)
			continue
		}
		assert.Contains(t, why, want, "%.0f a second", rate)
	}
}
