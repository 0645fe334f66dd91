package runcard

import (
	"slices"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// failsOn are the alarms that fail a step of a kind from medium on, while it is
// under way. Anything high fails the current step, see Run.Look.
var failsOn = [kinds][]detect.Kind{
	ArmedIdle:    {detect.SettingsSlip, detect.GroundThrust},
	LeastOutput:  {detect.IdleGap, detect.RisingOscillation},
	ThrottleTo:   {detect.RisingOscillation},
	Sticks:       {detect.ReversedResponse, detect.RisingOscillation},
	Temperatures: {detect.MotorHeat},
}

// fits are the alarms that a card's own advice for a step of a kind is about. What
// to do about any other is for the alarm to say.
var fits = [kinds][]detect.Kind{
	AtRest:       {detect.SpinDisarmed},
	ArmedIdle:    {detect.SettingsSlip, detect.GroundThrust},
	LeastOutput:  {detect.IdleGap},
	ThrottleTo:   {detect.RisingOscillation},
	Sticks:       {detect.ReversedResponse},
	Temperatures: {detect.MotorHeat},
}

// rang keeps what rang during a step without failing it.
type rang struct {
	kinds  uint32
	wheres [detect.KindCount]detect.Where
}

// look notes what is up and began during the step, or is at least medium.
func (g *rang) look(l *alarms.Look, since int64) {
	for i := range l.Up {
		if u := &l.Up[i]; u.Priority >= detect.Low && (u.Since >= since || u.Priority >= detect.Medium) {
			g.kinds |= 1 << u.Kind
			g.wheres[u.Kind] |= u.Where
		}
	}
}

// failing is the alarm that fails a step of this kind, nil none.
func failing(l *alarms.Look, k Kind, underWay bool) *alarms.Up {
	var worst *alarms.Up
	for i := range l.Up {
		u := &l.Up[i]
		// A stop test measures for itself what late-stop rings for.
		fails := u.Priority == detect.High && (k != StopTest || u.Kind != detect.LateStop)
		if u.Priority == detect.Medium && underWay {
			fails = slices.Contains(failsOn[k], u.Kind)
		}
		if fails && (worst == nil || u.Priority > worst.Priority) {
			worst = u
		}
	}
	return worst
}

// wakes is the alarm of a motor that turns by itself, nil none.
func wakes(l *alarms.Look) *alarms.Up {
	for i := range l.Up {
		if l.Up[i].Kind == detect.SpinDisarmed {
			return &l.Up[i]
		}
	}
	return nil
}

// remark names what rang, for the words of a step that passed all the same.
func (g *rang) remark() string {
	out := ""
	for k := range detect.KindCount {
		if g.kinds&(1<<k) == 0 {
			continue
		}
		if out == "" {
			out = "; meanwhile "
		} else {
			out += ", "
		}
		out += k.String() + " " + g.wheres[k].String()
	}
	return out
}
