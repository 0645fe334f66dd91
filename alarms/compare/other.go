package compare

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// settingsOf lists the settings that differ, by name.
func settingsOf(a, b *Run, nameA, nameB string) []Setting {
	names := make([]string, 0, len(a.settings)+len(b.settings))
	for n := range a.settings {
		names = append(names, n)
	}
	for n := range b.settings {
		if _, both := a.settings[n]; !both {
			names = append(names, n)
		}
	}
	slices.Sort(names)
	all := []Setting{}
	for _, n := range names {
		before, inA := a.settings[n]
		after, inB := b.settings[n]
		if inA && inB && before == after && !before.changed {
			continue
		}
		s := Setting{Name: n}
		if inA {
			s.Before = &before.value
		}
		if inB {
			s.After = &after.value
		}
		if inA && inB && before.value != 0 {
			if q := after.value / before.value; q > 0 && !math.IsInf(q, 0) {
				s.Ratio = &q
			}
		}
		switch {
		case before.changed && after.changed:
			s.Changed = fmt.Sprintf("changed during %s and %s", nameA, nameB)
		case before.changed:
			s.Changed = "changed during " + nameA
		case after.changed:
			s.Changed = "changed during " + nameB
		}
		all = append(all, s)
	}
	return all
}

// differences lists what is not the same on two machines. What one of them
// does not tell is no difference.
func differences(a, b *craft.Craft) []Difference {
	all := []Difference{}
	text := func(what, p, q string) {
		if p != q && p != "" && q != "" {
			all = append(all, Difference{what, p, q})
		}
	}
	number := func(what, unit string, p, q float64) {
		show := func(v float64) string {
			if v == 0 {
				return ""
			}
			return strconv.FormatFloat(v, 'g', -1, 64) + unit
		}
		text(what, show(p), show(q))
	}
	text("name", a.Name, b.Name)
	text("layout", a.Layout, b.Layout)
	number("motors", "", float64(a.Motors), float64(b.Motors))
	number("magnet poles", "", float64(a.Poles), float64(b.Poles))
	number("blades", "", float64(a.Blades), float64(b.Blades))
	number("propeller diameter", " mm", a.DiameterMM, b.DiameterMM)
	number("mass", " g", a.MassG, b.MassG)
	number("cells", "", float64(a.Cells), float64(b.Cells))
	if held(a) != held(b) {
		all = append(all, Difference{"held by", heldText(a), heldText(b)})
	}
	number("rated load of what holds it", " N", a.HoldRatedN, b.HoldRatedN)
	return all
}

// held is how a craft is held: by a tether unless its file says otherwise.
func held(c *craft.Craft) craft.Hold {
	if c.Hold == "" {
		return craft.Tether
	}
	return c.Hold
}

func heldText(c *craft.Craft) string {
	switch {
	case c.Hold == "":
		return string(craft.Tether) + " (not said)"
	case c.Hold == craft.Free:
		return "nothing (free)"
	}
	return string(c.Hold)
}

// alarmsOf counts the alarms of both, worst first.
func alarmsOf(a, b *Run) []Alarm {
	all := []Alarm{}
	worst := func(k detect.Kind) detect.Priority { return max(a.alarms[k].worst, b.alarms[k].worst) }
	var kinds []detect.Kind
	for k := range detect.KindCount {
		if a.alarms[k].count+b.alarms[k].count > 0 {
			kinds = append(kinds, k)
		}
	}
	slices.SortStableFunc(kinds, func(p, q detect.Kind) int { return int(worst(q)) - int(worst(p)) })
	for _, k := range kinds {
		all = append(all, Alarm{k.String(), a.alarms[k].count, b.alarms[k].count, a.alarms[k].worst.String(), b.alarms[k].worst.String()})
	}
	return all
}

// loudest is the worst priority of a session.
func (r *Run) loudest() (p detect.Priority) {
	for _, t := range r.alarms {
		p = max(p, t.worst)
	}
	return p
}

// louder tells which of two sessions rang worse, nil neither at medium priority
// or over it.
func (r *Result) louder(a, b *Run) *Louder {
	worst, other := a.loudest(), b.loudest()
	l := &Louder{Session: r.A.Name, After: other > worst, Alarms: []string{}}
	of := a
	if l.After {
		l.Session, of = r.B.Name, b
		worst, other = other, worst
	}
	if worst == other || worst < detect.Medium {
		return nil
	}
	l.Priority, l.Other = worst.String(), other.String()
	for k := range detect.KindCount {
		if of.alarms[k].worst == worst {
			l.Alarms = append(l.Alarms, k.String())
		}
	}
	return l
}

// missing tells which measures could not be compared, and why.
func (r *Result) missing(a, b *Run) {
	for k := range measures {
		m := &measures[k]
		if slices.ContainsFunc(r.Measures, func(f Finding) bool { return f.Measure == m.key }) {
			continue
		}
		lackA, lackB := lacks(a, k), lacks(b, k)
		why := "not enough of it in the stages that both have"
		switch {
		case lackA && lackB:
			why = fmt.Sprintf("%s and %s have no %s to tell it", r.A.Name, r.B.Name, m.needs)
		case lackA:
			why = fmt.Sprintf("%s has no %s to tell it", r.A.Name, m.needs)
		case lackB:
			why = fmt.Sprintf("%s has no %s to tell it", r.B.Name, m.needs)
		}
		r.Missing = append(r.Missing, Lack{m.key, m.name, why})
	}
}

// lacks reports whether the streams that a measure is made of never came.
func lacks(r *Run, k int) bool {
	none := func(t decode.Tag) bool { return r.streams[t] == 0 }
	switch k {
	case vibration:
		return none(decode.Accel)
	case balance:
		return none(decode.Out)
	case heat:
		return none(decode.Temp)
	case efficiency:
		return none(decode.Load) || none(decode.Pack)
	case current, cellVolts:
		return none(decode.Pack)
	}
	return none(decode.Axes)
}
