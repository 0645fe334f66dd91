package sweep

import (
	"fmt"

	"tetherbell/alarms/detect"
	"tetherbell/simulator"
)

const allAxes = detect.Roll | detect.Pitch | detect.Yaw

var motionCases = []Case{
	{
		// Roll bears 2.7 times the gains of the sound craft, pitch 3.6 times.
		Kind: detect.RisingOscillation, Where: allAxes, Least: detect.Medium,
		Scenario: "calm", Fault: "gains over the sound craft's", Sizes: []float64{1, 1.5, 2, 2.4, 2.7, 3, 3.5},
		Make: scaleGains,
	},
	{
		Kind: detect.LowMargin, Where: detect.Roll, Scenario: "near-margin",
		Fault: "gains over those that roll bears", Sizes: []float64{0.4, 0.7, 0.8, 0.85, 0.9},
		Make: func(sc *simulator.Scenario, size float64) error {
			return scaleGains(sc, size/0.9)
		},
		Deaf: []float64{50}, // 13 Hz lies above a quarter of the pace
	},
	{
		Kind: detect.GroundThrust, Where: detect.Craft, Least: detect.High, Scenario: "tip-over",
		Fault: "gyro's error in roll, deg/s, stick trimmed to 0.015", Sizes: []float64{0, 10, 20, 40, 60, 80},
		Make: func(sc *simulator.Scenario, size float64) error {
			change(sc, "gyro-bias", func(ev simulator.Event) simulator.Event {
				ev.Value = -size
				return ev
			})
			sc.Events = append(sc.Events, simulator.Event{At: 6.8, Do: "throttle", To: 0.015})
			return nil
		},
	},
	{
		Kind: detect.TipOver, Where: allAxes, Least: detect.High, Scenario: "leads-crossed",
		Fault: "throttle, leads crossed left for right; 0: not crossed", Sizes: []float64{0, 0.01, 0.1, 0.2, 0.34},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size == 0 {
				sc.Motors = nil
				size = 0.2
			}
			sc.Events[topThrottle(sc)].To = size
			return nil
		},
	},
	{
		Kind: detect.NearLift, Where: detect.Craft, Least: detect.Medium, Scenario: "calm",
		Fault: "throttle", Sizes: []float64{0.27, 0.3, 0.32, 0.34, 0.4},
		Make: func(sc *simulator.Scenario, size float64) error {
			sc.Events[topThrottle(sc)].To = size
			return nil
		},
	},
	{
		Kind: detect.LateStop, Where: detect.M2, Least: detect.High, Scenario: "stop-late",
		Fault: "throttle at which m2 stays after the stop; 0: it obeys", Sizes: []float64{0, 0.01, 0.05, 0.12},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size == 0 {
				change(sc, "stick-output", nil)
				change(sc, "free-output", nil)
				return nil
			}
			sc.Events[topThrottle(sc)].To = max(size, 0.02)
			change(sc, "throttle", func(ev simulator.Event) simulator.Event {
				if ev.At > 12 {
					ev.To = size
				}
				return ev
			})
			return nil
		},
	},
	{
		Kind: detect.SpinDisarmed, Where: fourMotors, Least: detect.High, Scenario: "motor-wakes",
		Fault: "output of m4 while disarmed", Sizes: []float64{0, 0.005, 0.02, 0.05, 0.12},
		Make: func(sc *simulator.Scenario, size float64) error {
			change(sc, "stray-output", func(ev simulator.Event) simulator.Event {
				ev.Value = size
				return ev
			})
			return nil
		},
	},
	{
		Kind: detect.StaleLink, Where: detect.Link, Least: detect.High, Scenario: "calm",
		Fault: "silence of the line while armed, s", Sizes: []float64{0, 0.1, 0.2, 0.29, 0.35, 0.5, 1},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size > 0 {
				sc.Events = append(sc.Events, simulator.Event{At: 15, Do: "silence", Seconds: size})
			}
			return nil
		},
	},
	{
		Kind: detect.BadLink, Where: detect.Link, Least: detect.Medium, Scenario: "calm", Whole: true,
		Fault: "share of lines lost while armed", Sizes: []float64{0, 0.02, 0.05, 0.08, 0.12, 0.2},
		Make: func(sc *simulator.Scenario, size float64) error {
			sc.Events = append(sc.Events, simulator.Event{At: 10, Do: "lose", To: size, Value: 1})
			return nil
		},
	},
}

func scaleGains(sc *simulator.Scenario, size float64) error {
	return set(sc, fmt.Sprintf("gains.scale=%g", size))
}
