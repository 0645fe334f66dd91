package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// axesOf makes an axes line of one turning axis.
func axesOf(axis int, rate, demand, throttle float64) []float64 {
	v := make([]float64, 10)
	v[axis], v[3+axis], v[9] = rate, demand, throttle
	return v
}

// tumble is a real one: 60 to 1400 deg/s in 0.23 s, growing as exp(13 t).
func tumble(t, at float64) float64 {
	if t < at {
		return 0
	}
	return min(60*math.Exp(13*(t-at)), 1400)
}

// At 150 deg/s the tumble is ln(150/60)/13 = 0.0705 s old: the evidence
// starts there, and the alarm must come within 50 ms of it (by the second
// sample after 30 ms where lines are lost or rare).
func TestTipOverHearsARealTumble(t *testing.T) {
	const start = 1 + 0.0705
	more := append(paces[:len(paces):len(paces)], struct{ hz, jitter, loss float64 }{101, 0, 0})
	for _, p := range more {
		for axis := range 3 {
			for _, sign := range []float64{1, -1} {
				tr := newTrial(NewTipOver(), heron)
				tr.run(0, 1.5, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0.3)...)},
					stream{decode.Axes, p.hz, p.jitter, p.loss, func(t float64) []float64 { return axesOf(axis, sign*tumble(t, 1), 0, 0.3) }},
					stream{decode.Out, 100, 0, 0, steady(all4(0.4)...)})
				late := 0.050
				if p.loss > 0 {
					late = max(late, 0.030+2.5/p.hz)
				}
				got := tr.one(t, Axis(axis), High, start+0.029, start+late+0.001)
				if got.value < 150 || got.limit != 150 {
					t.Errorf("%v", got)
				}
			}
		}
	}
}

func TestTipOver(t *testing.T) {
	idle := heron
	idle.IdleReady = 0.06
	free := heron
	free.Hold = craft.Free
	wide := heron
	wide.Limits.TipRate = 400
	flying := state(1, 0, 1, 0.3)
	ramp := func(t float64) float64 { return max(0, t-1) * 2000 } // over 150 deg/s at 1.075 s
	// bump is a knock: up to 400 deg/s and back within 0.1 s.
	bump := func(t float64) float64 {
		if t < 1 || t > 1.1 {
			return 0
		}
		return 400 * math.Sin(math.Pi*(t-1)/0.1)
	}
	tests := []struct {
		name  string
		craft craft.Craft
		state []float64
		out   []float64
		rate  func(float64) float64
		want  func(float64) float64 // demand
		hear  bool
	}{
		{"turns on its tether", idle, flying, all4(0.3), ramp, nil, true},
		{"slightly over idle counts as driven", idle, flying, all4(0.081), ramp, nil, true},
		{"at armed idle", idle, flying, all4(0.08), ramp, nil, false},
		{"idle not known, over 0.05", heron, flying, all4(0.051), ramp, nil, true},
		{"idle not known, at 0.05", heron, flying, all4(0.05), ramp, nil, false},
		{"outputs at zero", idle, flying, all4(0), ramp, nil, false},
		{"armed not known", idle, state(no, 0, 1, 0.3), all4(0.3), ramp, nil, true},
		{"carried while disarmed", idle, state(0, 0, 1, 0), all4(0), ramp, nil, false},
		{"disarmed with outputs that stay", idle, state(0, 0, 1, 0), all4(0.3), ramp, nil, false},
		{"free in the air", free, state(1, 0, 0, 0.3), all4(0.3), ramp, nil, false},
		{"free on the ground", free, flying, all4(0.3), ramp, nil, true},
		{"free, ground not known", free, state(1, 0, no, 0.3), all4(0.3), ramp, nil, false},
		{"asked to turn", idle, flying, all4(0.3), ramp, ramp, false},
		{"asked to turn less", idle, flying, all4(0.3), ramp, func(t float64) float64 { return ramp(t) / 3 }, true},
		{"asked to, and does not", idle, flying, all4(0.3), func(float64) float64 { return 0 }, ramp, false},
		{"demand not measured", idle, flying, all4(0.3), ramp, func(float64) float64 { return no }, true},
		{"under the limit", idle, flying, all4(0.3), func(t float64) float64 { return min(ramp(t), 149) }, nil, false},
		{"own limit", wide, flying, all4(0.3), func(t float64) float64 { return min(ramp(t), 399) }, nil, false},
		{"a knock that dies away, motors off", idle, state(0, 0, 1, 0), all4(0), bump, nil, false},
		{"a short knock with the motors on", idle, flying, all4(0.3), func(t float64) float64 {
			if t < 1 || t > 1.06 {
				return 0
			}
			return 300 * math.Sin(math.Pi*(t-1)/0.06) // over for 40 ms, falling for the last 20
		}, nil, false},
		{"shaking both ways at 20 Hz", idle, flying, all4(0.3), func(t float64) float64 { return 300 * math.Sin(2*math.Pi*20*t) }, nil, false},
		{"at the end of the gyro's range at once", idle, flying, all4(0.3), from1(1, 0, 2000), nil, true},
		{"over for 25 ms", idle, flying, all4(0.3), func(t float64) float64 {
			if t > 1 && t < 1.025 {
				return ramp(t) * 8
			}
			return 0
		}, nil, false},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			for _, hz := range []float64{200, 1000} {
				tr := newTrial(NewTipOver(), c.craft)
				tr.run(0, 1.4, stream{decode.State, 50, 0, 0, steady(c.state...)}, stream{decode.Out, 100, 0, 0, steady(c.out...)},
					stream{decode.Axes, hz, 0, 0, func(t float64) []float64 {
						want := 0.0
						if c.want != nil {
							want = c.want(t)
						}
						return axesOf(1, c.rate(t), want, 0.3)
					}})
				if c.hear {
					tr.one(t, Pitch, High, 1.029, 1.2)
				} else {
					tr.silent(t)
				}
			}
		})
	}
}

