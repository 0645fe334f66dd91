package detect

import (
	"testing"

	"tetherbell/decode"
)

// Slow state lines tell of the stick late: a throttle that is opened quickly
// must not ring in between, whenever it is opened, nor where the line is up to
// a fifth of its period late.
func TestGroundThrustWithSlowState(t *testing.T) {
	c := heron
	c.IdleReady = 0.06
	for _, axes := range []bool{false, true} {
		for after := range 10 {
			for _, jitter := range []float64{0, 0.1} {
				begin := 2.005 + float64(after)*0.01
				open := func(t float64) float64 { return min(max((t-begin)*10, 0), 0.5) }
				tr := newTrial(NewGroundThrust(), c)
				streams := []stream{
					{decode.State, 10, jitter, 0, func(t float64) []float64 { return state(1, 0, 1, open(t)) }},
					{decode.Out, 200, 0, 0, func(t float64) []float64 { return all4(0.06 + open(t)) }},
				}
				if axes {
					streams = append(streams, stream{decode.Axes, 500, 0, 0.05, func(t float64) []float64 { return []float64{0, 0, 0, 0, 0, 0, 0, 0, 0, open(t)} }})
				}
				tr.run(0, 4, streams...)
				tr.silent(t)
			}
		}
	}
}

// Thrust that nobody asks for, with the state lines that a bridge may send: at
// ten a second it waits for the stick, unless the collective throttle tells
// that it was not moved. Lost lines delay it no further.
func TestGroundThrustIsInTime(t *testing.T) {
	c := heron
	c.IdleReady = 0.06
	for _, tt := range []struct {
		name        string
		hz, loss    float64
		thr         func(float64) float64 // nil: not measured
		most        float64
		lose, after float64 // state lines lost in this time
	}{
		{"ten a second", 10, 0, nil, 0.130, 0, 0},
		{"ten a second, the next one lost", 10, 0, nil, 0.130, 2.05, 2.15},
		{"ten a second, throttle at rest", 10, 0, func(float64) float64 { return 0 }, 0.020, 0, 0},
		{"ten a second, throttle at its idle", 10, 0, func(float64) float64 { return 0.06 }, 0.020, 0, 0},
		{"ten a second, throttle at rest, the next one lost", 10, 0, func(float64) float64 { return 0.05 }, 0.020, 2.05, 2.15},
		{"ten a second, the throttle rises by itself", 10, 0, func(t float64) float64 { return 0.5 * min(max((t-2.02)*50, 0), 1) }, 0.130, 0, 0},
		{"twenty a second", 20, 0, nil, 0.100, 0, 0},
		{"twenty a second, two lost", 20, 0, nil, 0.100, 2.04, 2.12},
		{"fifty a second, lines lost", 50, 0.2, nil, 0.100, 0, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for after := range 10 {
				begin := 2.02 + float64(after)*0.01
				tr := newTrial(NewGroundThrust(), c)
				streams := []stream{{decode.Out, 200, 0, 0, from(begin, all4(0.06), all4(0.7))}}
				if tt.thr != nil {
					streams = append(streams, stream{decode.Axes, 500, 0, 0, func(at float64) []float64 {
						return []float64{0, 0, 0, 0, 0, 0, 0, 0, 0, tt.thr(at - begin + 2.02)}
					}})
				}
				told := stream{decode.State, tt.hz, 0, tt.loss, steady(state(1, 0, 1, 0)...)}
				if tt.lose == 0 {
					tr.run(0, 4, append(streams, told)...)
				} else {
					tr.run(0, tt.lose, append(streams, told)...)
					tr.run(tt.lose, tt.after, streams...)
					tr.run(tt.after, 4, append(streams, told)...)
				}
				tr.one(t, Craft, High, begin, begin+tt.most)
			}
		})
	}
}
