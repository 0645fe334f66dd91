package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
)

// TestIdlingIsKnown: stick at zero and outputs at armed idle count for as long as both
// are known and fresh; outputs that do not follow the stick are no idling.
func TestIdlingIsKnown(t *testing.T) {
	idle := func(hz, v float64) flow { return flow{decode.Out, hz, []float64{v, v, v, v}} }
	stick := func(armed, v float64) flow { return flow{decode.State, 50, []float64{armed, 0, 1, v, 0, 0, 0, 1}} }
	for name, c := range map[string]struct {
		ready float64
		flows []flow
		want  bool
	}{
		"at idle":                     {0.08, []flow{stick(1, 0), idle(50, 0.08)}, true},
		"rounded":                     {0.08, []flow{stick(1, 0.01), idle(50, 0.084)}, true},
		"under it":                    {0.08, []flow{stick(1, 0), idle(50, 0.05)}, true},
		"over it with the stick down": {0.08, []flow{stick(1, 0), idle(50, 0.09)}, false},
		"one of them is over it":      {0.08, []flow{stick(1, 0), {decode.Out, 50, []float64{0.08, 0.08, 0.2, 0.08}}}, false},
		"one of them is not known":    {0.08, []flow{stick(1, 0), {decode.Out, 50, []float64{0.08, 0.08, 0.08}}}, false},
		"one beyond the craft's count is over it": {0.08, []flow{stick(1, 0), {decode.Out, 50, []float64{0.08, 0.08, 0.08, 0.08, 0.2}}}, false},
		"one beyond the craft's count idles too":  {0.08, []flow{stick(1, 0), {decode.Out, 50, []float64{0.08, 0.08, 0.08, 0.08, 0.08}}}, true},
		"the stick is up":                         {0.08, []flow{stick(1, 0.03), idle(50, 0.08)}, false},
		"no idle is known":                        {0, []flow{stick(1, 0), idle(50, 0.08)}, false},
		"outputs come too seldom":                 {0.08, []flow{stick(1, 0), idle(2, 0.08)}, false},
		"no outputs come":                         {0.08, []flow{stick(1, 0)}, false},
		"disarmed":                                {0.08, []flow{stick(0, 0), idle(50, 0)}, false},
		"nobody knows whether it is so":           {0.08, []flow{idle(50, 0.08)}, false},
	} {
		r := newRig(t, 20)
		r.e.bench.Craft.Motors, r.e.bench.Motors = 4, 4
		r.e.bench.IdleReady.V, r.e.bench.IdleReady.OK = c.ready, c.ready > 0
		r.run(2, c.flows...)
		var s Snapshot
		r.e.Snapshot(&s)
		if c.want {
			assert.InDelta(t, 2e6, s.IdlesUS, 50_000, name)
		} else {
			assert.Less(t, s.IdlesUS, int64(310_000), name) // between two that come seldom
		}
		r.pass(500_000)
		r.e.Snapshot(&s)
		assert.Zero(t, s.IdlesUS, "%s, and silent", name)
	}
}
