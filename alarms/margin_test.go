package alarms

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// TestLowMarginLives: through the whole engine, the alarm of a pitch loop that
// rings on noise is low all its life, and goes when the ringing goes.
func TestLowMarginLives(t *testing.T) {
	const hz, zeta, rate = 9.0, 0.015, 200.0
	r := newRig(t, 20)
	p := math.Exp(-zeta * 2 * math.Pi * hz / rate)
	a1, a2 := 2*p*math.Cos(2*math.Pi*hz/rate), -p*p
	x1, x2 := 0.0, 0.0
	for i := range int(70 * rate) {
		if i%10 == 0 {
			r.send(decode.State, 1, 0, 1, 0.2, 0, 0, 0, 1)
			r.send(decode.Out, 0.2, 0.2, 0.2, 0.2)
		}
		drive := 0.02 * (1 - p)
		if i > int(40*rate) {
			drive = 0
		}
		x := a1*x1 + a2*x2 + drive*r.rng.NormFloat64()
		x2, x1 = x1, x
		n := 0.0003 * r.rng.NormFloat64()
		r.send(decode.Axes, 0, 300*x, 0, 0, 0, 0, n, x+n, n, 0.2)
		r.pass(1e6 / rate)
	}
	require.Equal(t, []string{"raised low loop gain near its margin", "cleared low loop gain near its margin"}, r.story(detect.LowMargin))
	at := r.at(detect.LowMargin, Raised)[0]
	assert.Greater(t, at, 8.0)
	assert.Less(t, at, 40.0)
	for i := range r.events {
		ev := &r.events[i]
		require.Equal(t, detect.LowMargin, ev.Kind, ev.Plain())
		require.Equal(t, detect.Pitch, ev.Where)
		var s spoken
		line := string(ev.AppendJSON(nil, ""))
		require.Regexp(t, keys, line)
		require.NoError(t, json.Unmarshal([]byte(line), &s))
		assert.Equal(t, "1", s.Detail["unit"])
		assert.InEpsilon(t, hz, s.Detail["frequency_hz"], 0.02)
		assert.InDelta(t, zeta, s.Detail["damping_ratio"], 0.012)
		assert.Positive(t, s.Detail["damping_error"])
		assert.Positive(t, s.Detail["amplitude"])
	}
}
