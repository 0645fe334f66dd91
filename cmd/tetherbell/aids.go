package main

import (
	"slices"
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard/sound"
	"tetherbell/decode/craft"
)

// freshUS is how old a value may be to be heard: what ticks, hums or tells of
// life must be of this moment. It is the silence that rings while armed.
const freshUS = 300_000

// speedFreshUS is the same for rotors' speeds, which some bridges send a few
// times a second only and which matter within a half-tone.
const speedFreshUS = 1_000_000

// aids are what is heard beside the alarms: the growing tick, the life sign,
// words, and the pitch among the rotors. The desk's goroutine owns them.
type aids struct {
	tick  bool // the person wants it
	speak bool
	still bool // nothing moves: the replay stands still, or the input has ended

	rotors [craft.MaxMotors]float64
	named  []spokenAlarm // alarms that the words know of
	spare  []spokenAlarm // for the next list
	ids    uint64        // the last that was given
}

// A spokenAlarm is one happening that words tell of once; it gets another
// number when it has become worse.
type spokenAlarm struct {
	kind   detect.Kind
	where  detect.Where
	since  int64
	worst  detect.Priority
	active bool
	id     uint64
}

// aid tells the sound what is heard beside the alarms, once it knows of them.
func (a *audience) aid(s *alarms.Snapshot) {
	a.sound.Rotors(a.turning(s), s.Blades)
	flows := !a.still && s.Lines > 0 && s.SilentUS < freshUS
	quiet := s.PausedUS > 0
	if flows && !quiet && alive(s) {
		a.sound.Alive()
	}
	if a.tick && flows && !quiet {
		a.sound.Tick(worstAxis(s))
	} else {
		a.sound.Tick(0, 0)
	}
	if a.speak {
		if list, fresh := a.namings(s); fresh {
			a.sound.Name(list)
		}
	}
}

// alive tells whether what the alarms live on comes: a bridge that only says
// hello is no sign of life of the bench.
func alive(s *alarms.Snapshot) bool {
	_, lacks := s.Lacking()
	return !lacks
}

// turning gives the rotors' speeds of this moment in turns a second.
func (a *audience) turning(s *alarms.Snapshot) []float64 {
	n := 0
	for i := range s.Motors {
		if r := s.Motors[i].RPM; n < len(a.rotors) && r.OK && s.T-r.At < speedFreshUS {
			a.rotors[n] = r.V / 60
			n++
		}
	}
	return a.rotors[:n]
}

// worstAxis is the axis that is nearest to its limit, among those that swing
// at a pace that is known: share of the limit, and growth in 1/s.
func worstAxis(s *alarms.Snapshot) (share, growth float64) {
	for i := range s.Axes {
		x := &s.Axes[i]
		if x.Watched && x.Limit > 0 && x.FrequencyHz > 0 && x.Amplitude/x.Limit > share {
			share, growth = x.Amplitude/x.Limit, x.GrowthPerS
		}
	}
	return share, growth
}

// namings lists for the words what nobody acknowledged, the worst first; fresh
// says that the list is another than the last.
func (a *aids) namings(s *alarms.Snapshot) (list []sound.Naming, fresh bool) {
	now := a.spare[:0]
	for i := range s.Alarms {
		v := &s.Alarms[i]
		if v.Acknowledged || v.Priority < detect.Low {
			continue
		}
		n := spokenAlarm{kind: v.Kind, where: v.Where, since: v.Since, worst: v.Priority, active: v.Active}
		if old := a.spokenOf(&n); old != nil && old.worst >= n.worst {
			n.id, n.worst = old.id, old.worst
		} else {
			a.ids++
			n.id = a.ids
		}
		now = append(now, n)
		list = append(list, sound.Naming{ID: n.id, Priority: v.Priority, Text: alarmWords(v, s.ActionOf(i)), Gone: !v.Active})
	}
	fresh = !slices.Equal(now, a.named)
	a.named, a.spare = now, a.named
	return list, fresh
}

// spokenOf finds what is known of an alarm.
func (a *aids) spokenOf(n *spokenAlarm) *spokenAlarm {
	for i := range a.named {
		if o := &a.named[i]; o.kind == n.kind && o.where == n.where && o.since == n.since {
			return o
		}
	}
	return nil
}

// alarmWords says in few words where it is and what to do first. Places that
// tell little give way to the alarm's own name.
func alarmWords(v *alarms.AlarmView, action string) string {
	place := strings.ReplaceAll(v.Kind.String(), "-", " ")
	if named := v.Where &^ (detect.Link | detect.Pack | detect.Craft); named != 0 && strings.Count(named.String(), "+") < 2 {
		place = placeWords(named)
	}
	action, _, _ = strings.Cut(action, ";")
	action, _, _ = strings.Cut(action, ",")
	if action == "" {
		return place
	}
	return place + ". " + action
}

// placeWords names axes and motors as a person says them.
func placeWords(w detect.Where) string {
	var out []string
	for name := range strings.SplitSeq(w.String(), "+") {
		if number, ok := strings.CutPrefix(name, "m"); ok {
			name = "motor " + number
		}
		out = append(out, name)
	}
	return strings.Join(out, " and ")
}

// tickWord is the tick's state for the screen, empty where there is none.
func (a *audience) tickWord() string {
	switch {
	case a.sound == nil || a.sound.State().Way != sound.Audio:
		return ""
	case a.tick:
		return "on"
	}
	return "off"
}
