package alarms_test

import (
	"encoding/json"
	"fmt"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/sweep"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// spinUp runs a built-in scenario through decoder and engine.
func spinUp(t *testing.T, name string, seed uint64) (events []alarms.Event, truth simulator.Truth, sum alarms.Summary) {
	t.Helper()
	sc, err := simulator.Load(name)
	require.NoError(t, err)
	return spinUpOf(sc, seed)
}

func spinUpOf(sc simulator.Scenario, seed uint64) (events []alarms.Event, truth simulator.Truth, sum alarms.Summary) {
	sim := simulator.New(sc, seed)
	e := alarms.New(craft.Craft{Hold: craft.Hold(sc.Craft.Hold), HoldRatedN: sc.Craft.HoldRatedN}, alarms.Options{})
	events = sweep.Feed(sim, e)
	return events, sim.Truth(), e.Summary()
}

const motors = detect.M1 | detect.M2 | detect.M3 | detect.M4

// TestNearMarginIsNotHigh: a loop at nine tenths of the gain that it bears rings
// on noise and never grows: low-margin tells it, and nobody is told to cut the
// throttle. (Medium may come by chance: three in ten runs at 0.94.)
func TestNearMarginIsNotHigh(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	told := 0
	for seed := range uint64(4) {
		events, _, _ := spinUp(t, "near-margin", seed+20)
		for _, ev := range events {
			assert.Less(t, ev.Priority, detect.High, "seed %d: %s", seed, ev.Plain())
			if ev.Kind == detect.LowMargin && ev.Where == detect.Roll && ev.Change == alarms.Raised {
				told++
			}
		}
	}
	assert.GreaterOrEqual(t, told, 3)
}

// TestSwingHeldUp: while a loop swings far over its limit nothing calls it
// stable: high stays high, though the craft rocks and hops, and low-margin says
// nothing of its overtones.
func TestSwingHeldUp(t *testing.T) {
	sc, err := simulator.Load("gains-high")
	require.NoError(t, err)
	require.NoError(t, sc.Set("seconds=46"))
	require.NoError(t, sc.Set("gains.scale=1.3"))
	for k := range sc.Events {
		if sc.Events[k].At >= 20 {
			sc.Events[k].At += 20 // the person is slower still
		}
	}
	events, _, _ := spinUpOf(sc, 1)
	high := false
	for _, ev := range events {
		if ev.T > 40*detect.Second {
			break
		}
		assert.NotEqual(t, detect.LowMargin, ev.Kind, ev.Plain())
		if ev.Kind == detect.RisingOscillation && ev.Where == detect.Roll {
			assert.False(t, high && ev.Priority < detect.High, ev.Plain())
			high = high || ev.Priority == detect.High
		}
	}
	assert.True(t, high)
}

// A want is an alarm that a scenario must ring, or may.
type want struct {
	kind   detect.Kind
	wheres detect.Where // any of
	worst  detect.Priority
	may    bool // and need not
}

const (
	high, medium = detect.High, detect.Medium
	whole        = detect.Craft
)

// scenarioRings is what each scenario rings at medium or high, and nothing else.
var scenarioRings = map[string][]want{
	// Sound craft, or a fault that is a low alarm, a note or none.
	"calm": nil, "by-the-card": nil, "gains-halved": nil, "first-run-5": nil, "poles-right": nil, "stand": nil, "hexa": nil, "tri": nil,
	"baro-wash": nil, "bent-blade": nil, "miscount": nil, "near-margin": nil, "slow-stream": nil, "stick-off-zero": nil,
	"strap-slips": nil, "unbalanced": nil,

	"gains-high":  {{detect.RisingOscillation, detect.Roll, high, false}},
	"filter-open": {{detect.RisingOscillation, detect.Roll | detect.Pitch, high, false}, {detect.NearLift, whole, high, false}},
	"poles-wrong": {{detect.RisingOscillation, detect.Roll | detect.Pitch, high, false}},

	"idle-slip":      {{detect.SettingsSlip, whole, high, false}},
	"idle-step":      {{detect.IdleGap, whole, high, false}},
	"stick-up":       {{detect.StickHigh, whole, high, false}},
	"stick-reversed": {{detect.ReversedResponse, detect.Pitch, high, false}},
	"mixer-reversed": {{detect.ReversedResponse, detect.Pitch, high, false}},
	"control-lost":   {{detect.ControlLost, whole, high, false}},
	"height-kept":    {{detect.Runaway, whole, high, false}, {detect.NearLift, whole, high, false}},

	"weak-motor":    {{detect.OutputImbalance, detect.M3, medium, false}},
	"nose-heavy":    {{detect.OutputImbalance, motors, high, false}},
	"windup":        {{detect.Windup, detect.Roll, high, false}},
	"tip-over":      {{detect.GroundThrust, whole, high, false}, {detect.NearLift, whole, medium, false}},
	"line-breaks":   {{detect.NearLift, whole, high, false}},
	"stand-load":    {{detect.NearLift, whole, high, false}},
	"stand-lets-go": {{detect.HoldLost, whole, high, false}},
	// It throws itself over, and flounders on its back with the loops at work.
	"leads-crossed": {{detect.TipOver, detect.Roll | detect.Yaw, high, false}, {detect.NearLift, whole, high, false},
		{detect.RisingOscillation, detect.Roll | detect.Pitch | detect.Yaw, high, true}},

	"blade-breaks":  {{detect.VibrationStep, whole, high, false}},
	"propeller-off": {{detect.RotorLost, detect.M3, high, false}},
	"motor-locks":   {{detect.RotorLost, detect.M1, high, false}},
	"old-pack":      {{detect.PackSag, detect.Pack, medium, false}},
	"stop-late":     {{detect.LateStop, detect.M2, high, false}},
	"motor-wakes":   {{detect.SpinDisarmed, detect.M4, high, false}},

	"noisy-link": {{detect.StaleLink, detect.Link, high, false}, {detect.BadLink, detect.Link, medium, false}},
	"temp-hangs": {{detect.FrozenSensor, motors, medium, false}},
	// The loop steers by a dead gyro.
	"gyro-hangs": {{detect.FrozenSensor, detect.Roll | detect.Pitch | detect.Yaw, medium, false}, {detect.NearLift, whole, medium, true}},

	"first-run": {{detect.SettingsSlip, whole, high, false}, {detect.RisingOscillation, detect.Roll, high, false},
		{detect.ReversedResponse, detect.Pitch, high, false}, {detect.OutputImbalance, motors, high, false}},
	"first-run-2": {{detect.RisingOscillation, detect.Roll, high, false}, {detect.ReversedResponse, detect.Pitch, high, false},
		{detect.OutputImbalance, motors, high, false}, {detect.NearLift, whole, high, false}},
	"first-run-3": {{detect.ReversedResponse, detect.Pitch, high, false}, {detect.OutputImbalance, motors, high, false}},
	"first-run-4": {{detect.OutputImbalance, motors, high, false}},
}

// TestScenariosRing: each scenario rings for its one cause, at its place and
// in time, and for nothing else.
func TestScenariosRing(t *testing.T) {
	for _, sc := range simulator.List() {
		assert.Contains(t, scenarioRings, sc.Name)
	}
	for name, wants := range scenarioRings {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			seeds := uint64(3)
			if quick {
				seeds = 1
			}
			for seed := range seeds {
				events, _, _ := spinUp(t, name, seed+1)
				met, must := map[detect.Kind]bool{}, 0
				for _, w := range wants {
					if !w.may {
						must++
					}
				}
				for _, ev := range events {
					if ev.Change != alarms.Raised && ev.Change != alarms.Worsened || ev.Priority < detect.Medium {
						continue
					}
					known := false
					for _, w := range wants {
						if ev.Kind == w.kind {
							known = true
							if !w.may {
								met[ev.Kind] = true
							}
							assert.NotZero(t, w.wheres&ev.Where, ev.Plain())
							assert.LessOrEqual(t, ev.Priority, w.worst, ev.Plain())
						}
					}
					assert.True(t, known, "seed %d: %s", seed, ev.Plain())
				}
				assert.Len(t, met, must, "seed %d rang for %v", seed, met)
			}
		})
	}
}

