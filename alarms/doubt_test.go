package alarms

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// eachSample runs a scenario, every good line changed first.
func eachSample(t *testing.T, scenario string, change func(*decode.Sample), take func(s *decode.Sample, size int)) {
	sc, err := simulator.Load(scenario)
	require.NoError(t, err)
	bench := simulator.New(sc, 5)
	var dec decode.Decoder
	var s decode.Sample
	var buf []byte
	for done := false; !done; {
		buf, _, done = bench.Next(buf[:0])
		for line := range bytes.Lines(buf) {
			if dec.Decode(bytes.TrimSuffix(line, []byte("\n")), &s) == nil {
				change(&s)
				take(&s, len(line))
			}
		}
	}
}

func asIs(*decode.Sample) {}

// swapped wires of the load cells.
func swapped(s *decode.Sample) {
	if s.Tag == decode.Load {
		s.Num[decode.LoadN] *= -1
	}
}

// ofShaft makes speeds of the shaft of electrical ones.
func ofShaft(s *decode.Sample) {
	if s.Tag == decode.ERPM {
		for i := range s.Num {
			s.Num[i] /= 7
		}
	}
}

// scaled makes one of accel in another unit, or with z the other way.
func scaled(all, z float64) func(*decode.Sample) {
	return func(s *decode.Sample) {
		if s.Tag == decode.Accel {
			for i := range 3 {
				s.Num[decode.ForceX+i] *= all
			}
			s.Num[decode.ForceZ] *= z
		}
	}
}

func judged(t *testing.T, scenario string, change func(*decode.Sample)) *Engine {
	e := New(craft.Craft{RatedA: 20}, Options{})
	eachSample(t, scenario, change, func(s *decode.Sample, size int) {
		e.Sample(s, size)
		e.Events()
	})
	e.Finish()
	return e
}

// Swapped wires of the load cells are told while the craft is armed, once, and
// stand in the verdict; the twin that is wired right is watched all along.
func TestSwappedLoadCells(t *testing.T) {
	for _, name := range []string{"stand-load", "near-margin", "calm"} {
		sound := judged(t, name, asIs)
		assert.Empty(t, sound.AllLosses(), name)
		var right Snapshot
		sound.Snapshot(&right)
		assert.Empty(t, right.Doubted, name)

		e := judged(t, name, swapped)
		losses := e.AllLosses()
		require.Len(t, losses, 1, name)
		assert.Equal(t, []string{"near-lift", "hold-lost"}, losses[0].Names)
		assert.Contains(t, losses[0].String(), "are the load cells' wires swapped")
		assert.Less(t, losses[0].T, int64(15_500_000), "%s: before near-lift would have rung", name)
		var s Snapshot
		e.Snapshot(&s)
		assert.Len(t, s.Left, 2, name)
		assert.Equal(t, []decode.Tag{decode.Load}, s.Doubted, name)
		const act = "ease off, disarm; once rotors stand, check load's sign, cell wires, propellers"
		assert.True(t, strings.HasSuffix(losses[0].String(), "; first: "+act), "%s: %s", name, &losses[0])
		for _, n := range s.Left {
			assert.Equal(t, act, n.Act(), name)
		}
		sum := e.Summary()
		text := string(sum.AppendJSON(nil, name))
		for _, kind := range []string{"near-lift", "hold-lost"} {
			assert.Contains(t, text, `"`+kind+`":"lift falls as the rotors turn faster`)
		}
	}
}

// offBy has the load cells show so much more.
func offBy(newtons float64) func(*decode.Sample) {
	return func(s *decode.Sample) {
		if v, ok := s.Get(decode.LoadN); s.Tag == decode.Load && ok {
			s.Put(decode.LoadN, v+newtons)
		}
	}
}

