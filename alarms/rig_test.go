package alarms

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A rig stands for a bridge and its host: it feeds an engine with streams,
// ticks and silence. All it sends is invented.
type rig struct {
	t      testing.TB
	e      *Engine
	rng    *rand.Rand
	bridge int64 // the bridge's clock, microseconds, not wrapped
	host   int64 // the host's
	tickUS int64 // between ticks; 0: a recording without a host clock
	next   int64 // host time of the next tick
	seq    uint16
	loss   float64
	events []Event
}

func newRig(t testing.TB, tickMS int64) *rig {
	r := &rig{t: t, rng: rand.New(rand.NewPCG(1, 2)), tickUS: tickMS * 1000}
	r.e = New(craft.Craft{Motors: 4, Poles: 14, DiameterMM: 178, MassG: 655}, Options{})
	return r
}

// A flow is one stream of a rig, with the same values in every line.
type flow struct {
	tag decode.Tag
	hz  float64
	v   []float64
}

// The usual streams of a craft at rest, armed or not.
func axesFlow(hz float64) flow {
	return flow{decode.Axes, hz, []float64{0, 0, 0, 0, 0, 0, 0, 0, 0, 0.05}}
}
func outFlow(hz float64) flow { return flow{decode.Out, hz, []float64{0.05, 0.05, 0.05, 0.05}} }
func stateFlow(hz, armed float64) flow {
	return flow{decode.State, hz, []float64{armed, 0, 1, 0, 0, 0, 0, 1}}
}
func tempFlow() flow { return flow{decode.Temp, 1, []float64{20, 20, 20, 20}} }

func (r *rig) take() {
	r.events = append(r.events, r.e.Events()...)
}

// pass lets time go by on both clocks, with ticks.
func (r *rig) pass(us int64) {
	end := r.host + us
	for r.tickUS > 0 && r.next <= end {
		r.e.Tick(r.next / 1000)
		r.take()
		r.next += r.tickUS
	}
	r.host = end
	r.bridge += us
}

// send brings one line at this moment, or loses it.
func (r *rig) send(tag decode.Tag, v ...float64) {
	s := decode.Sample{Tag: tag, Seq: r.seq, Time: uint32(r.bridge)}
	r.seq++
	if r.loss > 0 && r.rng.Float64() < r.loss {
		return
	}
	for i, x := range v {
		s.Put(i, x)
	}
	r.e.Sample(&s, 60)
	r.take()
}

// run sends flows for some seconds.
func (r *rig) run(seconds float64, flows ...flow) {
	start, end := r.bridge, r.bridge+int64(seconds*1e6)
	due := make([]int64, len(flows))
	count := make([]int64, len(flows))
	for i := range due {
		due[i] = start
	}
	for {
		first := 0
		for i := range due {
			if due[i] < due[first] {
				first = i
			}
		}
		if due[first] >= end {
			break
		}
		r.pass(due[first] - r.bridge)
		r.send(flows[first].tag, flows[first].v...)
		count[first]++
		due[first] = start + int64(float64(count[first])*1e6/flows[first].hz)
	}
	r.pass(end - r.bridge)
}

// restart makes the bridge begin anew with its clock at zero.
func (r *rig) restart() { r.bridge, r.seq = 0, 0 }

// story lists what was said of one kind, one word a change.
func (r *rig) story(k detect.Kind) []string {
	var out []string
	for i := range r.events {
		if ev := &r.events[i]; ev.Kind == k {
			word := fmt.Sprintf("%s %s", ev.Change, ev.Priority)
			if ev.Story.Cause != "" {
				word += " " + ev.Story.Cause
			}
			out = append(out, word)
		}
	}
	return out
}

// at returns the times of one change of one kind, in seconds.
func (r *rig) at(k detect.Kind, c Change) []float64 {
	var out []float64
	for i := range r.events {
		if ev := &r.events[i]; ev.Kind == k && ev.Change == c {
			out = append(out, float64(ev.T)/1e6)
		}
	}
	return out
}
