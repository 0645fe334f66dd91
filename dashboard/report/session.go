package report

import (
	"fmt"
	"strings"

	"tetherbell/alarms/account"
)

// runSection is the whole session at a glance.
func runSection(a *account.Account) section {
	s := section{ID: "run", Title: "The run"}
	if !(a.LengthS > 0) {
		s.text("No time passed between the first good line and the last: there is nothing to draw.")
		return s
	}
	c := &timeChart{id: "chart-run", acc: a, lanes: true, panels: []panel{
		{title: "collective throttle, share of full", name: "throttle", height: 90, kind: fromZero, curve: a.Throttle},
		{title: "throttle stick, share of full", name: "stick", height: 60, kind: fromZero, curve: a.Stick},
		{title: "lift (N)", height: 110, kind: fromZero, name: "lift", curve: a.Lift, refs: liftRefs(a)},
	}}
	s.text("All pictures over time have the same axis. Shaded: the craft was armed. Hatched: no good line came. The numbers of alarms are those of the table of alarms.")
	s.add(block{Narrow: "Pictures are wider than this screen: push them sideways." + firstAlarm(a)})
	s.chart(c.chart("The run: states, alarms, throttle and lift over time", runDesc(a)))
	for _, l := range []struct {
		curve *account.Curve
		none  string
	}{{a.Throttle, "Collective throttle was not measured."}, {a.Stick, "The throttle stick was not measured."}, {a.Lift, "Lift was not measured: no load cells reported."}} {
		if len(points(l.curve)) == 0 {
			s.text(l.none)
		}
	}
	s.table(stretches(a), "The craft was never armed, stop was never asserted, and the link was never silent.")
	s.table(marks(a), "Nobody noted anything.")
	return s
}

// inSight is the share of the run that the picture shows on a narrow screen
// before it is pushed: about 360 of 640 dots, less the names at the left.
const inSight = 0.45

// firstAlarm says where in the picture the first alarm is to be looked for; notes
// are none.
func firstAlarm(a *account.Account) string {
	for i := range a.Alarms {
		r := &a.Alarms[i]
		if priorityClass(r.Priority) == "note" {
			continue
		}
		s := fmt.Sprintf(" The first alarm, %s at %s, rang at %s", r.Name, r.Where, second(r.At))
		if r.At > inSight*a.LengthS {
			return s + ": it lies to the right, out of sight."
		}
		return s + "."
	}
	return ""
}

// liftRefs are the craft's weight, and what holds it where that is near.
func liftRefs(a *account.Account) []reference {
	var all []reference
	if a.WeightN != nil {
		all = append(all, reference{"weight " + number(*a.WeightN) + " N", []float64{*a.WeightN}})
	}
	if _, hi, ok := reach(a.Lift); ok && a.Craft.HoldRatedN > 0 && a.Craft.HoldRatedN < 2*hi {
		all = append(all, reference{"rated load " + number(a.Craft.HoldRatedN) + " N", []float64{a.Craft.HoldRatedN}})
	}
	return all
}

func runDesc(a *account.Account) string {
	d := fmt.Sprintf("%s. Armed %s, stop asserted %s, silent %s. %s.", length(a.LengthS),
		count(len(a.Armed), "time", "times"), count(len(a.Stopped), "time", "times"), count(len(a.Silent), "time", "times"),
		count(len(a.Alarms), "alarm", "alarms"))
	if _, hi, ok := reach(a.Throttle); ok {
		d += " Throttle up to " + number(hi) + " of full."
	}
	if _, hi, ok := reach(a.Lift); ok {
		d += " Lift up to " + number(hi) + " N."
	}
	return d
}

// mostStretches bounds the table of states: a link that stutters has hundreds.
const mostStretches = 12

func stretches(a *account.Account) *table {
	t := &table{Caption: "States of the craft and the link", Columns: columns("state", "#from (s)", "#to (s)", "#lasted (s)")}
	for _, k := range []struct {
		name  string
		spans []account.Span
	}{{"armed", a.Armed}, {"stop asserted", a.Stopped}, {"silent: no good line", a.Silent}} {
		for i, span := range k.spans {
			if i == mostStretches && len(k.spans) > i+1 {
				more := k.spans[i:]
				t.row(fmt.Sprintf("%s, %d more", k.name, len(more)), millis(span.From), millis(more[len(more)-1].To), millis(lasted(more)))
				break
			}
			t.row(k.name, millis(span.From), millis(span.To), millis(span.To-span.From))
		}
	}
	return t
}

// lasted is how long stretches lasted together.
func lasted(all []account.Span) float64 {
	sum := 0.0
	for _, s := range all {
		sum += s.To - s.From
	}
	return sum
}

func marks(a *account.Account) *table {
	t := &table{Caption: "Marks and notes", Columns: columns("#time (s)", "by", "text")}
	for _, m := range a.Marks {
		t.row(millis(m.At), m.By, m.Text)
	}
	return t
}

// alarmSection tells every alarm of the session.
func alarmSection(a *account.Account) section {
	s := section{ID: "alarms", Title: "Alarms"}
	t := &table{Caption: "Alarms in the order in which they rang", Stacked: true,
		Columns: columns("alarm", "time", "priority", "name", "where", "what", "likely cause", "first action", "until")}
	for i := range a.Alarms {
		r := &a.Alarms[i]
		t.Rows = append(t.Rows, row{Class: priorityClass(r.Priority), Cells: []string{
			numbered(i), alarmTime(r), priorityText(r.Priority), r.Name, r.Where, alarmText(r), orDash(r.Cause), orDash(r.Action), untilText(r)}})
	}
	s.table(t, "No alarm rang. That holds for what was watched: see the part on what was not.")
	return s
}

func alarmTime(a *account.Alarm) string {
	s := second(a.At)
	if a.WorstAt != nil {
		s += ", " + a.Priority + " from " + second(*a.WorstAt)
	}
	if a.First {
		s += ", first of a burst"
	}
	return s
}

func alarmText(a *account.Alarm) string {
	return strings.TrimSuffix(a.Text, ".") + " (" + a.Course(func(v float64, unit string) string { return with(number(v), unit) }) + ")"
}

func untilText(a *account.Alarm) string {
	s := "to the end"
	if a.Until != nil {
		s = second(*a.Until)
	}
	if a.Acknowledged != nil {
		s += "; acknowledged at " + second(*a.Acknowledged)
	}
	return s
}

// orDash stands for nothing in a table of texts.
func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}
