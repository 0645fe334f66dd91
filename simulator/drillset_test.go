package simulator

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// A drilled is one recording of the drill: a craft as in a built-in scenario,
// and a run that begins as all of them do. What comes of it must not be seen
// from its name, its length or its first seconds.
type drilled struct {
	file    string
	from    string // the scenario whose craft it is
	seed    uint64
	seconds float64
	top     float64 // of the throttle
	down    float64 // when it goes down again, s
	cause   float64 // s; 0: there from the beginning, or there is none
	sound   bool    // nothing is wrong
	lesson  string
	events  []Event // what happens besides
	change  func(sc *Scenario)
}

// drillSet is in an order that tells nothing.
var drillSet = []drilled{
	{file: "d01", from: "blade-breaks", seed: 11, seconds: 22, top: 0.27, down: 18, cause: 12.2,
		lesson: "half of a blade of m2 broke off: it shakes at once; the piece is somewhere",
		events: []Event{{At: 12.2, Do: "break-blade", Motor: 2, Value: 0.5}},
		change: func(sc *Scenario) { sc.Rates.Axes, sc.Rates.Accel = 50, 200 }},
	{file: "d02", from: "calm", seed: 12, seconds: 28, top: 0.27, down: 23, sound: true,
		lesson: "sound craft, small sticks: whoever stops here has seen a ghost",
		events: nudges(14, 0.06)},
	{file: "d03", from: "calm", seed: 13, seconds: 24, top: 0.28, down: 20,
		lesson: "roll gains far too high: the shake grows with the throttle; cut it at the first sign, then halve the gains",
		change: func(sc *Scenario) {
			sc.Gains.RollP, sc.Gains.RollI, sc.Gains.RollD = 0.0069, 0.0115, 0.0000345
		}},
	{file: "d04", from: "calm", seed: 14, seconds: 22, top: 0, down: 17, cause: 4.1,
		lesson: "armed idle was set to 0.8 between two armings: near full power at the next; read a setting before you arm",
		events: []Event{
			{At: 3.4, Do: "disarm"}, {At: 4.1, Do: "set", Name: "idle_ready", Value: 0.8}, {At: 8, Do: "arm"},
			{At: 11, Do: "stop"}, {At: 11.5, Do: "disarm"},
		}},
	{file: "d05", from: "calm", seed: 15, seconds: 26, top: 0.27, down: 22, cause: 17.3,
		lesson: "the propeller of m4 flew off: its motor races, its corner has no thrust",
		events: []Event{{At: 17.3, Do: "propeller-off", Motor: 4}}},
	{file: "d06", from: "calm", seed: 16, seconds: 27, top: 0.3, down: 23, sound: true,
		lesson: "a sound craft in gusty air with quick sticks: livelier than the others, and nothing grows",
		events: nudges(12.5, 0.1), change: func(sc *Scenario) { sc.Air.Gust *= 2 }},
	{file: "d07", from: "calm", seed: 17, seconds: 29, top: 0.27, down: 25,
		lesson: "pitch gains a little over what the loop bears: the shake takes seconds to grow; it never stops by itself",
		change: func(sc *Scenario) {
			sc.Gains.PitchP, sc.Gains.PitchI, sc.Gains.PitchD = 0.0088, 0.01467, 0.0000440
		}},
	{file: "d08", from: "calm", seed: 18, seconds: 24, top: 0.26, down: 20, cause: 13.1,
		lesson: "the lines stopped coming while the craft was armed: what the screen shows is old, and the craft runs on unseen",
		events: []Event{{At: 13.1, Do: "silence", Seconds: 6}}},
	{file: "d09", from: "stick-reversed", seed: 19, seconds: 27, top: 0.27, down: 23, cause: 15.5,
		lesson: "the pitch stick works the wrong way: try every stick small before it is needed",
		events: []Event{
			{At: 12.5, Do: "roll", To: 0.06, Over: 0.15}, {At: 13, Do: "roll", To: -0.06, Over: 0.3}, {At: 13.5, Do: "roll", To: 0, Over: 0.15},
			{At: 15.5, Do: "pitch", To: 0.1, Over: 0.15}, {At: 16, Do: "pitch", To: -0.1, Over: 0.3}, {At: 16.5, Do: "pitch", To: 0, Over: 0.15},
			{At: 18.5, Do: "pitch", To: 0.1, Over: 0.15}, {At: 19, Do: "pitch", To: -0.1, Over: 0.3}, {At: 19.5, Do: "pitch", To: 0, Over: 0.15},
		}},
	{file: "d10", from: "calm", seed: 20, seconds: 26, top: 0.25, down: 21, sound: true,
		lesson: "a sound craft: a steady hum is no fault",
		events: nudges(16, 0.05)},
	{file: "d11", from: "weak-motor", seed: 21, seconds: 26, top: 0.28, down: 22,
		lesson: "m3 carries a propeller that is too small and works far harder than the rest: down, and look at it",
		change: func(sc *Scenario) { sc.Rates.Axes = 100 }},
	{file: "d12", from: "calm", seed: 22, seconds: 23, top: 0.3, down: 19, cause: 11.2,
		lesson: "the gyro's zero went off: the craft believes that it turns, steers against it, and one side lifts until the tether holds it",
		events: []Event{{At: 11.2, Do: "gyro-bias", Name: "roll", Value: -80}}},
}

