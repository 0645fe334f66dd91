package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
)

// TestGyroInDoubt: rates that stand under thrust are in doubt, whether or not they
// were ever seen alive; and rates that may well stand are not.
func TestGyroInDoubt(t *testing.T) {
	dead := steady(0.1, -0.2, 0, 0, 0, 0, 0, 0, 0, 0.3)
	axes := func(v ...float64) []float64 { return append(v, 0, 0, 0, 0, 0, 0, 0.3) }
	beats := func(s float64) float64 { return float64(int(s*1.9)) / 10 } // one axis moves every 0.53 s
	for name, c := range map[string]struct {
		armed, stopped, out float64
		value               func(float64) []float64
		seconds             float64
		odd                 bool
	}{
		"dead from the start": {1, 0, 0.3, dead, 5, true},
		"armed not known":     {no, 0, 0.3, dead, 5, false}, // nobody was ever armed
		"under two seconds":   {1, 0, 0.3, dead, 1.9, false},
		"over two seconds":    {1, 0, 0.3, dead, 2.2, true},
		"just over idle":      {1, 0, 0.14, dead, 5, false},
		"disarmed":            {0, 0, 0.3, dead, 5, false},
		"stopped":             {1, 1, 0.3, dead, 5, false},
		"outputs at nought":   {1, 0, 0, dead, 5, false},
		"one axis lives":      {1, 0, 0.3, func(s float64) []float64 { return axes(0, 0, beats(s)) }, 5, false},
		"yaw not measured":    {1, 0, 0.3, func(float64) []float64 { return axes(0, 0, no) }, 5, false},
		"loop works on it": {1, 0, 0.3, func(s float64) []float64 {
			return append([]float64{12.6, 0.8, -4.4}, 0, 0, 0, beats(s), 0.1*beats(s), 0, 0.3)
		}, 5, true},
	} {
		for _, hz := range []float64{20, 200, 1000} {
			t.Run(name, func(t *testing.T) {
				tr := newTrial(NewFrozenSensor(), heron)
				tr.run(0, c.seconds, stream{decode.State, 20, 0, 0, steady(state(c.armed, c.stopped, 1, 0.3)...)},
					stream{decode.Out, 50, 0, 0, steady(all4(c.out)...)},
					stream{decode.Axes, hz, 0.2, 0.05, c.value})
				assert.Equal(t, c.odd, tr.b.Doubt[decode.Axes] == gyroStill, "at %g Hz: %q", hz, tr.b.Doubt[decode.Axes])
				assert.Equal(t, c.odd, axesLack(&tr.b, 1) == gyroStill)
				assert.Empty(t, tr.said, "frozen-sensor is of what was seen alive")
			})
		}
	}
}

// TestGyroDoubtEnds with the first rate that moves: no stop and no restart of the
// bridge makes a dead gyro a live one.
func TestGyroDoubtEnds(t *testing.T) {
	tr := newTrial(NewFrozenSensor(), heron)
	run := func(from, to, armed, roll float64) {
		tr.run(from, to, stream{decode.State, 20, 0, 0, steady(state(armed, 0, 1, 0.3)...)},
			stream{decode.Out, 50, 0, 0, steady(all4(0.3 * armed)...)},
			stream{decode.Axes, 200, 0, 0, steady(roll, 0, 0, 0, 0, 0, 0, 0, 0, 0.3)})
	}
	run(0, 3, 1, 0)
	assert.Equal(t, gyroStill, tr.b.Doubt[decode.Axes])
	run(3, 6, 0, 0)
	assert.Equal(t, gyroStill, tr.b.Doubt[decode.Axes], "disarmed")
	tr.doubt.Restart(1 << decode.Axes)
	run(6, 7, 0, 0)
	assert.Equal(t, gyroStill, tr.b.Doubt[decode.Axes], "the bridge restarts")
	run(7, 7.1, 0, 0.1)
	assert.Empty(t, tr.b.Doubt[decode.Axes], "it moves")
	run(7.1, 8.5, 1, 0.1)
	assert.Empty(t, tr.b.Doubt[decode.Axes], "two seconds anew")
}
