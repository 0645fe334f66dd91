package sweep

import (
	"fmt"

	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

var lineCases = []Case{
	{
		Kind: detect.RotorLine, Where: detect.Craft, Cause: "wrong pole count", Scenario: "calm", Craft: craft.Craft{Poles: 14},
		Fault: "magnet poles more than the 14 of the craft file", Sizes: []float64{0, 2, 4, 8, 14},
		Deaf: []float64{50},
		Make: func(sc *simulator.Scenario, size float64) error {
			return sc.Set(fmt.Sprintf("craft.magnet_poles=%g", 14+size))
		},
	},
	{
		Kind: detect.RotorLine, Where: detect.Craft, Cause: "wrong pole count", Scenario: "unbalanced", Craft: craft.Craft{Poles: 14},
		Fault: "magnet poles fewer than the 14 of the craft file, one propeller out of balance by 5 g mm", Sizes: []float64{0, 2, 4, 6},
		Deaf: []float64{50},
		Make: func(sc *simulator.Scenario, size float64) error {
			sc.Motors[0].Unbalance = 5
			return sc.Set(fmt.Sprintf("craft.magnet_poles=%g", 14-size))
		},
	},
	{
		Kind: detect.RotorLine, Where: detect.M3, Cause: "loads it more", Scenario: "calm",
		Fault: "speed constant of m3 under the others', share", Sizes: []float64{0, 0.05, 0.1, 0.15, 0.2, 0.25},
		Make: func(sc *simulator.Scenario, size float64) error {
			return sc.Set(fmt.Sprintf("motor.3.speed=%g", 1-size))
		},
	},
	{
		Kind: detect.RotorLine, Where: detect.M2, Cause: "loads it less", Scenario: "calm",
		Fault: "speed constant of m2 over the others', share", Sizes: []float64{0, 0.1, 0.15, 0.2, 0.25, 0.3},
		Make: func(sc *simulator.Scenario, size float64) error {
			return sc.Set(fmt.Sprintf("motor.2.speed=%g", 1+size))
		},
	},
}
