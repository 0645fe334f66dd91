package alarms

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A pair is two bridges that both hear the craft, the second as a spare; whose
// lines are taken is decided before the engine.
type pair struct {
	e      *Engine
	owners decode.Owners
	talk   [2]talker
	host   int64
	armed  float64
	hello  bool // the first says hello once a second
	events []Event
	passed int
}

// run sends axes and state of either, and load of the first, where they are wanted.
func (p *pair) run(seconds float64, craftA, loadA, craftB bool) {
	send := func(i int, s *decode.Sample) {
		at := p.host + 3000
		p.e.From(i+1, at)
		if news, _ := p.owners.Take(i+1, at, s); news == decode.Passed {
			p.passed++
		}
		p.e.Sample(s, 50)
	}
	for end := p.host + int64(seconds*1e6); p.host < end; p.host += 10_000 {
		for i, on := range []bool{craftA, craftB} {
			if !on {
				continue
			}
			send(i, stateSample(&p.talk[i], p.host, p.armed))
			x := p.talk[i].line(decode.Axes, p.host)
			for n := range decode.MaxNum {
				x.Put(n, 0.01*float64(p.host/10_000%7))
			}
			send(i, x)
		}
		if loadA && p.host%20_000 == 0 {
			l := p.talk[0].line(decode.Load, p.host)
			l.Put(decode.LoadN, 0.01*float64(p.host/10_000%5))
			send(0, l)
		}
		if p.hello && p.host%1_000_000 == 0 {
			h := p.talk[0].line(decode.Hello, p.host)
			h.Put(decode.HelloVersion, 1)
			send(0, h)
		}
		if p.host%20_000 == 0 {
			p.e.Tick(p.host/1000 + 8)
		}
		p.events = append(p.events, p.e.Events()...)
	}
}

// What is set aside while its owner talks without it rings high, armed or not, until
// it is taken; a short gap, and an owner that is silent altogether, are what they
// always were.
func TestLinesSetAsideAreMissed(t *testing.T) {
	for _, armed := range []float64{0, 1} {
		least := []detect.Priority{detect.Low, detect.High}[int(armed)]
		for _, c := range []struct {
			name    string
			run     func(p *pair)
			swapped bool
			text    string
			level   detect.Priority
			passed  int
		}{
			{"all well", func(p *pair) { p.run(8, true, true, true) }, false, "", detect.None, 0},
			{"the craft comes over the other", func(p *pair) { p.run(8, false, true, true) }, true, "cables swapped", detect.High, 2},
			{"it says hello alone", func(p *pair) { p.hello = true; p.run(9, false, false, true) }, true, "cables swapped", detect.High, 2},
			{"a gap", func(p *pair) { p.run(1.3, false, true, true); p.run(6, true, true, true) }, false, "stay", least, 0},
			{"silent", func(p *pair) { p.run(8, false, false, true) }, false, "no good line from nose", least, 0},
			{"silent, and back", func(p *pair) { p.run(5, false, false, true); p.run(1, false, true, true); p.run(4, true, true, true) }, false, "no good line from nose", least, 0},
			{"all stand still", func(p *pair) { p.host += 3_000_000; p.run(5, true, true, true) }, false, "", least, 0},
		} {
			p := &pair{
				e:    New(craft.Craft{MassG: 655}, Options{Sources: []string{"nose", "spare"}, Bauds: []int{0, 0}}),
				talk: [2]talker{{n: 1}, {n: 2, clock0: 1 << 20}}, armed: armed,
			}
			p.run(5, true, true, true)
			require.Empty(t, p.events, c.name)
			began := float64(p.e.Now()) / 1e6
			c.run(p)
			worst, texts, swapped := detect.None, "", false
			for i := range p.events {
				ev := &p.events[i]
				worst = max(worst, ev.Priority)
				texts += ev.Story.Text + "\n"
				swapped = swapped || strings.Contains(ev.Story.Text, "swapped")
			}
			assert.Equal(t, c.swapped, swapped, "%s, armed %v: %s", c.name, armed, texts)
			assert.LessOrEqual(t, worst, c.level, c.name)
			assert.Contains(t, texts, c.text, c.name)
			assert.Equal(t, c.passed, p.passed, c.name)
			if c.swapped {
				assert.Equal(t, detect.High, up(p.events, began+1.6), c.name)
				after, times := detect.None, 2
				if p.hello { // load, which nobody else sends, is missed all the same
					after, times = []detect.Priority{detect.Low, detect.Medium}[int(armed)], 3
				}
				assert.Equal(t, after, up(p.events, began+5), c.name)
				assert.LessOrEqual(t, raises(p.events), times, "%s: %s", c.name, texts)
				assert.Equal(t, []detect.Tri{detect.No, detect.Yes}[int(armed)], p.e.State().Armed)
			}
		}
	}
}

// The bridge began anew a little after the swap, which takes the time from which its
// streams are missed with it: they pass on before they are, and that rings by itself.
func TestPassingOnRings(t *testing.T) {
	for _, armed := range []float64{0, 1} {
		p := &pair{
			e:    New(craft.Craft{MassG: 655}, Options{Sources: []string{"nose", "spare"}, Bauds: []int{0, 0}}),
			talk: [2]talker{{n: 1}, {n: 2, clock0: 1 << 20}}, armed: armed,
		}
		p.run(5, true, true, true)
		p.run(0.7, false, true, true)
		p.talk[0] = talker{n: 1, clock0: 1 << 28}
		p.run(6, false, true, true)
		require.Equal(t, 2, p.passed)
		swapped := 0
		for i := range p.events {
			if ev := &p.events[i]; ev.Change <= Worsened && strings.HasPrefix(ev.Story.Text, detect.Swapped) {
				swapped++
				assert.Equal(t, "cables swapped, it seems: axes, state come from spare now, not from nose, and are used from there", ev.Story.Text)
				assert.Equal(t, []detect.Priority{detect.Medium, detect.High}[int(armed)], ev.Priority)
				assert.InDelta(t, 7.0, float64(ev.T)/1e6, 0.1)
			}
		}
		assert.Equal(t, 1, swapped)
	}
}
