package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// pushes is an axes stream whose output in roll is a function of time, with the
// rate and the demand that go with it, and noise.
func pushes(tr *trial, hz float64, output, rate, demand func(t float64) float64) stream {
	return stream{decode.Axes, hz, 0.2, 0.05, func(at float64) []float64 {
		n := tr.rng.NormFloat64
		return []float64{rate(at) + n(), n(), n(), demand(at), 0, 0, output(at) + 0.005*n(), 0.005 * n(), 0.005 * n(), 0.35}
	}}
}

func flat(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// pushed rises from one time on by so much a second, up to a value.
func pushed(from, by, most float64) func(float64) float64 {
	return func(t float64) float64 { return math.Copysign(min(math.Abs(by)*max(t-from, 0), most), by) }
}

func TestWindup(t *testing.T) {
	free, stand := heron, heron
	free.Hold, stand.Hold = craft.Free, craft.Stand
	fades := func(t float64) float64 { return 20 * math.Exp(-t/1.5) }
	rocks := func(t float64) float64 { return 0.18 * math.Sqrt2 * math.Sin(2*math.Pi*3*t) }
	for _, c := range []struct {
		name                 string
		craft                craft.Craft
		output, rate, demand func(float64) float64
		want                 Priority
		by                   float64 // seconds, latest
	}{
		{"stick held against a tether", heron, pushed(2, 0.03, 0.12), flat(1), flat(10), Low, 6},
		{"the other way", heron, pushed(2, -0.03, 0.12), flat(-1), flat(-10), Low, 6},
		{"on a stand", stand, pushed(2, 0.03, 0.12), flat(0), flat(10), Low, 6},
		{"just over the limit", heron, pushed(2, 0.02, 0.056), flat(0), flat(8), Low, 9},
		{"just under it", heron, pushed(2, 0.02, 0.044), flat(0), flat(8), None, 0},
		{"the gyro's own bias", heron, pushed(2, 0.012, 0.09), flat(-3), flat(0), Low, 9},
		{"free", free, pushed(2, 0.03, 0.12), flat(1), flat(10), None, 0},
		{"it turns as asked", heron, pushed(2, 0.03, 0.12), flat(9), flat(10), None, 0},
		{"it turns fast", heron, pushed(2, 0.03, 0.12), flat(30), flat(50), None, 0},
		{"brought level: the error dies away", heron, func(t float64) float64 { return 0.12 * (1 - math.Exp(-t/1.5)) }, flat(0), fades, None, 0},
		{"level within half a degree", heron, pushed(2, 0.03, 0.12), flat(0), flat(1.5), None, 0},
		{"an error the other way", heron, pushed(2, 0.03, 0.12), flat(1), flat(-10), None, 0},
		{"rocking on its feet", heron, rocks, flat(0), flat(10), None, 0},
		{"at rest", heron, flat(0.1), flat(0), flat(0), None, 0},
	} {
		for _, hz := range []float64{50, 200, 1000} {
			t.Run(c.name, func(t *testing.T) {
				tr := newTrial(NewWindup(), c.craft)
				tr.run(0, 12, inFlight, pushes(tr, hz, c.output, c.rate, c.demand), stream{decode.Out, 50, 0, 0, steady(all4(0.4)...)})
				if c.want == None {
					tr.silent(t)
					return
				}
				got := tr.one(t, Roll, c.want, 2, c.by)
				assert.Equal(t, CauseWindup, got.story.Cause)
				assert.Contains(t, got.story.Action, "throttle to zero lets it go")
				watchful(t, tr, true)
			})
		}
	}
}

// It worsens with the drift, stays while what wound up is there, and goes with
// the throttle.
func TestWindupLives(t *testing.T) {
	tr := newTrial(NewWindup(), heron)
	output := func(t float64) float64 { // up to 0.2, then leaking away slowly
		if t < 9 {
			return pushed(2, 0.04, 0.2)(t)
		}
		return 0.2 * math.Exp(-(t-9)/20)
	}
	demand := func(t float64) float64 {
		if t < 9 {
			return 10
		}
		return 0
	}
	level := func(t float64) []float64 {
		if t > 16 {
			return all4(0.05)
		}
		return all4(0.4)
	}
	tr.run(0, 20, inFlight, pushes(tr, 200, output, flat(0), demand), stream{decode.Out, 50, 0, 0, level})
	want := []struct {
		word  string
		level Priority
		from  float64
	}{{"raised", Low, 2}, {"worsened", Medium, 5}, {"cleared", Medium, 16}}
	if assert.Len(t, tr.said, len(want), tr.list()) {
		for i, w := range want {
			g := tr.said[i]
			assert.Equal(t, w.word, g.word)
			assert.Equal(t, w.level, g.level)
			assert.InDelta(t, w.from+2, g.at, 2.2)
		}
	}
}

// While the throttle moves nothing is raised: what holds the craft moves too.
func TestWindupWaitsForTheThrottle(t *testing.T) {
	tr := newTrial(NewWindup(), heron)
	tr.run(0, 8, inFlight, pushes(tr, 200, pushed(1, 0.03, 1), flat(0), flat(10)),
		stream{decode.Out, 50, 0, 0, func(t float64) []float64 { return all4(0.15 + 0.04*t) }})
	tr.silent(t)
	tr.run(8, 11, inFlight, pushes(tr, 200, pushed(1, 0.03, 1), flat(0), flat(10)), stream{decode.Out, 50, 0, 0, steady(all4(0.47)...)})
	tr.one(t, Roll, Medium, 8.5, 10)
}

func TestWindupLacks(t *testing.T) {
	axes := func(v ...float64) stream { return stream{decode.Axes, 100, 0, 0, steady(v...)} }
	free := heron
	free.Hold = craft.Free
	for _, c := range []struct {
		name  string
		craft craft.Craft
		axes  stream
		says  string
	}{
		{"all there", heron, axes(0, 0, 0, 0, 0, 0, 0, 0, 0, 0.3), ""},
		{"free", free, axes(0, 0, 0, 0, 0, 0, 0, 0, 0, 0.3), "nothing holds it"},
		{"no output", heron, axes(0, 0, 0, 0, 0, 0, 0, no, 0, 0.3), "pitch: controller output"},
		{"no rate", heron, axes(no, 0, 0, 0, 0, 0, 0, 0, 0, 0.3), "roll: body rate"},
		{"no demand", heron, axes(0, 0, 0, 0, 0, no, 0, 0, 0, 0.3), "yaw: demand"},
		{"slow", heron, stream{decode.Axes, 5, 0, 0, steady(0, 0, 0, 0, 0, 0, 0, 0, 0, 0.3)}, "too slow: 5 a second"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := newTrial(NewWindup(), c.craft)
			tr.run(0, 4, inFlight, c.axes)
			if got := tr.d.Missing(&tr.b); c.says == "" {
				assert.Empty(t, got)
			} else {
				assert.Contains(t, got, c.says)
			}
			tr.silent(t)
		})
	}
	tr := newTrial(NewWindup(), heron)
	assert.Contains(t, tr.d.Missing(&tr.b), "no axes stream")

	// An output that is no longer measured holds nothing, and a restart begins
	// anew.
	held := pushes(tr, 200, pushed(2, 0.03, 1), flat(0), flat(10))
	tr.run(0, 6, inFlight, held, stream{decode.Out, 50, 0, 0, steady(all4(0.4)...)})
	tr.one(t, Roll, Low, 2, 6)
	tr.d.Reset()
	tr.run(6, 7, inFlight, stream{decode.Axes, 200, 0, 0, steady(0, 0, 0, 10, 0, 0, no, 0, 0, 0.35)}, stream{decode.Out, 50, 0, 0, steady(all4(0.4)...)})
	assert.Equal(t, "cleared", tr.said[len(tr.said)-1].word)
}