// TestGainsHighIsHeardInTime: in the closed loop the alarm comes before the
// controller output has passed the limit, seed by seed.
func TestGainsHighIsHeardInTime(t *testing.T) {
	for seed := range uint64(10) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			events, truth, _ := spinUp(t, "gains-high", seed+100)
			ev, ok := firstOscillation(events)
			require.True(t, ok)
			require.Equal(t, detect.Roll, ev.Where)
			require.Positive(t, truth.OverLimitUS[0])
			require.Less(t, ev.T, truth.OverLimitUS[0], "the limit was passed in silence")
			require.InEpsilon(t, 14, ev.Story.More[0].Value, 0.1, "frequency")
		})
	}
}

// TestEveryKindSpeaks: what each kind of alarm says is an event as programs read
// them, and each has a cause that raises it.
func TestEveryKindSpeaks(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	var mu sync.Mutex
	spoke := map[detect.Kind]bool{}
	cases := sweep.Cases()
	t.Run("cases", func(t *testing.T) {
		for i := range cases {
			c := &cases[i]
			t.Run(c.Kind.String()+", "+c.Fault, func(t *testing.T) {
				t.Parallel()
				r, err := c.Play(c.Sizes[len(c.Sizes)-1], 200, 0, 1)
				require.NoError(t, err)
				require.True(t, r.Seen, "elsewhere: %s, not watched: %s", r.Elsewhere, r.NotWatched)
				for k := range r.Events {
					line := r.Events[k].AppendJSON(nil, "")
					var ev struct {
						Alarm, Text string
						Detail      map[string]any
					}
					require.NoError(t, json.Unmarshal(line, &ev), "%s", line)
					require.NotEmpty(t, ev.Text)
					require.NotEmpty(t, ev.Detail["unit"], "%s", line)
				}
				without, err := c.Play(c.Sizes[0], 200, 0, 1)
				require.NoError(t, err)
				assert.False(t, without.Seen, "without the fault")
				mu.Lock()
				spoke[c.Kind] = true
				mu.Unlock()
			})
		}
	})
	for k := range detect.KindCount {
		assert.True(t, spoke[k], "no cause raises %s", k)
	}
}
