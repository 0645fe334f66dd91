package cable

import (
	"slices"
	"testing"
)

// TestAPortThatIsGoneStaysTheCause: what mends it is asked for as long as it is gone,
// and for a while after.
func TestAPortThatIsGoneStaysTheCause(t *testing.T) {
	w := New(0)
	named := func() bool {
		all := w.Recent([]Kind{Unplugged})
		return slices.ContainsFunc(all, func(s Sight) bool { return s.Action == first[Unplugged] }) && w.Cause() == Unplugged.String()
	}
	tick := func(from, to int64) {
		for ms := from; ms <= to; ms += 20 {
			w.Tick(ms, 1000*ms)
		}
	}
	tick(0, 1000)
	w.Port(false, 1_000_000)
	tick(1000, 60_000)
	if !named() {
		t.Error("gone for a minute: the plug is not asked for")
	}
	w.Port(true, 60_000_000)
	tick(60_000, 64_000)
	if !named() {
		t.Error("back for 4 s: the plug is not asked for")
	}
	tick(64_000, 66_000)
	if named() {
		t.Error("back for 6 s: the plug is asked for on")
	}
}
