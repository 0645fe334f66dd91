package report

import (
	"fmt"
	"slices"
	"strconv"

	"tetherbell/alarms/account"
)

// packSection tells of the battery pack.
func packSection(a *account.Account) section {
	s := section{ID: "pack", Title: "Battery pack"}
	p := &a.Pack
	t := &table{Caption: "Battery pack", Columns: columns("value", "#measured")}
	for _, v := range []struct {
		name, unit string
		value      *float64
	}{
		{"at rest, a cell", "V", p.RestV}, {"least, a cell", "V", p.LeastV}, {"greatest current", "A", p.MostA},
		{"charge used", "mAh", p.UsedMAh}, {"energy used", "Wh", p.UsedWh},
	} {
		if v.value != nil {
			t.row(v.name, measured(v.value, v.unit))
		}
	}
	if p.Ohm != nil {
		text := with(number(1000**p.Ohm), "mΩ")
		if p.OhmErr != nil {
			ohm, doubt := doubtful(1000**p.Ohm, 1000**p.OhmErr)
			text = ohm + " mΩ, standard error " + doubt + " mΩ"
		}
		t.row("resistance of the pack, by regression", text)
	}
	if len(t.Rows)+len(points(p.Volts))+len(points(p.Amps)) == 0 {
		s.text("The pack was not measured.")
		return s
	}
	s.table(t, "")
	c := &timeChart{id: "chart-pack", acc: a, events: happenings(a, "pack"), panels: []panel{
		{title: "pack voltage (V)", height: 90, kind: free, name: "voltage", curve: p.Volts},
		{title: "pack current (A)", height: 90, kind: fromZero, name: "current", curve: p.Amps},
	}}
	s.chart(c.chart("Pack voltage and current over time", "Least and greatest values over time. "+rangeText("Voltage", p.Volts)+rangeText("Current", p.Amps)))
	return s
}

// rangeText says from where to where a curve goes; "" nothing was measured.
func rangeText(name string, c *account.Curve) string {
	lo, hi, ok := reach(c)
	if !ok {
		return ""
	}
	return fmt.Sprintf("%s from %s to %s. ", name, number(lo), with(number(hi), c.Unit))
}

// airSection tells the height by air pressure.
func airSection(a *account.Account) section {
	s := section{ID: "air", Title: "Pressure altitude"}
	if len(points(a.Air.Height)) == 0 && a.Air.Dip == nil {
		s.text("Air pressure was not measured.")
		return s
	}
	if a.Air.Pascal != nil {
		s.text("Air pressure at the start: " + fixed(*a.Air.Pascal, 0) + " Pa.")
	}
	if a.Air.Dip != nil {
		s.text("Greatest departure of the pressure altitude with thrust on: " + measured(a.Air.Dip, "m") + ". The craft is held: it comes of rotor wash or ground effect on the barometer.")
	}
	c := &timeChart{id: "chart-air", acc: a, panels: []panel{{title: "pressure altitude over that at the start (m)", height: 90, kind: fromZero, name: "height", curve: a.Air.Height}}}
	s.chart(c.chart("Pressure altitude over time", rangeText("Height", a.Air.Height)))
	return s
}

// linkSection tells how well the lines came.
func linkSection(a *account.Account) section {
	s := section{ID: "link", Title: "Link"}
	l := &a.Link
	t := &table{Caption: "Lines of the bridge", Columns: columns("what", "#value")}
	whole := func(n uint64) string { return strconv.FormatUint(n, 10) }
	t.row("good lines", whole(l.Lines))
	t.row("bad lines", whole(l.Bad))
	t.row("lost lines", whole(l.Lost))
	t.row("share of bad and lost", percent(l.Share))
	t.row("restarts of the bridge", strconv.Itoa(l.Restarts))
	t.row("longest silence", millis(l.LongestS)+" s")
	t.row("bytes a second", fixed(l.BytesPerS, 0))
	if l.Unrecorded > 0 {
		t.row("lines that could not be recorded", whole(l.Unrecorded))
	}
	s.table(t, "")
	s.table(causes(l), "No line was bad.")
	streams := &table{Caption: "Streams", Columns: columns("tag", "#lines", "#a second", "#longest gap (s)")}
	for _, one := range l.Streams {
		streams.row(one.Tag, whole(one.Lines), number(one.PerS), millis(one.LongestS))
	}
	s.table(streams, "No stream was heard.")
	return s
}

func causes(l *account.Link) *table {
	t := &table{Caption: "Bad lines by cause", Columns: columns("cause", "#lines")}
	var names []string
	for name, n := range l.Causes {
		if n > 0 {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		t.row(name, strconv.FormatUint(l.Causes[name], 10))
	}
	return t
}
