package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

func outsOf(v ...float64) flow { return flow{decode.Out, 50, v} }

// TestCraftInDoubt: a craft file of another craft is told before the craft is armed,
// and stands.
func TestCraftInDoubt(t *testing.T) {
	file := craft.Craft{Name: "Marsh Heron", Layout: "quad-x", Motors: 4, Poles: 14, DiameterMM: 178, MassG: 655}
	ofArms := file
	ofArms.Layout = "custom"
	four, five, three := outsOf(0, 0, 0, 0), outsOf(0, 0, 0, 0, 0), outsOf(0, 0, 0)
	const whose, right = ": is the craft file this craft's?", ": is the line right?"
	for _, tt := range []struct {
		name   string
		file   craft.Craft
		layout string
		motors float64 // of the craft line; 0: none comes
		mass   float64
		flows  []flow
		why    string
	}{
		{"as it is", file, "quad-x", 4, 655, []flow{four}, ""},
		{"another pack", file, "quad-x", 4, 950, []flow{four}, ""},
		{"twice its mass", file, "quad-x", 4, 1310, []flow{four}, "craft file says mass 655 g, the bridge 1310 g" + whose},
		{"a tenth of it", file, "quad-x", 4, 65.5, []flow{four}, "craft file says mass 655 g, the bridge 65.5 g" + whose},
		{"arms of the file", ofArms, "quad-x", 4, 655, []flow{four}, ""},
		{"another layout", file, "quad-plus", 4, 655, []flow{four}, "craft file says layout quad-x, the bridge quad-plus" + whose},
		{"motors", file, "hex-x", 6, 880, []flow{four}, "craft file says 4 motors, the bridge 6" + whose},
		{"a line more, no craft line", file, "", 0, 0, []flow{five}, "craft file says 4 motors, out lines carry 5" + whose},
		{"speeds more", file, "quad-x", 4, 655, []flow{four, {decode.ERPM, 50, five.v}}, "craft file says 4 motors, erpm lines carry 5" + whose},
		{"speeds fewer: telemetry", file, "quad-x", 4, 655, []flow{four, {decode.ERPM, 50, three.v}}, ""},
		{"a line fewer", file, "", 0, 0, []flow{three}, "craft file says 4 motors, out lines carry 3" + whose},
		{"outputs fewer, speeds of all", file, "quad-x", 4, 655, []flow{three, {decode.ERPM, 50, four.v}}, ""},
		{"no file, a line fewer", craft.Craft{}, "quad-x", 4, 655, []flow{three}, "the bridge's craft line says 4 motors, out lines carry 3" + right},
		{"no file", craft.Craft{}, "quad-x", 4, 655, []flow{four}, ""},
		{"no file, a line more", craft.Craft{}, "quad-x", 4, 655, []flow{five}, "the bridge's craft line says 4 motors, out lines carry 5" + right},
		{"neither", craft.Craft{}, "", 0, 0, []flow{five}, ""},
	} {
		r := newRig(t, 20)
		r.e = New(tt.file, Options{})
		if tt.motors > 0 {
			r.craftLine("Marsh Heron", tt.layout, tt.motors, 14, 3, 178, tt.mass, 4)
		}
		for _, armed := range []float64{0, 1} {
			r.run(4, append(tt.flows, axesFlow(200), stateFlow(50, armed), flow{decode.Load, 20, []float64{0.01}})...)
			var s Snapshot
			r.e.Snapshot(&s)
			told := 0
			for _, l := range r.e.AllLosses() {
				if tt.why != "" && len(l.Why) > len(tt.why) && l.Why[:len(tt.why)] == tt.why {
					told++
				}
			}
			if tt.why == "" {
				assert.Empty(t, s.Keeps, tt.name)
				assert.Empty(t, s.Doubted, tt.name)
				continue
			}
			want := Lack{"craft", tt.why}
			assert.Equal(t, []Lack{want}, s.Keeps, tt.name)
			assert.Equal(t, []decode.Tag{decode.Craft}, s.Doubted, tt.name)
			assert.Contains(t, r.e.Summary().NotWatched, want, tt.name)
			assert.Contains(t, s.NotWatched, Lack{"near-lift", tt.why}, tt.name)
			assert.Equal(t, 1, told, "%s: once, before it is armed", tt.name)
		}
	}
}

// TestWrongLineIsNotWatchedAnew: a watch that starts anew hears the same line again.
func TestWrongLineIsNotWatchedAnew(t *testing.T) {
	r := newRig(t, 20)
	r.e = New(craft.Craft{}, Options{})
	r.craftLine("Marsh Heron", "quad-x", 4, 14, 3, 178, 655, 4)
	r.run(2, axesFlow(200), stateFlow(50, 0), outsOf(0, 0, 0, 0, 0))
	keeps := keeps(&r.e.bench)
	assert.Len(t, keeps, 1)
	assert.Equal(t, "ease off, disarm; set the number of motors in the craft or its bridge", keeps[0].Act())
}

// What is mended is believed again: the craft line, and the motors of a bridge that
// began anew.
func TestCraftDoubtEnds(t *testing.T) {
	why := func(r *rig) string { return r.e.bench.Doubt[decode.Craft] }
	r := newRig(t, 20)
	r.e = New(craft.Craft{MassG: 655}, Options{})
	flows := []flow{axesFlow(200), stateFlow(50, 0), outsOf(0, 0, 0, 0)}
	r.craftLine("Marsh Heron", "quad-x", 4, 14, 3, 178, 6550, 4)
	r.run(2, flows...)
	assert.NotEmpty(t, why(r))
	r.craftLine("Marsh Heron", "quad-x", 4, 14, 3, 178, 655, 4)
	assert.Empty(t, why(r))
	r.run(1, axesFlow(200), stateFlow(50, 0), outsOf(0, 0, 0, 0, 0, 0))
	assert.Contains(t, why(r), "out lines carry 6")
	r.run(5, flows...)
	assert.Contains(t, why(r), "out lines carry 6", "they did")
	r.restart()
	r.run(2, flows...)
	assert.Empty(t, why(r))
	r.craftLine("Bittern", "tri", 3, 14, 3, 178, 655, 4)
	assert.Equal(t, `craft changed: "Bittern" with 3 motors, was "Marsh Heron" with 4: is this the craft that you mean?`, why(r))
	r.restart()
	r.run(20, axesFlow(200), stateFlow(50, 0), outsOf(0, 0, 0))
	assert.Contains(t, why(r), "craft changed", "it is still another")
	r.craftLine("Marsh Heron", "quad-x", 4, 14, 3, 178, 655, 4)
	r.restart()
	r.run(2, flows...)
	assert.Empty(t, why(r))
}

// TestTheGroundFlagHoldsNobodyUp: what the craft's own word of the ground calls in
// doubt is told, and keeps from arming only where that is known to be too late.
func TestTheGroundFlagHoldsNobodyUp(t *testing.T) {
	const why = "OFF GROUND, far from lifting its weight: are mass, load, tare or ground right?"
	require.True(t, detect.OffLight(why))
	var b detect.Bench
	for armed, want := range map[detect.Tri]int{detect.Yes: 1, detect.Unknown: 1, detect.No: 0} {
		b.Armed, b.Doubt[decode.Load] = armed, why
		assert.Len(t, keeps(&b), want, "%v", armed)
		b.Doubt[decode.Load] = "load is not tared: -4.0 N with all rotors standing"
		assert.Len(t, keeps(&b), 1, "%v", armed)
	}
}
