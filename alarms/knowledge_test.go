package alarms

import (
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// TestEmptyFieldsAreUnknown: a value that is not measured never keeps the old
// one.
func TestEmptyFieldsAreUnknown(t *testing.T) {
	r := newRig(t, 0)
	b := &r.e.bench
	r.send(decode.State, 1, 0, 1, 0.2, 0, 0, 0, 1)
	r.send(decode.Out, 0.1, 0.2, 0.3, 0.4)
	r.send(decode.Pack, 16, 2)
	r.send(decode.ERPM, 7000, 7000, 7000, 7000)
	require.Equal(t, detect.Yes, b.Armed)
	require.Equal(t, 0.2, b.Out[1].V)
	require.Equal(t, 1000.0, b.RPM[0].V, "14 poles are 7 pairs: electrical speed over 7")
	armed := b.ArmedAt
	r.pass(10_000)
	r.send(decode.State)
	r.send(decode.Out, 0.1)
	r.send(decode.Pack)
	r.send(decode.ERPM)
	assert.Equal(t, [4]detect.Tri{}, [4]detect.Tri{b.Armed, b.Stopped, b.Ground, b.ControlOK})
	assert.False(t, b.Stick[0].OK || b.Out[1].OK || b.Volts.OK || b.RPM[0].OK)
	assert.True(t, b.Out[0].OK)
	assert.True(t, b.ArmedOrUnknown())
	assert.Equal(t, detect.Yes, b.LastArmed)
	r.send(decode.State, 1, 0, 1, 0.2, 0, 0, 0, 1)
	assert.Equal(t, armed, b.ArmedAt, "it was armed all the time, as far as is known")
}

func TestSettings(t *testing.T) {
	set := func(r *rig, name string, v ...float64) {
		s := decode.Sample{Tag: decode.Set, Seq: r.seq, Time: uint32(r.bridge), Word: []byte(name)}
		r.seq++
		for i, x := range v {
			s.Put(i, x)
		}
		r.e.Sample(&s, 30)
	}
	r := newRig(t, 0)
	b := &r.e.bench
	assert.Equal(t, 0.10, b.Limits.Oscillation)
	set(r, "idle_ready", 0.06)
	set(r, "idle_least", 0.08)
	set(r, "limit_oscillation", 0.2)
	assert.Equal(t, []float64{0.06, 0.08, 0.2}, []float64{b.IdleReady.V, b.IdleLeast.V, b.Limits.Oscillation})
	set(r, "limit_oscillation", 10)
	set(r, "limit_oscillation", -1)
	set(r, "another", 0.5)
	assert.Equal(t, 0.2, b.Limits.Oscillation, "a limit outside of full output is not believed")
	r.send(decode.Craft, 4, 14, 3, 178, 655, 4)
	assert.Equal(t, 0.2, b.Limits.Oscillation, "a craft line takes no setting back")
	r.restart()
	r.pass(1e6)
	r.restart()
	r.send(decode.Hello, 1, 2)
	assert.Equal(t, 0.2, b.Limits.Oscillation, "nor does a restart of the bridge")
	set(r, "idle_ready")
	set(r, "limit_oscillation")
	assert.False(t, b.IdleReady.OK)
	assert.Equal(t, 0.10, b.Limits.Oscillation, "an empty value takes it back")

	file := New(craft.Craft{IdleReady: 0.05, Limits: craft.Limits{Oscillation: 0.3}}, Options{})
	r.e = file
	set(r, "idle_ready", 0.5)
	set(r, "limit_oscillation", 0.2)
	assert.Equal(t, 0.05, file.bench.IdleReady.V, "the craft file wins")
	assert.Equal(t, 0.3, file.bench.Limits.Oscillation)
}

func TestCraftLineFillsWhatTheFileLeavesOut(t *testing.T) {
	e := New(craft.Craft{MassG: 700, Hold: craft.Stand}, Options{})
	s := decode.Sample{Tag: decode.Craft, Text: []byte("Marsh Heron"), Word: []byte("quad-x")}
	for i, v := range []float64{4, 14, 3, 178, 655, 4} {
		s.Put(i, v)
	}
	text := s.Text
	e.Sample(&s, 80)
	copy(text, "overwritten") // the line's bytes are the next line's
	c := e.bench.Craft
	assert.Equal(t, "Marsh Heron", c.Name)
	assert.Equal(t, []float64{700, 178}, []float64{c.MassG, c.DiameterMM})
	assert.Equal(t, craft.Stand, c.Hold)
	assert.Equal(t, 4, e.bench.Motors)
	assert.InDelta(t, 6.865, e.bench.WeightN(), 0.001, "0.7 kg by standard gravity")
}

// TestMotorsAreCountedWhereNoCraftTells: by the most that lines speak of.
func TestMotorsAreCountedWhereNoCraftTells(t *testing.T) {
	r := newRig(t, 0)
	r.e = New(craft.Craft{}, Options{})
	r.send(decode.Out, 0.1, 0.1, 0.1)
	assert.Equal(t, 3, r.e.bench.Motors)
	r.send(decode.ERPM, 1, 1, 1, 1, 1, 1)
	r.send(decode.Out, 0.1, 0.1, 0.1)
	assert.Equal(t, 6, r.e.bench.Motors)
	assert.False(t, r.e.bench.RPM[0].OK, "without the pole count there is no shaft speed")
}

// contract are the names of the event contract.
var contract = []string{
	"rising-oscillation", "low-margin", "output-imbalance", "ground-thrust", "tip-over", "near-lift", "late-stop",
	"spin-disarmed", "stale-link", "bad-link", "stick-high", "runaway", "rotor-lost", "hold-lost", "vibration-step",
	"over-current", "control-lost", "frozen-sensor", "motor-heat", "pack-sag", "windup", "reversed-response",
	"rotor-line", "idle-gap", "throttle-mismatch", "pressure-dip", "settings-slip",
}

// TestEveryAlarmIsWatchedOrSaidNotToBe: nothing is silently switched off.
func TestEveryAlarmIsWatchedOrSaidNotToBe(t *testing.T) {
	var names []string
	for k := range detect.KindCount {
		names = append(names, k.String())
	}
	want := append([]string{}, contract...)
	sort.Strings(want)
	sort.Strings(names)
	assert.Equal(t, want, names)

	var (
		axes  = axesFlow(200)
		out   = outFlow(100)
		erpm  = flow{decode.ERPM, 50, []float64{9000, 9000, 9000, 9000}}
		load  = flow{decode.Load, 50, []float64{0.1}}
		state = stateFlow(20, 1)
		accel = flow{decode.Accel, 100, []float64{0.1, 0.2, -9.8}}
		temp  = tempFlow()
		pack  = flow{decode.Pack, 20, []float64{16, 3}}
		air   = flow{decode.Air, 20, []float64{100800, 14}}
		rest  = []flow{accel, temp, pack, air}
	)
	// What listens to axes, beside what else it needs.
	turning := []string{"low-margin", "reversed-response", "rising-oscillation", "throttle-mismatch", "tip-over", "windup"}
	for _, c := range []struct {
		name  string
		flows []flow
		idle  bool
		lacks []string
	}{
		{"all", []flow{axes, out, erpm, load, state}, true, nil},
		{"no load cells", []flow{axes, out, erpm, state}, true, []string{"hold-lost", "near-lift"}},
		{"no axes", []flow{out, erpm, load, state}, true, turning},
		{"no outputs", []flow{axes, erpm, load, state}, true, []string{"output-imbalance", "rotor-lost", "runaway"}},
		{"no state", []flow{axes, out, erpm, load}, true, []string{"control-lost", "frozen-sensor", "ground-thrust", "late-stop",
			"reversed-response", "runaway", "spin-disarmed", "stick-high", "throttle-mismatch"}},
		{"no idle known", []flow{axes, out, erpm, load, state}, false, []string{"frozen-sensor", "settings-slip"}},
		{"axes too slow", []flow{axesFlow(8), out, erpm, load, state}, true, []string{"low-margin", "rising-oscillation", "windup"}},
	} {
		r := newRig(t, 20)
		known := craft.Craft{Motors: 4, Poles: 14, DiameterMM: 178, MassG: 655, Layout: "quad-x", Cells: 4, RatedA: 60}
		if c.idle {
			known.IdleReady, known.IdleLeast = 0.06, 0.08
		}
		r.e = New(known, Options{})
		r.run(10, append(c.flows, rest...)...)
		r.e.Finish()
		got := map[string]string{}
		for _, l := range r.e.Summary().NotWatched {
			got[l.Name] = l.Why
			assert.NotEmpty(t, l.Why)
		}
		var lacks []string
		for name := range got {
			lacks = append(lacks, name)
		}
		sort.Strings(lacks)
		assert.Equal(t, c.lacks, lacks, "%s: %v", c.name, got)
		assert.Empty(t, r.events, c.name)
	}

	e := New(craft.Craft{}, Options{})
	for range 100 {
		e.Bad(30)
	}
	e.Finish()
	assert.Len(t, e.Summary().NotWatched, len(contract)-2, "without a good line only the link is watched")
	assert.Empty(t, e.Events())
}

// TestALapseIsSaid: what was not watched for a part of the session.
func TestALapseIsSaid(t *testing.T) {
	r := newRig(t, 20)
	all := append(usual(1), flow{decode.Load, 50, []float64{0.1}})
	r.run(10, all...)
	all[4].v = nil
	r.run(5, all...)
	all[4].v = []float64{0.1}
	r.run(5, all...)
	r.e.Finish()
	for _, l := range r.e.Summary().NotWatched {
		if l.Name == "near-lift" {
			assert.Equal(t, "load lines come, but lift in them is empty (for 5 s)", l.Why)
			return
		}
	}
	t.Error("the lapse of near-lift was not said")
}

func TestPaceIsTheSenders(t *testing.T) {
	for _, c := range []struct {
		name   string
		jitter float64
		loss   float64
		steady bool
		within float64
	}{
		{"even", 0, 0, true, 0.001}, {"jitter", 0.1, 0, true, 0.02},
		{"one in five lost", 0, 0.2, true, 0.01}, {"jitter and loss", 0.1, 0.05, true, 0.02},
	} {
		r := newRig(t, 0)
		var p pace
		var s detect.Stream
		for i := range 2000 {
			if r.rng.Float64() < c.loss {
				continue
			}
			p.take(&s, int64(float64(i)*10_000+10_000*c.jitter*(2*r.rng.Float64()-1)))
		}
		assert.Equal(t, c.steady, s.Steady, c.name)
		assert.InEpsilon(t, 10_000, s.Period, c.within, c.name)
	}
	// A clock of one millisecond makes 1 and 2 of every 1.5.
	for _, rate := range []float64{600, 667, 700} {
		var p pace
		var s detect.Stream
		for i := range 500 {
			p.take(&s, int64(float64(i)*1000/rate)*1000)
		}
		assert.True(t, s.Steady, "%.0f a second", rate)
		assert.InEpsilon(t, 1e6/rate, s.Period, 0.1)
	}
	r := newRig(t, 0)
	var p pace
	var s detect.Stream
	at := int64(0)
	steady := 0
	for range 5000 { // lines on change: no pace at all, but now and then a few that look like one
		at += int64(1000 * (1 + 500*r.rng.Float64()*r.rng.Float64()*r.rng.Float64()))
		p.take(&s, at)
		if s.Steady {
			steady++
		}
	}
	t.Log(steady)
	assert.Less(t, steady, 1500)
}
