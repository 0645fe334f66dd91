package alarms

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A coming is a line that comes to a port at a time of the host's, microseconds.
type coming struct {
	port int
	host int64
	s    decode.Sample
}

// speaks has a bridge send streams by a port from one time to another, milliseconds.
func speaks(b *talker, port int, from, to int64, flows ...flow) (all []coming) {
	for ms := from; ms < to; ms++ {
		for i, f := range flows {
			if each := int64(1000 / f.hz); (ms+int64(7*i))%each != 0 {
				continue
			}
			s := b.line(f.tag, ms*1000)
			for i, v := range f.v {
				s.Put(i, v)
			}
			all = append(all, coming{port, ms * 1000, *s})
		}
	}
	return all
}

// hears plays what comes to an engine whose ticks are 20 ms apart.
func hears(all ...[]coming) (events []Event) {
	e := New(craft.Craft{MassG: 655}, Options{Sources: []string{"nose", "stand"}, Bauds: []int{0, 0}})
	lines := slices.Concat(all...)
	slices.SortStableFunc(lines, func(a, b coming) int { return int(a.host - b.host) })
	var owners decode.Owners
	tick := int64(0)
	for i := range lines {
		l := &lines[i]
		for ; tick <= l.host; tick += 20_000 {
			e.Tick(tick / 1000)
			events = append(events, e.Events()...)
		}
		e.From(l.port, l.host)
		owners.Take(l.port, l.host, &l.s)
		e.Sample(&l.s, 50)
		events = append(events, e.Events()...)
	}
	return events
}

// armedFlows are what matters, of a craft that is armed.
func armedFlows() []flow {
	return []flow{
		{decode.State, 50, []float64{1, 0, 0, 0, 0, 0, 0, 1}},
		{decode.Axes, 100, make([]float64, decode.MaxNum)},
		{decode.Out, 50, []float64{0, 0, 0, 0}},
	}
}

// Two bridges begin anew on one supply while the craft is armed, and the one that
// matters is held up meanwhile: that is a restart, as if it were alone, and no swap.
func TestRestartOnOneSupplyIsNoSwap(t *testing.T) {
	for _, late := range []int64{0, 300} {
		nose, stand := &talker{clock0: 700_000_000}, &talker{clock0: 400_000_000}
		all := [][]coming{speaks(nose, 1, 0, 5000, armedFlows()...), speaks(stand, 2, 0, 5000, loadFlow(50))}
		nose, stand = &talker{clock0: -5_000_000}, &talker{clock0: -5_000_000}
		all = append(all, speaks(nose, 1, 6000, 10_000, armedFlows()...), speaks(stand, 2, 5100, 10_000, loadFlow(50)))
		if late > 0 {
			for _, part := range all {
				for i := range part {
					if c := &part[i]; c.port == 1 && c.host >= 4_900_000 && c.host < (6000+late)*1000 {
						c.host = (6000 + late) * 1000
					}
				}
			}
		}
		events := hears(all...)
		restarted := -1.0
		for i := range events {
			ev := &events[i]
			if ev.Kind != detect.StaleLink {
				continue
			}
			assert.NotContains(t, ev.Story.Text, "swapped")
			if ev.Change <= Worsened && ev.Priority == detect.High && restarted < 0 && float64(ev.T) > 5.9e6 && ev.Story.Cause == "supply of the bridge" {
				restarted = float64(ev.T) / 1e6
			}
		}
		assert.InDelta(t, 6+float64(late)/1000, restarted, 0.1, "late by %d ms", late)
		assert.Equal(t, detect.None, up(events, 10))
	}
}

// A bridge that says little is plugged in where one that talks fast was: it is given
// its own time between two lines, and does not ring as silent.
func TestSlowBridgeAtAFastOnesPort(t *testing.T) {
	nose, stand := &talker{clock0: 700_000_000}, &talker{clock0: 400_000_000}
	slow := []flow{{decode.Temp, 1, []float64{30, 30, 30, 30}}}
	events := hears(
		speaks(nose, 1, 0, 8000, armedFlows()...), speaks(stand, 2, 0, 8000, slow...),
		speaks(nose, 2, 8700, 20_000, armedFlows()...), speaks(stand, 1, 8900, 20_000, slow...))
	swapped := 0
	for i := range events {
		switch ev := &events[i]; {
		case ev.T < 8_600_000 || ev.Change > Worsened:
		case strings.HasPrefix(ev.Story.Text, detect.Swapped):
			swapped++
		default:
			t.Errorf("%v %v: %s", ev.T, ev.Priority, ev.Story.Text)
		}
	}
	assert.Equal(t, 1, swapped)
}

// Of two bridges that change places the one that matters is told, whichever comes first.
func TestOfTwoThatChangePlacesTheOneThatMattersIsTold(t *testing.T) {
	for _, first := range []int64{8620, 8695, 8705, 8780, 9900} {
		nose, stand := &talker{clock0: 700_000_000}, &talker{clock0: 400_000_000}
		events := hears(
			speaks(nose, 1, 0, 8000, armedFlows()...), speaks(stand, 2, 0, 8000, loadFlow(50)),
			speaks(nose, 2, 8700, 14_000, armedFlows()...), speaks(stand, 1, first, 14_000, loadFlow(50)))
		text := ""
		for i := range events {
			if ev := &events[i]; strings.HasPrefix(ev.Story.Text, detect.Swapped) {
				text = ev.Story.Text
			}
		}
		assert.Equal(t, "cables swapped, what nose carried is on stand now: axes, out, state, used from there", text, "%d ms", first)
	}
}
