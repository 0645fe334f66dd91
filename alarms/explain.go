package alarms

import (
	"strings"

	"tetherbell/alarms/detect"
)

// A rule says that one alarm explains another: while the cause rings, the
// effect is not raised beside it. Explaining never makes quieter:
//
//   - the cause takes on the highest priority of all that it stands for, and
//     with it the first action of what it stands for;
//   - what rang before its cause was found goes on ringing;
//   - a cause that a person has acknowledged explains nothing new;
//   - an effect that outlives its cause is raised on its own.
type rule struct {
	cause, effect detect.Kind
	least         detect.Priority // that the cause must have of itself
	there         bool            // the effect is at no other place than the cause
	why           string          // for whoever reads this table
	by            string          // the cause that the effect's own story must give; "" any
}

// rules are all that one alarm says of another. That a dead stream explains
// values that stand still needs no rule: frozen-sensor goes by lines that come.
// Those of one stream say nothing of another's.
var rules = []rule{
	{detect.SettingsSlip, detect.GroundThrust, detect.Medium, false, "an armed idle that is far too high is the thrust that nobody asked for", ""},
	{detect.SettingsSlip, detect.NearLift, detect.Medium, false, "and may be enough to lift the craft", ""},
	{detect.SettingsSlip, detect.IdleGap, detect.Medium, false, "a dangerous idle is told once", ""},
	{detect.StickHigh, detect.NearLift, detect.High, false, "the stick was up at arming, so there is lift", ""},
	{detect.Runaway, detect.NearLift, detect.High, false, "outputs that climb by themselves make the lift", ""},
	{detect.RisingOscillation, detect.Runaway, detect.High, false, "outputs that swing into their stops push their mean up", ""},
	{detect.TipOver, detect.Runaway, detect.High, false, "a loop that fights a craft which turns over drives its outputs up", ""},
	{detect.ReversedResponse, detect.Runaway, detect.High, false, "a loop of the wrong sign drives its outputs up", ""},
	{detect.Windup, detect.ThrottleMismatch, detect.Low, false, "integrators at their limit push the mean off the throttle", ""},
	{detect.IdleGap, detect.GroundThrust, detect.Medium, false, "the step to least flight output is the thrust, under a stick that hardly moved", ""},
	{detect.IdleGap, detect.NearLift, detect.Medium, false, "the step to least flight output is the lift", ""},
	{detect.RisingOscillation, detect.LowMargin, detect.Medium, false, "a loop that swings up has no margin to be judged, and its overtones are no loops", ""},
	{detect.RisingOscillation, detect.VibrationStep, detect.Medium, false, "the shake that grows is the vibration", ""},
	{detect.RotorLost, detect.VibrationStep, detect.High, false, "a rotor that loses its propeller shakes the frame", ""},
	{detect.RotorLost, detect.OutputImbalance, detect.High, false, "the others carry what the lost one does not", ""},
	{detect.RotorLost, detect.RotorLine, detect.Low, true, "a rotor that is miscounted or out of step has its line elsewhere", ""},
	{detect.RotorLost, detect.MotorHeat, detect.High, true, "a rotor that is held heats its winding", ""},
	{detect.RotorLost, detect.OverCurrent, detect.High, false, "and draws what the winding lets through", ""},
	{detect.OverCurrent, detect.PackSag, detect.High, false, "the current pulls the voltage down", ""},
	{detect.TipOver, detect.HoldLost, detect.High, false, "a craft that turns over lies on its load cells in another way", ""},
	{detect.VibrationStep, detect.OutputImbalance, detect.High, false, "what is left of a broken blade lifts less", ""},
	{detect.HoldLost, detect.OutputImbalance, detect.High, false, "a craft on three lines is held askew", ""},
	{detect.HoldLost, detect.VibrationStep, detect.High, false, "what lets go shakes the craft", ""},
	{detect.Windup, detect.OutputImbalance, detect.Low, false, "integrators that push against the hold-down pull the outputs apart", detect.CauseWindup},
}

// Explains reports whether one kind of alarm may be why another rings, and why.
// What needs the effect's own story to say so is left out, unless the cause that
// the story gives is handed in.
func Explains(cause, effect detect.Kind, told string) (why string, ok bool) {
	for i := range rules {
		if r := &rules[i]; r.cause == cause && r.effect == effect && (r.by == "" || r.by == told) {
			return r.why, true
		}
	}
	return "", false
}

// Kinds is a set of alarm kinds.
type Kinds uint32

// Has reports whether a kind is among them.
func (k Kinds) Has(kind detect.Kind) bool { return kind < detect.KindCount && k&(1<<kind) != 0 }

// String lists the names, in the order of the kinds.
func (k Kinds) String() string {
	var names []string
	for kind := range detect.KindCount {
		if k.Has(kind) {
			names = append(names, kind.String())
		}
	}
	return strings.Join(names, ", ")
}

// explained takes out of the findings of one kind those that would be raised
// although a cause that rings stands for them, and has the cause stand for
// them from now on. It works in place.
func (l *life) explained(now int64, k detect.Kind, found []detect.Finding, t teller) []detect.Finding {
	left := found[:0]
	for _, f := range found {
		if f.Level > detect.None && !l.up(k, f.Where) {
			if s := l.causeOf(now, k, f, t); s != nil {
				s.stand(now, k, f, l, t)
				continue
			}
		}
		left = append(left, f)
	}
	return left
}

// causeOf finds the alarm that explains another, nil when there is none.
func (l *life) causeOf(now int64, effect detect.Kind, f detect.Finding, t teller) *slot {
	for i := range rules {
		r := &rules[i]
		if r.effect != effect || l.live[r.cause] == 0 {
			continue
		}
		for j := range l.slots {
			s := &l.slots[j]
			if !s.used || !s.active || s.kind != r.cause || s.own < r.least || r.there && f.Where&^s.where != 0 {
				continue
			}
			stood := (s.stands | s.stood).Has(effect)
			if s.acknowledged && !stood {
				continue
			}
			if r.by != "" && (!stood || now >= s.ask) { // a story costs too much to be told each time
				if t.tell(f, effect).Cause != r.by {
					continue
				}
				s.ask = now + retellAfter
			}
			return s
		}
	}
	return nil
}

// stand makes a cause stand for an effect: no quieter than it.
func (s *slot) stand(now int64, k detect.Kind, f detect.Finding, l *life, t teller) {
	fresh := !s.explains.Has(k)
	s.explains |= 1 << k
	s.stands |= 1 << k
	s.lent = max(s.lent, f.Level)
	if f.Level > s.priority {
		s.action, _, _ = strings.Cut(t.tell(f, k).Action, "; ") // what comes first of all
		s.worsen(now, f.Level, l, t)
	} else if fresh {
		s.retell(t)
		s.told = now
	}
}
