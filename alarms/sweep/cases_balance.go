package sweep

import (
	"fmt"

	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// quadMotors are the places of an imbalance of a quad.
const quadMotors = detect.M1 | detect.M2 | detect.M3 | detect.M4

// weightAt puts the centre of gravity off the middle along one axis.
func weightAt(key string) func(sc *simulator.Scenario, size float64) error {
	return func(sc *simulator.Scenario, size float64) error {
		if err := sc.Set("craft.cg_forward_mm=0"); err != nil {
			return err
		}
		return sc.Set(fmt.Sprintf("%s=%g", key, size))
	}
}

var balanceCases = []Case{
	{
		Kind: detect.OutputImbalance, Where: quadMotors, Cause: "weight off centre", Scenario: "nose-heavy",
		Craft: craft.Craft{ArmMM: 157.5},
		Fault: "weight ahead of the middle, mm (throttle 0.28, lift 0.6 of weight)",
		Sizes: []float64{0, 10, 20, 25, 30, 34, 40}, Make: weightAt("craft.cg_forward_mm"),
	},
	{
		Kind: detect.OutputImbalance, Where: quadMotors, Cause: "weight off centre", Scenario: "nose-heavy",
		Craft: craft.Craft{ArmMM: 157.5},
		Fault: "weight right of the middle, mm, at a throttle of 0.15 (lift 0.3 of weight)",
		Sizes: []float64{0, 5, 10, 15, 20, 25},
		Make: func(sc *simulator.Scenario, size float64) error {
			for i := range sc.Events {
				if e := &sc.Events[i]; e.Do == "throttle" && e.To > 0 {
					e.To = 0.15
				}
			}
			return weightAt("craft.cg_right_mm")(sc, size)
		},
	},
	{
		Kind: detect.OutputImbalance, Where: quadMotors, Cause: "motor or propeller", Scenario: "weak-motor",
		Craft: craft.Craft{ArmMM: 157.5},
		Fault: "propeller of m3 smaller than 178 mm, mm less",
		Sizes: []float64{0, 10, 20, 30, 40, 48},
		Make: func(sc *simulator.Scenario, size float64) error {
			sc.Motors[0].PropellerMM = 178 - size
			return nil
		},
	},
	{
		Kind: detect.Windup, Where: detect.Roll, Scenario: "windup",
		Fault: "roll stick held over for 5 s under a short tether, share of full stick",
		Sizes: []float64{0, 0.01, 0.02, 0.03, 0.04, 0.06, 0.09},
		Make: func(sc *simulator.Scenario, size float64) error {
			for i := range sc.Events {
				if e := &sc.Events[i]; e.Do == "roll" && e.To != 0 {
					e.To = size
				}
			}
			return nil
		},
	},
}