func from1(at, before, after float64) func(float64) float64 {
	return func(t float64) float64 {
		if t < at {
			return before
		}
		return after
	}
}

// One wild sample rings nothing, and one that disagrees does not hide a
// tumble on a fast stream.
func TestTipOverWildSamples(t *testing.T) {
	for _, hz := range []float64{50, 200, 1000, 2000} {
		rng := rand.New(rand.NewPCG(3, 4))
		tr := newTrial(NewTipOver(), heron)
		last := -1.0
		tr.run(0, 20, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0.3)...)}, stream{decode.Out, 100, 0, 0, steady(all4(0.4)...)},
			stream{decode.Axes, hz, 0, 0, func(t float64) []float64 {
				if t-last > 0.09 && rng.Float64() < 0.05 {
					last = t
					return axesOf(0, 1500*math.Copysign(1, rng.Float64()-0.5), 0, 0.3)
				}
				return axesOf(0, 20*rng.NormFloat64(), 0, 0.3)
			}})
		tr.silent(t)
		if last < 0 {
			t.Fatal("no wild sample was made")
		}
	}
	tr := newTrial(NewTipOver(), heron)
	tr.run(0, 1.3, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0.3)...)}, stream{decode.Out, 100, 0, 0, steady(all4(0.4)...)},
		stream{decode.Axes, 400, 0, 0, func(t float64) []float64 {
			if math.Abs(t-1.09) < 0.001 {
				return axesOf(0, 0, 0, 0.3)
			}
			return axesOf(0, tumble(t, 1), 0, 0.3)
		}})
	tr.one(t, Roll, High, 1.09, 1.1215)
}

