package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/detect"
)

// TestBlindnessIsCounted: what no good line was there for stands in the verdict, by
// its length and by whether the craft was armed, and each second once.
func TestBlindnessIsCounted(t *testing.T) {
	hole := func(seconds float64) func(*rig) { return func(r *rig) { r.pass(int64(seconds * 1e6)) } }
	garbage := func(r *rig) {
		for range 260 {
			r.e.Bad(60)
			r.pass(20_000)
		}
	}
	all := []flow{axesFlow(500), outFlow(100)}
	armed, still := append(all, stateFlow(50, 1)), append(all, stateFlow(50, 0))
	for name, c := range map[string]struct {
		before, after []flow
		then          func(*rig)
		says          string
	}{
		"none":         {armed, armed, hole(0.2), ""},
		"armed":        {armed, armed, hole(2), "everything for 2.0 s (no good lines while armed)"},
		"wrong baud":   {armed, armed, garbage, "everything for 5.2 s (no good lines while armed)"},
		"at rest":      {still, still, hole(2), "everything for 2.0 s (no good lines)"},
		"to the end":   {armed, nil, hole(3), "everything for 3.0 s (no good lines while armed)"},
		"twice":        {armed, armed, func(r *rig) { hole(1)(r); r.run(2, still...); hole(3)(r) }, "everything for 4.0 s (no good lines, 1.0 s of it while armed)"},
		"both at once": {armed, armed, func(r *rig) { r.stop(4_100_000, 0); r.run(1, armed...); hole(2)(r) }, "everything for 2.0 s (no good lines while armed)"},
	} {
		for _, tick := range []int64{0, 20} {
			if tick == 0 && name != "none" && name != "armed" && name != "at rest" && name != "twice" {
				continue // which only the host's clock can tell
			}
			r := newRig(t, tick)
			r.run(6, c.before...)
			c.then(r)
			if c.after != nil {
				r.run(3, c.after...)
			}
			got := ""
			for _, l := range r.e.Summary().NotWatched {
				if l.Name == Everything {
					got = l.OfAll()
				}
				if k, ok := detect.KindNamed(l.Name); ok && name != "both at once" {
					assert.NotContains(t, l.Why, forWord, "%s: %s lasts no longer than that", name, k)
				}
			}
			assert.Equal(t, c.says, got, "%s, ticks of %d ms", name, tick)
		}
	}
}

// TestBlindnessOfSeveralBridges: with one of two silent not everything is; with both
// it is, and counts as with one bridge alone.
func TestBlindnessOfSeveralBridges(t *testing.T) {
	r := newTwoBridges()
	r.armed = 1
	r.run(6, true, true)
	blind := func() string {
		for _, l := range r.e.Summary().NotWatched {
			if l.Name == Everything {
				return l.OfAll()
			}
		}
		return ""
	}
	r.run(2, false, true)
	assert.Empty(t, blind(), "one talks")
	r.run(2, false, false)
	assert.Equal(t, "everything for 2.0 s (no good lines while armed)", blind(), "while it lasts")
	r.run(3, true, true)
	assert.Equal(t, "everything for 2.0 s (no good lines while armed)", blind())
}
