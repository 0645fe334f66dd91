package sweep

import (
	"tetherbell/alarms/detect"
	"tetherbell/simulator"
)

// atRest changes settings of a craft that has not been armed yet, after the
// bridge has told all of them twice: where the one line with the old value is
// spoilt, nobody can know of a change.
func atRest(sc *simulator.Scenario, change ...any) {
	const wait = 11
	sc.Seconds += wait
	for i := range sc.Events {
		sc.Events[i].At += wait
	}
	var sets []simulator.Event
	for i := 0; i < len(change); i += 2 {
		sets = append(sets, simulator.Event{At: wait - 0.5 + 0.01*float64(i), Do: "set", Name: change[i].(string), Value: change[i+1].(float64)})
	}
	sc.Events = append(sets, sc.Events...)
}

var settingsCases = []Case{
	{
		Kind: detect.SettingsSlip, Where: detect.Craft, Cause: "", Scenario: "calm",
		Fault: "times the gyro's cut-off frequency, set before arming", Sizes: []float64{0, 2, 5, 7.9, 8.1, 10, 20},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size > 0 {
				atRest(sc, "gyro_cut_hz", 60*size)
			}
			return nil
		},
	},
	{
		Kind: detect.SettingsSlip, Where: detect.Craft, Cause: "decimal point", Least: detect.Medium, Scenario: "calm",
		Fault: "armed idle, share of full output", Sizes: []float64{0, 0.12, 0.19, 0.21, 0.4, 0.8},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size > 0 {
				atRest(sc, "idle_ready", size)
			}
			return nil
		},
	},
	{
		Kind: detect.SettingsSlip, Where: detect.Craft, Cause: "one gain", Scenario: "calm",
		Fault: "times D of pitch, all other gains lowered by a fifth", Sizes: []float64{0, 0.8, 1.1, 1.5},
		Make: func(sc *simulator.Scenario, size float64) error {
			if size == 0 {
				return nil
			}
			var change []any
			for _, axis := range []string{"roll", "pitch"} {
				change = append(change, "rate_p_"+axis, 0.0024*0.8, "rate_i_"+axis, 0.004*0.8)
			}
			atRest(sc, append(change, "rate_d_roll", 0.000012*0.8, "rate_d_pitch", 0.000012*size)...)
			return nil
		},
	},
}
