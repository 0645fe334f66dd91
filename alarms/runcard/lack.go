package runcard

import (
	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// lackOf says what a step needs and the bench does not tell, "" when
// nothing is missing.
func lackOf(l *alarms.Look, s *Step) string {
	b, k := l.Bench, s.Kind
	outs, speeds := measured(b)
	stick := stickNow(b, 0).OK
	switch {
	case k == Person:
		return ""
	case armedNow(b) == detect.Unknown:
		return "whether the craft is armed is not told: watch it yourself"
	}
	switch k {
	case AtRest, StopTest:
		if outs == 0 && speeds == 0 {
			return "neither outputs nor rotor speeds are measured: watch the propellers yourself"
		}
		if s.Released && stoppedNow(b) == detect.Unknown {
			return "the stop switch is not told: see that it is released"
		}
	case ArmedIdle:
		if outs == 0 || !stick {
			return missing(outs > 0, stick) + ": watch that it turns evenly and does not pull"
		}
	case LeastOutput:
		if outs == 0 && (!loadNow(b).OK || b.WeightN() <= 0) || !stick {
			return missing(outs > 0, stick) + ": watch that the first touch does not make it jump"
		}
	case ThrottleTo:
		if !stick {
			return missing(true, false) + ": watch and listen for a shake that grows"
		}
		for axis := range 3 {
			if _, _, ok := l.Swing(axis); ok {
				return ""
			}
		}
		return "no axis is watched for oscillations: watch and listen for a shake that grows"
	case Sticks:
		if why := l.Missing(detect.ReversedResponse); why != "" {
			return why + ": watch that it leans the way the stick goes"
		}
	case Temperatures:
		for i := range b.Motors {
			if b.Temp[i].OK {
				return ""
			}
		}
		return "motor temperatures are not measured: " + feel + "each motor"
	}
	return ""
}

func missing(outs, stick bool) string {
	switch {
	case !outs && !stick:
		return "outputs and throttle stick are not measured"
	case !outs:
		return "outputs are not measured"
	}
	return "the throttle stick is not measured"
}
