package sweep

import (
	"fmt"

	"tetherbell/alarms/detect"
	"tetherbell/simulator"
)

// change replaces the events of a kind, or takes them away where to is nil.
func change(sc *simulator.Scenario, do string, to func(ev simulator.Event) simulator.Event) {
	var kept []simulator.Event
	for _, ev := range sc.Events {
		switch {
		case ev.Do != do:
			kept = append(kept, ev)
		case to != nil:
			kept = append(kept, to(ev))
		}
	}
	sc.Events = kept
}

var rotorCases = []Case{
	{
		Kind: detect.RotorLost, Where: detect.M1, Cause: "rotor stands", Least: detect.High,
		Scenario: "motor-locks", Fault: "rotor locked, 0 no, 1 yes", Sizes: []float64{0, 1},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size == 0 {
				change(sc, "lock", nil)
				change(sc, "unlock", nil)
			}
			return nil
		},
	},
	{
		Kind: detect.RotorLost, Where: detect.M2, Scenario: "miscount", Fault: "speed counted, share off 1",
		Sizes: []float64{0, 0.1, 0.2, 0.25, 0.35, 0.4, 0.6},
		Make: func(sc *simulator.Scenario, size float64) error {
			change(sc, "miscount", func(ev simulator.Event) simulator.Event {
				ev.Value = 1 - size
				return ev
			})
			return nil
		},
	},
	{
		Kind: detect.RotorLost, Where: detect.M2, Cause: "miscount of turns", Scenario: "miscount",
		Fault: "every other turn counted, 0 no, 1 yes", Sizes: []float64{0, 1},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size == 0 {
				change(sc, "miscount", nil)
			}
			return nil
		},
	},
	{
		Kind: detect.RotorLost, Where: detect.M3, Cause: "propeller gone", Least: detect.High,
		Scenario: "propeller-off", Fault: "thrust lost, share of the propeller's",
		Sizes: []float64{0, 0.25, 0.5, 0.75, 0.9, 1},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size == 1 {
				return nil
			}
			change(sc, "propeller-off", func(ev simulator.Event) simulator.Event {
				ev.Do, ev.Value = "thrust", 1-size
				return ev
			})
			return nil
		},
	},
	{
		Kind: detect.HoldLost, Where: detect.Craft, Cause: "let go", Least: detect.High,
		Scenario: "line-breaks", Fault: "lines of the tether that break", Sizes: []float64{0, 1, 2, 3, 4},
		Make: func(sc *simulator.Scenario, size float64) error {
			change(sc, "line-breaks", nil)
			for k := range int(size) {
				sc.Events = append(sc.Events, simulator.Event{At: 16, Do: "line-breaks", Value: float64(k + 1)})
			}
			return nil
		},
	},
	{
		Kind: detect.VibrationStep, Where: detect.Craft, Least: detect.High,
		Scenario: "blade-breaks", Fault: "share of a blade that breaks off", Sizes: []float64{0, 0.1, 0.2, 0.3, 0.4, 0.5},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size == 0 {
				change(sc, "break-blade", nil)
				return nil
			}
			change(sc, "break-blade", func(ev simulator.Event) simulator.Event {
				ev.Value = size
				return ev
			})
			return nil
		},
		Deaf: []float64{50},
	},
	{
		Kind: detect.FrozenSensor, Where: detect.Roll | detect.Pitch | detect.Yaw, Scenario: "gyro-hangs",
		Fault: "time that the gyro hangs, s", Sizes: []float64{0, 0.5, 0.9, 1.1, 1.5},
		Make: hang,
	},
	{
		Kind: detect.FrozenSensor, Where: detect.M1 | detect.M2 | detect.M3 | detect.M4, Scenario: "temp-hangs",
		Fault: "time that the temperatures hang, s", Sizes: []float64{0, 2, 4, 6, 9, 13},
		Make: hang,
	},
	{
		Kind: detect.PressureDip, Where: detect.Craft, Least: detect.Note, Scenario: "baro-wash",
		Fault: "share of the discs' loading that the barometer feels", Sizes: []float64{0, 0.08, 0.12, 0.2, 0.3, 0.4},
		Make: func(sc *simulator.Scenario, size float64) error {
			return sc.Set(fmt.Sprintf("sensors.wash=%g", size))
		},
	},
}

// hang has a sensor hang for a time.
func hang(sc *simulator.Scenario, size float64) error {
	if size == 0 {
		change(sc, "freeze", nil)
		return nil
	}
	change(sc, "freeze", func(ev simulator.Event) simulator.Event {
		ev.Seconds = size
		return ev
	})
	return nil
}