// Over a hole nothing is joined; a short one hides nothing.
func TestTipOverHoles(t *testing.T) {
	for _, hole := range []float64{0.040, 0.071, 0.2} {
		tr := newTrial(NewTipOver(), heron)
		keep := []stream{{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0.3)...)}, {decode.Out, 100, 0, 0, steady(all4(0.4)...)}}
		ax := stream{decode.Axes, 500, 0, 0, func(t float64) []float64 { return axesOf(0, tumble(t, 1), 0, 0.3) }}
		tr.run(0, 1.05, append(keep, ax)...)
		tr.run(1.05, 1.05+hole, keep...)
		tr.run(1.05+hole, 1.5, append(keep, ax)...)
		latest := 1.0705 + 0.051
		if hole > 0.05 {
			latest = 1.05 + hole + 0.042
		}
		tr.one(t, Roll, High, 1.0, latest)
	}
}

// What has fallen is silent once the motors are off, and a restart joins
// nothing.
func TestTipOverEnds(t *testing.T) {
	tr := newTrial(NewTipOver(), heron)
	ax := stream{decode.Axes, 200, 0, 0, func(t float64) []float64 { return axesOf(0, tumble(t, 1), 0, 0.3) }}
	tr.run(0, 1.5, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0.3)...)}, stream{decode.Out, 100, 0, 0, from(1.4, all4(0.4), all4(0))}, ax)
	tr.one(t, Roll, High, 1.1, 1.13)
	tr.run(1.5, 3, stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0)...)}, ax)
	if last := tr.said[len(tr.said)-1]; last.word != "cleared" || last.at > 1.95 {
		t.Errorf("must clear when the outputs are at zero:%s", tr.list())
	}

	tr = newTrial(NewTipOver(), heron)
	tr.run(0, 1.085, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0.3)...)}, ax)
	tr.d.Reset()
	tr.run(1.085, 1.112, ax)
	tr.silent(t)
	tr.run(1.112, 1.2, ax)
	tr.one(t, Roll, High, 1.114, 1.13)
}

// Without outputs the throttle tells whether the motors are driven, without
// it the stick, without both the worst is assumed.
func TestTipOverWithoutOutputs(t *testing.T) {
	for _, tt := range []struct {
		name            string
		throttle, stick float64
		hear            bool
	}{
		{"throttle up", 0.3, 0, true},
		{"throttle down, stick up", 0.0, 0.5, false},
		{"stick up", no, 0.3, true},
		{"stick down", no, 0, false},
		{"nothing known", no, no, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr := newTrial(NewTipOver(), heron)
			tr.run(0, 1.4, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, tt.stick)...)},
				stream{decode.Axes, 200, 0, 0, func(t float64) []float64 { return axesOf(2, tumble(t, 1), 0, tt.throttle) }})
			if tt.hear {
				tr.one(t, Yaw, High, 1.1, 1.13)
			} else {
				tr.silent(t)
			}
		})
	}
}

// Directions by ISO 1151-1 (x forward, y right, z down; as the protocol cites
// it, standard not seen): roll + right side down, pitch + nose up, yaw +
// clockwise seen from above.
func TestTipOverNamesTheWay(t *testing.T) {
	for axis, ways := range [3][2]string{
		{"right side down", "left side down"}, {"nose up", "nose down"}, {"clockwise seen from above", "counter-clockwise seen from above"},
	} {
		for i, sign := range []float64{1, -1} {
			tr := newTrial(NewTipOver(), heron)
			tr.run(0, 1.3, stream{decode.State, 50, 0, 0, steady(state(1, 0, 1, 0.3)...)},
				stream{decode.Axes, 200, 0, 0, func(t float64) []float64 { return axesOf(axis, sign*tumble(t, 1), 0, 0.3) }})
			got := tr.one(t, Axis(axis), High, 1.1, 1.13)
			if got.story.More[0].Value != ways[i] {
				t.Errorf("axis %d: got %v, want %s", axis, got.story.More[0].Value, ways[i])
			}
		}
	}
}

func TestTipOverMissing(t *testing.T) {
	tr := newTrial(NewTipOver(), heron)
	watchful(t, tr, false)
	tr.feed(0, decode.Axes, 200, []float64{0, no, no, no, no, no, no, no, no, no})
	watchful(t, tr, true)
}