// nudges are small sticks, one axis after the other.
func nudges(at, to float64) []Event {
	var out []Event
	for _, axis := range []string{"roll", "pitch", "yaw"} {
		out = append(out, Event{At: at, Do: axis, To: to, Over: 0.15}, Event{At: at + 0.5, Do: axis, To: -to, Over: 0.3},
			Event{At: at + 1, Do: axis, To: 0, Over: 0.15})
		at += 2
	}
	return out
}

func (d drilled) scenario(t *testing.T) Scenario {
	sc, err := Load(d.from)
	require.NoError(t, err)
	sc.Seconds = d.seconds
	sc.Events = []Event{
		{At: 1.5, Do: "arm"}, {At: 4.5, Do: "throttle", To: d.top, Over: 6},
		{At: d.down, Do: "throttle", To: 0, Over: 1.5}, {At: d.down + 2, Do: "disarm"},
	}
	sc.Events = append(sc.Events, d.events...)
	sc.Rates = Rates{Axes: 125, Out: 25, ERPM: 10, Accel: 0, Load: 20, Temp: 1, Pack: 5, Air: 0, State: 10}
	if d.change != nil {
		d.change(&sc)
	}
	require.NoError(t, sc.Check())
	return sc
}

// sealed is the line that tells the program the answer, and no reader of the
// recording at a glance.
func (d drilled) sealed(t *testing.T) string {
	text, err := json.Marshal(struct {
		Fault  bool    `json:"fault"`
		Cause  float64 `json:"cause_s,omitempty"`
		Lesson string  `json:"lesson"`
	}{!d.sound, d.cause, d.lesson})
	require.NoError(t, err)
	return "#drill " + base64.StdEncoding.EncodeToString(text)
}

// The recordings in testdata/drill are what this simulator makes:
//
//	go test ./simulator -run TestDrillSet -update
func TestDrillSet(t *testing.T) {
	for _, d := range drillSet {
		t.Run(d.file, func(t *testing.T) {
			path := filepath.Join("..", "testdata", "drill", d.file+".bell")
			got := recordAs(t, d.scenario(t), d.seed, map[int64]string{0: d.sealed(t)}, "bench", 20_000)
			require.Less(t, len(got), 400_000, "it is to be kept")
			if *update {
				require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
				require.NoError(t, os.WriteFile(path, got, 0o644))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			require.True(t, bytes.Equal(want, got), "%s is not what the simulator makes: rewrite it with -update", path)
		})
	}
}
