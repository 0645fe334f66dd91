package simulator

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSetByName(t *testing.T) {
	sc, err := Load("weak-motor")
	require.NoError(t, err)
	for _, a := range []string{
		"craft.mass_g=700", "gains.scale = 1.5", "mode=level", `craft.name="Reed Bunting"`, "loop.notch=true",
		"craft.layout=quad-plus", "motor.3.thrust=0.7", "motor.1.unbalance_gmm=9", "seconds=55", "craft.magnet_poles=12",
	} {
		require.NoError(t, sc.Set(a), a)
	}
	assert.Equal(t, 700.0, sc.Craft.MassG)
	assert.Equal(t, 1.5, sc.Gains.Scale)
	assert.Equal(t, "level", sc.Mode)
	assert.Equal(t, "Reed Bunting", sc.Craft.Name)
	assert.True(t, sc.Loop.Notch)
	assert.Equal(t, "quad-plus", sc.Craft.Layout)
	assert.Equal(t, 12, sc.Craft.Poles)
	require.Len(t, sc.Motors, 2)
	assert.Equal(t, 0.7, sc.Motors[0].Thrust)
	assert.Equal(t, 130.0, sc.Motors[0].PropellerMM, "what the file says of it stays")
	assert.Equal(t, MotorSpec{Motor: 1, Thrust: 1, Torque: 1, Speed: 1, Unbalance: 9}, sc.Motors[1])

	for _, tt := range []struct{ set, want string }{
		{"craft.mass=700", "craft.mass: no such key"},
		{"gains.scale", "want NAME=VALUE"},
		{"gains.scale=", "want NAME=VALUE"},
		{"gains.scale=many", `gains.scale: "many" is no value for it`},
		{"gains.scale=nan", "not a finite number"},
		{"craft.mass_g=7", "craft.mass_g: 7 is not within 20..20000"},
		{"craft.layout=star", `"star" is none of`},
		{"motor.9.thrust=1", "no such key"},
		{"motor.2.colour=1", "no such key"},
		{"motor.2.motor=4", "keeps its number"},
		{"seconds=1\ncraft.mass_g=1", "want NAME=VALUE"},
	} {
		before := sc
		assert.ErrorContains(t, sc.Set(tt.set), tt.want, tt.set)
		assert.Equal(t, before, sc, "%s: a change that fails leaves nothing behind", tt.set)
	}
}

func TestHandsAct(t *testing.T) {
	sc := quietScenario()
	sc.Events = nil
	b := New(sc, 1)
	require.NoError(t, b.Act(Event{Do: "arm"}))
	require.NoError(t, b.Act(Event{Do: "throttle", To: 0.3, Over: 0.5}))
	playUntil(b, 2)
	assert.Equal(t, [4]float64{0.3}, b.Sticks())
	assert.Greater(t, b.Truth().LiftN, 2.0)
	require.NoError(t, b.Act(Event{Do: "stop"}))
	playUntil(b, 4)
	assert.Zero(t, b.Truth().RPM[0])
	assert.ErrorContains(t, b.Act(Event{Do: "dance"}), "no such action")
	assert.ErrorContains(t, b.Act(Event{Do: "lock", Motor: 5}), "motor")
}

// What the reader would take in another way than it is checked is refused.
func TestSpelling(t *testing.T) {
	const head = "name=\"a\"\nlesson=\"b\"\nseconds=3\n"
	for _, c := range []struct{ text, want string }{
		{"[motor]\nmotor=1\nthrust=0.3", "line 5: motor.motor: write [[motor]]"},
		{"[[motor]]\nmotor=1\nThrust=0.3", "line 6: motor 1: Thrust: keys are in small letters"},
		{"Mode=\"level\"", "line 4: Mode: keys are in small letters"},
		{"event=[{at=1,do=\"arm\"},{At=2,do=\"disarm\"}]", "line 4: event 2: At: keys are in small letters"},
		{"motor=[{motor=1},{motor=1}]", "line 4: motor 2: motor: motor 1 is described twice"},
		{"loop.sample_ms=1.5", "line 4: loop.sample_ms: 1.5 is no whole number"},
		{"motor=[{motor=1,bent=\"much\"}]", "value of the wrong kind"},
		{"event=[{at=1,do=\"throttle\",to=45}]", "line 4: event 1: to: 45 is not within 0..1"},
		{"event=[{at=1,do=\"set\",name=\"idle_ready\",value=5}]", "line 4: event 1: value: 5 is nothing that idle_ready can be"},
		{"event=[{at=1,do=\"thrust\",motor=1,value=-1}]", "line 4: event 1: value: -1 is out of range"},
	} {
		_, err := Parse([]byte(head + c.text))
		assert.ErrorContains(t, err, c.want)
	}
	_, err := Parse([]byte("name=\"a b\"\nlesson=\"b\"\nseconds=3"))
	assert.ErrorContains(t, err, "line 1: name: want one word")
	_, err = Parse([]byte("name=\"a\"\nlesson=\"b\""))
	assert.ErrorContains(t, err, "seconds: missing")
}

// A list cannot be set past its checks, and an error speaks of what was typed.
func TestSetLists(t *testing.T) {
	sc := Default()
	sc.Name, sc.Lesson, sc.Seconds = "quiet", "for tests", 30
	for _, c := range []struct{ set, want string }{
		{"motor=[{motor=2,speed=1}]", "a list"},
		{"event=[{at=0.2,do=\"throttle\"}]", "a list"},
		{"arm=[]", "a list"},
		{"motor.3.thrust=3", "motor.3.thrust=3: 3 is not within 0..2"},
		{"gains.scal=1", "did you mean gains.scale?"},
		{"motor.2.thrst=1", "did you mean thrust?"},
	} {
		assert.ErrorContains(t, sc.Set(c.set), c.want, c.set)
	}
}
