package sweep

import (
	"strconv"

	"tetherbell/alarms/detect"
	"tetherbell/simulator"
)

// setAll changes keys of a scenario.
func setAll(sc *simulator.Scenario, keys ...string) error {
	for _, k := range keys {
		if err := sc.Set(k); err != nil {
			return err
		}
	}
	return nil
}

func figure(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// without leaves out the events of one word.
func without(sc *simulator.Scenario, do string) {
	kept := sc.Events[:0]
	for _, e := range sc.Events {
		if e.Do != do {
			kept = append(kept, e)
		}
	}
	sc.Events = kept
}

// scaleStick has every movement of a stick go so far, either way.
func scaleStick(sc *simulator.Scenario, stick string, size float64) {
	for k := range sc.Events {
		switch e := &sc.Events[k]; {
		case e.Do != stick:
		case e.To > 0:
			e.To = size
		case e.To < 0:
			e.To = -size
		}
	}
}

// reversedStick turns a channel over and moves the stick by size; nought is the
// movement on a sound channel.
func reversedStick(mode, stick string) func(*simulator.Scenario, float64) error {
	return func(sc *simulator.Scenario, size float64) error {
		if err := setAll(sc, "mode="+mode, "loop.pitch_reversed=false"); err != nil {
			return err
		}
		if size == 0 {
			scaleStick(sc, stick, 0.1)
			return nil
		}
		scaleStick(sc, stick, size)
		return sc.Set("loop." + stick + "_reversed=true")
	}
}

var stickCases = []Case{
	{
		Kind: detect.StickHigh, Where: detect.Craft, Least: detect.High, Scenario: "stick-up",
		Fault: "stick throttle at arming", Sizes: []float64{0, 0.03, 0.05, 0.06, 0.1, 0.33},
		Make: func(sc *simulator.Scenario, size float64) error {
			sc.Events[5].To = size
			return nil
		},
	},
	{
		Kind: detect.ControlLost, Where: detect.Craft, Least: detect.High, Scenario: "control-lost",
		Fault: "control link gone, s", Sizes: []float64{0, 0.01, 0.05, 0.1, 0.3, 3},
		Make: func(sc *simulator.Scenario, size float64) error {
			without(sc, "control-good")
			if size == 0 {
				without(sc, "control-lost")
				return nil
			}
			sc.Events = append(sc.Events, simulator.Event{At: 17 + size, Do: "control-good"})
			return nil
		},
	},
	{
		Kind: detect.Runaway, Where: detect.Craft, Least: detect.High, Scenario: "height-kept", Cause: "height or hold mode",
		Fault: "height that is lacking, m", Sizes: []float64{0, 0.4, 0.8, 1, 1.2, 2, 4},
		Make: func(sc *simulator.Scenario, size float64) error {
			for k := range sc.Events {
				if sc.Events[k].Do == "keep-height" {
					sc.Events[k].Value = size
				}
			}
			return nil
		},
	},
	{
		Kind: detect.ReversedResponse, Where: detect.Pitch, Least: detect.High, Scenario: "stick-reversed", Cause: "stick channel",
		Fault: "movement of a reversed pitch stick, rate mode", Sizes: []float64{0, 0.01, 0.03, 0.05, 0.1, 0.3},
		Make: reversedStick("rate", "pitch"),
	},
	{
		Kind: detect.ReversedResponse, Where: detect.Roll, Least: detect.High, Scenario: "stick-reversed", Cause: "stick channel",
		Fault: "movement of a reversed roll stick, level mode", Sizes: []float64{0, 0.01, 0.03, 0.05, 0.1, 0.3},
		Make: reversedStick("level", "roll"),
	},
	{
		Kind: detect.ReversedResponse, Where: detect.Yaw, Least: detect.High, Scenario: "stick-reversed", Cause: "stick channel",
		Fault: "movement of a reversed yaw stick", Sizes: []float64{0, 0.01, 0.03, 0.05, 0.1, 0.3},
		Make: reversedStick("rate", "yaw"),
	},
	{
		Kind: detect.ReversedResponse, Where: detect.Pitch, Least: detect.High, Scenario: "mixer-reversed", Cause: "mixer",
		Fault: "movement of the pitch stick with the mixer's pitch reversed", Sizes: []float64{0, 0.03, 0.06, 0.1, 0.2, 0.4},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size == 0 {
				without(sc, "mixer-reversed")
				return nil
			}
			scaleStick(sc, "pitch", size)
			return nil
		},
	},
	{
		Kind: detect.ThrottleMismatch, Where: detect.Craft, Scenario: "windup", Cause: "bounds",
		Fault: "limit of a roll integrator that winds up", Sizes: []float64{0.1, 0.3, 0.5, 0.7, 1},
		Make: func(sc *simulator.Scenario, size float64) error {
			return setAll(sc, "gains.roll_i=0.06", "loop.i_limit="+figure(size))
		},
	},
	{
		Kind: detect.IdleGap, Where: detect.Craft, Least: detect.Medium, Scenario: "calm", Cause: "least flight output",
		Fault: "least flight output over armed idle", Sizes: []float64{0.02, 0.06, 0.10, 0.11, 0.2, 0.47},
		Make: func(sc *simulator.Scenario, size float64) error {
			return sc.Set("craft.idle_least=" + figure(sc.Craft.IdleReady+size))
		},
	},
}