// A stand that is not tared is told before the craft is armed, once; and near-lift
// rings as early as on one that is, or earlier.
func TestStandNotTared(t *testing.T) {
	rings := func(change func(*decode.Sample)) (e *Engine, first [detect.High + 1]int64) {
		e = New(craft.Craft{RatedA: 20}, Options{})
		eachSample(t, "line-breaks", change, func(s *decode.Sample, size int) {
			e.Sample(s, size)
			for _, ev := range e.Events() {
				if ev.Kind == detect.NearLift && first[ev.Priority] == 0 {
					first[ev.Priority] = ev.T
				}
			}
		})
		e.Finish()
		return e, first
	}
	sound, want := rings(asIs)
	assert.Empty(t, sound.AllLosses())
	for _, off := range []float64{-4, -1, 4} {
		e, got := rings(offBy(off))
		var told []string
		for _, l := range e.AllLosses() {
			if strings.Contains(l.Why, "with all rotors standing") && l.Names == nil {
				told = append(told, l.String())
				assert.Less(t, l.T, int64(2_010_000), "%+.0f N: as soon as it is listed", off)
			}
		}
		if assert.Len(t, told, 1, "%+.0f N", off) {
			assert.Contains(t, told[0], " First: before you arm, once rotors stand, tare the stand")
		}
		for _, level := range []detect.Priority{detect.Medium, detect.High} {
			assert.Positive(t, got[level], "%+.0f N, %s", off, level)
			assert.LessOrEqual(t, got[level], want[level]+20_000, "%+.0f N, %s", off, level)
		}
	}
}

// No gravity at rest is told once, and listed while it lasts; a z that points up is
// asked for once and switches nothing off.
func TestAccelInDoubt(t *testing.T) {
	for _, tt := range []struct {
		name   string
		change func(*decode.Sample)
		told   string
		listed bool
	}{
		{"m/s^2", asIs, "", false}, {"g", scaled(1/9.81, 1), "no gravity", true},
		{"g, z up", scaled(1/9.81, -1), "no gravity", true}, {"z up", scaled(1, -1), "does its z point up", false},
	} {
		e := judged(t, "calm", tt.change)
		all := e.AllLosses()
		if tt.told == "" {
			assert.Empty(t, all, tt.name)
		} else if assert.Len(t, all, 1, tt.name) {
			assert.Contains(t, all[0].String(), tt.told, tt.name)
			assert.Less(t, all[0].T, int64(6_000_000), "%s: before it is armed", tt.name)
		}
		var s Snapshot
		e.Snapshot(&s)
		isAccel := func(l Lack) bool { return l.Name == "accel" && strings.HasPrefix(l.Why, "no gravity") }
		sum := e.Summary()
		assert.Equal(t, tt.listed, slices.ContainsFunc(s.Absent, isAccel), tt.name)
		assert.Equal(t, tt.listed, slices.ContainsFunc(sum.NotWatched, isAccel), tt.name)
	}
}

// No scenario, whatever is wrong with its craft, brings lift or accel into doubt,
// nor a craft that lies on its back in the end; and swapped wires and
// speeds of the shaft do in each in which over half of the weight is lifted for two
// seconds.
func TestDoubtsOfScenarios(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some ten seconds")
	}
	sure := 0
	for _, sc := range simulator.List() {
		for _, tt := range []struct {
			change func(*decode.Sample)
			doubts decode.Tag // of values of this kind, Unknown for none
			up     float64    // sign of lift that is up
		}{{asIs, decode.Unknown, 1}, {swapped, decode.Load, -1}, {ofShaft, decode.ERPM, 1}} {
			f := NewFollower(craft.Craft{}, Options{})
			b, held := f.Bench(), 0
			eachSample(t, sc.Name, tt.change, func(s *decode.Sample, size int) {
				f.Sample(s, size)
				if s.Tag == decode.Load && tt.up*b.Load.V > 0.5*b.WeightN() {
					held++
				}
			})
			assert.Empty(t, b.Asks, sc.Name)
			for tag := range decode.TagCount {
				if tag != tt.doubts || tag == decode.Unknown {
					assert.Empty(t, b.Doubt[tag], sc.Name)
				} else if held > 100 {
					assert.NotEmpty(t, b.Doubt[tag], "%s: %s, %d lines", sc.Name, tag, held)
					sure++
				}
			}
		}
	}
	assert.Greater(t, sure, 60)
}
