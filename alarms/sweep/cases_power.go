package sweep

import (
	"fmt"

	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

const fourMotors = detect.M1 | detect.M2 | detect.M3 | detect.M4

var powerCases = []Case{
	{
		Kind: detect.MotorHeat, Where: detect.M1, Cause: "blocked", Least: detect.Medium,
		Scenario: "motor-locks", Fault: "throttle at which m1 is locked, 1",
		Sizes: []float64{0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.27}, Make: lockAt,
	},
	{
		// Light motors: 6 J/K. Those of the scenario have 18 and heat by 1 deg C a
		// second.
		Kind: detect.MotorHeat, Where: fourMotors, Cause: "controller's noise", Least: detect.Medium,
		Scenario: "filter-open", Fault: "D of roll and pitch over the sound craft's",
		Sizes: []float64{1, 3, 10, 20, 33, 50}, Make: openFilter,
	},
	{
		Kind: detect.PackSag, Where: detect.Pack, Cause: "nearly empty", Least: detect.Medium,
		Scenario: "calm", Fault: "charge missing: V of a resting cell under 4.08",
		Sizes: []float64{0, 0.3, 0.5, 0.55, 0.6, 0.7}, Make: emptyPack,
	},
	{
		Kind: detect.PackSag, Where: detect.Pack, Cause: "high resistance", Least: detect.Medium,
		Scenario: "calm", Fault: "resistance of the pack, ohm, at 3.72 V a resting cell",
		Sizes: []float64{0.018, 0.1, 0.2, 0.3, 0.45, 0.6}, Make: oldPack,
	},
	{
		Kind: detect.OverCurrent, Where: detect.Pack, Cause: "blocked", Least: detect.High,
		Scenario: "motor-locks", Craft: craft.Craft{RatedA: 10}, Fault: "throttle at which m1 is locked, 1, pack rated for 10 A",
		Sizes: []float64{0, 0.1, 0.15, 0.2, 0.27}, Make: lockAt,
	},
}

// set makes assignments in turn.
func set(sc *simulator.Scenario, assignments ...string) error {
	for _, a := range assignments {
		if err := sc.Set(a); err != nil {
			return err
		}
	}
	return nil
}

// lockAt has the throttle of motor-locks come up to a size, and nothing locked
// at nought.
func lockAt(sc *simulator.Scenario, size float64) error {
	events := sc.Events[:0]
	for _, e := range sc.Events {
		switch {
		case size == 0 && (e.Do == "lock" || e.Do == "unlock"):
			continue
		case size > 0 && e.Do == "throttle" && e.To > 0:
			e.To = size
		}
		events = append(events, e)
	}
	sc.Events = events
	return nil
}

func openFilter(sc *simulator.Scenario, size float64) error {
	d := fmt.Sprint(12e-6 * size)
	return set(sc, "craft.motor_heat_jk=6", "gains.roll_d="+d, "gains.pitch_d="+d)
}

func emptyPack(sc *simulator.Scenario, size float64) error {
	return set(sc, fmt.Sprintf("craft.rest_v=%g", 4.08-size))
}

func oldPack(sc *simulator.Scenario, size float64) error {
	return set(sc, "craft.rest_v=3.72", fmt.Sprintf("craft.pack_ohm=%g", size))
}
