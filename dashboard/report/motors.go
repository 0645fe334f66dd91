package report

import (
	"fmt"

	"tetherbell/alarms/account"
)

// motorHeight is a panel's height where each motor has its own.
const motorHeight = 54

func motorName(m *account.Motor) string { return fmt.Sprintf("m%d", m.Number) }

// motorSection tells outputs, speeds and shares of the motors.
func motorSection(a *account.Account) section {
	s := section{ID: "motors", Title: "Motors: outputs and speeds"}
	if len(a.Motors) == 0 {
		s.text("Nothing of the motors was measured.")
		return s
	}
	s.text("Motors are numbered clockwise seen from above, m1 the first one right of the nose. Share: a motor's mean output in steady holds over the mean of all motors.")
	t := &table{Caption: "Motors",
		Columns: columns("motor", "#share", "#standard error", "#greatest output", "#greatest speed"+speedUnit(a))}
	for i := range a.Motors {
		m := &a.Motors[i]
		share, doubt := measured(m.Share, ""), measured(m.ShareErr, "")
		if m.Share != nil && m.ShareErr != nil {
			share, doubt = doubtful(*m.Share, *m.ShareErr)
		}
		t.row(motorName(m), share, doubt, measured(m.OutputPeak, ""), wholeOf(m.RPMPeak))
	}
	s.table(t, "")
	s.strips(a, "chart-outputs", "Motor outputs over time", "output, share of full", "Motor outputs were not measured.",
		func(m *account.Motor) *account.Curve { return m.Output }, fromZero)
	s.strips(a, "chart-speeds", "Rotor speeds over time", "speed"+speedUnit(a), "Rotor speeds were not measured.",
		func(m *account.Motor) *account.Curve { return m.RPM }, fromZero)
	return s
}

// speedUnit tells shaft speed from electrical speed.
func speedUnit(a *account.Account) string {
	for i := range a.Motors {
		if c := a.Motors[i].RPM; c != nil && c.Unit != "" {
			return " (" + unitText(c.Unit) + ")"
		}
	}
	return " (rev/min)"
}

// wholeOf writes a speed: three digits would be coarser than it is known.
func wholeOf(v *float64) string {
	if v == nil {
		return absent
	}
	return fixed(*v, 0)
}

// strips draws a curve of each motor on scales of the same range, one below
// the other: curves that lie on each other could not be told apart.
func (s *section) strips(a *account.Account, id, title, what, none string, of func(*account.Motor) *account.Curve, kind rangeKind) {
	c := &timeChart{id: id, acc: a}
	var curves []*account.Curve
	for i := range a.Motors {
		curves = append(curves, of(&a.Motors[i]))
	}
	lo, hi, ok := reach(curves...)
	if !ok {
		s.text(none)
		return
	}
	for i := range a.Motors {
		name := motorName(&a.Motors[i])
		c.panels = append(c.panels, panel{title: name + " " + what, height: motorHeight, kind: kind, lo: lo, hi: hi,
			name: name, curve: curves[i]})
	}
	s.chart(c.chart(title, fmt.Sprintf("A strip for each motor, all of the same range, values from %s to %s.", number(lo), number(hi))))
}

// heatSection tells the motors' temperatures.
func heatSection(a *account.Account) section {
	s := section{ID: "heat", Title: "Motor temperatures"}
	t := &table{Caption: "Motor temperatures", Columns: columns("motor", "#at the start (°C)", "#highest (°C)", "#fastest rise over 2 s, armed (°C/s)")}
	for i := range a.Motors {
		m := &a.Motors[i]
		if m.TempStart != nil || m.TempPeak != nil || m.TempRise != nil || len(points(m.Temp)) > 0 {
			t.row(motorName(m), measured(m.TempStart, ""), measured(m.TempPeak, ""), measured(m.TempRise, ""))
		}
	}
	if len(t.Rows) == 0 {
		s.text("Motor temperatures were not measured.")
		return s
	}
	s.table(t, "")
	s.strips(a, "chart-heat", "Motor temperatures over time", "temperature (°C)", "There is no curve of the temperatures.",
		func(m *account.Motor) *account.Curve { return m.Temp }, free)
	return s
}