// Neither the looks at a drift nor the steady seconds of a hold allocate, nor
// does the arithmetic of the weight and of the accepted sessions.
func TestHoldsAllocateNothing(t *testing.T) {
	c := heron
	c.ArmMM = 157.5
	c.Baseline.Sessions = sessionsOf(5, 2, 1.1, 0.02, 0.4)
	for _, d := range []Detector{NewWindup(), NewOutputImbalance()} {
		tr := newTrial(d, c)
		at, n, found := int64(0), 0.0, make([]Finding, 0, 16)
		samples := make([]decode.Sample, 6)
		inputs := make([]Input, len(samples))
		next := func() {
			n++
			armed := 1.0
			if n < 200 {
				armed = 0
			}
			samples[0] = sampleOf(decode.State, state(armed, 0, 1, 0.3))
			samples[1] = sampleOf(decode.Out, []float64{0.4 * armed, 0.35 * armed, 0.6 * armed, 0.4 * armed})
			samples[2] = sampleOf(decode.ERPM, all4(40000*armed))
			samples[3] = sampleOf(decode.Load, []float64{3 * armed})
			samples[4] = sampleOf(decode.Accel, []float64{0.1, 0.4 * (1 - armed), -9.8})
			samples[5] = sampleOf(decode.Axes, []float64{0, 0, 0, 10, 0, 0, 0.0004 * n, 0, 0, 0.4})
			for i := range samples {
				at += 2000
				tr.b.Now = at
				tr.learn(&samples[i], at, 80)
				inputs[i] = Input{S: &samples[i], At: at}
				d.Observe(&tr.b, &inputs[i])
				found = d.Judge(&tr.b, found[:0])
			}
		}
		for range 300 {
			next()
		}
		assert.Zero(t, testing.AllocsPerRun(1000, next), d.Kind())
		assert.NotEmpty(t, found, "%s must be at work", d.Kind())
	}
}
