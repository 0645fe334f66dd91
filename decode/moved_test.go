package decode

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A plug is a bridge as a port hears it: it sends its tag each 5 ms, on a clock that
// was at nought at some time of the host's, all milliseconds.
type plug struct {
	port     int
	tag      Tag
	from, to int64
	zero     int64
	late     int64 // what comes waits for so long
}

// plugged plays bridges at ports, and tells at which ports another bridge than before
// was told, which tags passed on and when.
func plugged(t *testing.T, all ...plug) (moved []int, passed []Tag, at []int64) {
	t.Helper()
	var o Owners
	for ms := int64(0); ms < 30_000; ms++ {
		for _, x := range all {
			if ms < x.from || ms >= x.to || (ms-x.from)%5 != 0 {
				continue
			}
			s := Sample{Tag: x.tag, Time: uint32((ms - x.zero) * 1000)}
			news, owner := o.Take(x.port, (ms+x.late)*1000, &s)
			if news == Moved {
				moved = append(moved, x.port)
				assert.EqualValues(t, s.Moved, owner)
				assert.NotEqual(t, x.port, owner)
				assert.Equal(t, o.Carries(x.port), s.Carries)
			}
			if s.Passed {
				passed, at = append(passed, x.tag), append(at, ms)
			}
		}
	}
	return moved, passed, at
}

// A bridge is told by its clock at whatever port it is; its tags come from there at
// once. What began anew, came late or has a clock like another's is not taken for one
// that was moved.
func TestBridgesAreToldByTheirClocks(t *testing.T) {
	const end, craft, stand = 30_000, -700_000, -9_000_000
	for name, c := range map[string]struct {
		all   []plug
		moved int
		at    int64 // when tags passed on; 0: none did
	}{
		"swapped":       {[]plug{{1, Axes, 0, 5000, craft, 0}, {2, Load, 0, 5000, stand, 0}, {2, Axes, 6000, end, craft, 0}, {1, Load, 6400, end, stand, 0}}, 2, 6000},
		"without a gap": {[]plug{{1, Axes, 0, 5000, craft, 0}, {2, Load, 0, 5000, stand, 0}, {2, Axes, 5000, end, craft, 0}, {1, Load, 5000, end, stand, 0}}, 2, 5005},
		"there and back": {[]plug{{1, Axes, 0, 5000, craft, 0}, {2, Load, 0, 5000, stand, 0}, {2, Axes, 6000, 9000, craft, 0}, {1, Load, 6000, 9000, stand, 0},
			{1, Axes, 10_000, end, craft, 0}, {2, Load, 10_000, end, stand, 0}}, 4, 6000},
		"one was moved":              {[]plug{{1, Axes, 0, 5000, craft, 0}, {2, Load, 0, 5000, stand, 0}, {2, Axes, 8000, end, craft, 0}}, 1, 8000},
		"both began anew":            {[]plug{{1, Axes, 0, 5000, craft, 0}, {2, Load, 0, 5000, stand, 0}, {1, Axes, 6000, end, 5800, 0}, {2, Load, 5900, end, 5800, 0}}, 0, 0},
		"both, and one is slow":      {[]plug{{1, Axes, 0, 5000, craft, 0}, {2, Load, 0, 5000, stand, 0}, {1, Axes, 12_000, end, 5800, 0}, {2, Load, 5900, end, 5800, 0}}, 0, 0},
		"began anew, of one supply":  {[]plug{{1, Axes, 0, 5000, craft, 0}, {2, Load, 0, end, craft, 0}, {1, Axes, 6000, end, 5800, 0}}, 0, 0},
		"one comes late, like the 1": {[]plug{{1, Axes, 0, end, craft, 0}, {2, Load, 9000, end, craft, 0}}, 0, 0},
		"held up": {[]plug{{1, Axes, 0, 5000, craft, 0}, {1, Axes, 5000, 9000, craft, 3000}, {1, Axes, 12_000, end, craft, 0},
			{2, Load, 0, end, craft + 3000, 0}}, 0, 0},
	} {
		moved, passed, at := plugged(t, c.all...)
		assert.Len(t, moved, c.moved, name)
		if c.at == 0 {
			assert.Empty(t, passed, name)
			continue
		}
		assert.Equal(t, c.at, at[slices.Index(passed, Axes)], name)
		assert.Len(t, passed, c.moved, name)
	}
}

// Clocks that are alike tell nothing; the boot number in hello does.
func TestBridgesAreToldByTheirBoots(t *testing.T) {
	var o Owners
	moved := 0
	for ms := int64(0); ms < 9000; ms += 5 {
		for bridge := range 2 {
			port := bridge + 1
			if ms >= 5000 {
				port = 2 - bridge
			}
			s := Sample{Tag: []Tag{Axes, Load}[bridge], Time: uint32(ms * 1000)}
			if ms%1000 == 300 {
				s = Sample{Tag: Hello, Time: s.Time}
				s.Put(HelloBoot, []float64{77, 99}[bridge])
			}
			tag := s.Tag
			news, _ := o.Take(port, ms*1000, &s)
			if news == Moved {
				moved++
				assert.EqualValues(t, 5300, ms)
			}
			assert.Equal(t, ms < 5000 || ms >= 5300 || tag == Hello, s.Tag == tag, "at %d ms", ms)
		}
	}
	assert.Equal(t, 2, moved)
}

// Two craft lines are not mixed where both bridges tell of the craft and are swapped:
// those of the one that was heard first are taken, wherever it is.
func TestSharedTagsFollowTheirBridge(t *testing.T) {
	var o Owners
	for ms := int64(0); ms < 20_000; ms += 5 {
		for bridge, zero := range []int64{-700_000, -9_000_000} {
			port := bridge + 1
			if ms >= 8000 {
				port = 2 - bridge
			}
			s := Sample{Tag: Axes, Time: uint32((ms - zero) * 1000)}
			o.Take(port, ms*1000, &s)
			if ms == 8000 && bridge == 0 { // the other was heard here 5 ms before
				assert.True(t, s.Held)
				continue
			}
			assert.Equal(t, bridge == 0, s.Tag == Axes, "at %d ms", ms)
		}
	}
	s := Sample{Tag: Axes, Time: 20_700_000_00}
	assert.Zero(t, testing.AllocsPerRun(1000, func() { o.Take(2, 20_000_000, &s) }))
}
