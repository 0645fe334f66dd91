package main

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"text/tabwriter"

	"tetherbell/alarms/detect"
)

// shownNumber writes a number as a person would type it.
func shownNumber(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// tell prints a table of what changed or is flagged, then what to do.
func (d *settingsDiff) tell(con *console) error {
	w := tabwriter.NewWriter(con.out, 0, 8, 2, ' ', 0)
	row := func(cells ...string) {
		for i := range cells {
			cells[i] = printable(cells[i])
		}
		fmt.Fprintln(w, strings.Join(cells, "\t"))
	}
	changed, rows := 0, 0
	var onlyOld, onlyNew []string
	for i := range d.all {
		c := &d.all[i]
		switch {
		case !c.HasNew:
			onlyOld = append(onlyOld, c.Name+" "+shownNumber(c.Old))
		case !c.HasOld:
			onlyNew = append(onlyNew, c.Name+" "+shownNumber(c.New))
		case c.Changed():
			changed++
		}
		if !c.Changed() && c.Slips == 0 {
			continue
		}
		if rows++; rows == 1 {
			row("name", "old", "new", "ratio", "flags")
		}
		was, is, ratio := "-", "-", "-"
		if c.HasOld {
			was = shownNumber(c.Old)
		}
		if c.HasNew {
			is = shownNumber(c.New)
		}
		if r, ok := c.Ratio(); ok {
			ratio = fmt.Sprintf("%.4g", r)
		}
		flags := "-"
		if c.Slips != 0 {
			flags = c.Slips.String()
		}
		row(c.Name, was, is, ratio, flags)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("list settings: %w", err)
	}
	for _, o := range []struct {
		file  string
		names []string
	}{{d.old, onlyOld}, {d.new, onlyNew}} {
		if len(o.names) > 0 {
			con.say("only in " + o.file + ": " + strings.Join(o.names, ", "))
		}
	}
	for i := range d.all {
		for _, s := range d.all[i].Slips.Each() {
			if d.toldWithP(i, s) {
				continue
			}
			text, action := d.tellSlip(i, s)
			con.say(s.String() + ": " + text + " >> " + action)
		}
	}
	con.say(d.verdict(changed))
	return nil
}

// toldWithP reports whether a flag of an I gain was told with its P gain.
func (d *settingsDiff) toldWithP(i int, s detect.Slip) bool {
	c := &d.all[i]
	m := c.Other(d.all)
	return s&(detect.SlipUnequal|detect.SlipRatio) != 0 && c.Meaning.I && m != nil && m.Slips&s != 0
}

// verdict says what it came to.
func (d *settingsDiff) verdict(changed int) string {
	both := 0
	for i := range d.all {
		if d.all[i].Both() {
			both++
		}
	}
	if both == 0 {
		return "no setting is in both lists: are they of the same craft?"
	}
	said := fmt.Sprintf("%d of %d settings changed", changed, both)
	switch n := d.flagged(); n {
	case 0:
		return said + ", nothing is flagged"
	case 1:
		return said + ", 1 is flagged: look at it before it is written to the craft"
	default:
		return fmt.Sprintf("%s, %d are flagged: look at them before they are written to the craft", said, n)
	}
}

// The shapes of --json. A ratio that there is none of is null.
type (
	flagJSON struct {
		Flag   string `json:"flag"`
		Text   string `json:"text"`
		Action string `json:"action"`
	}
	settingJSON struct {
		Name  string     `json:"name"`
		Old   *float64   `json:"old"`
		New   *float64   `json:"new"`
		Ratio *float64   `json:"ratio"`
		Flags []flagJSON `json:"flags"`
	}
	settingsJSON struct {
		Old      string        `json:"old"`
		New      string        `json:"new"`
		Changed  int           `json:"changed"`
		Flagged  int           `json:"flagged"`
		Settings []settingJSON `json:"settings"`
		OnlyOld  []settingJSON `json:"only_old"`
		OnlyNew  []settingJSON `json:"only_new"`
	}
)

// tellJSON prints the same as one object.
func (d *settingsDiff) tellJSON(con *console) error {
	out := settingsJSON{Old: d.old, New: d.new, Flagged: d.flagged(), Settings: []settingJSON{}, OnlyOld: []settingJSON{}, OnlyNew: []settingJSON{}}
	for i := range d.all {
		c := &d.all[i]
		one := d.jsonOf(i)
		if !c.HasNew {
			out.OnlyOld = append(out.OnlyOld, one)
		}
		if !c.HasOld {
			out.OnlyNew = append(out.OnlyNew, one)
		}
		if c.Changed() {
			out.Changed++
		}
		if c.Changed() || c.Slips != 0 {
			out.Settings = append(out.Settings, one)
		}
	}
	e := json.NewEncoder(plainJSON{con.out})
	e.SetEscapeHTML(false)
	return e.Encode(out)
}

func (d *settingsDiff) jsonOf(i int) settingJSON {
	c := &d.all[i]
	one := settingJSON{Name: c.Name, Flags: []flagJSON{}}
	if c.HasOld {
		one.Old = &c.Old
	}
	if c.HasNew {
		one.New = &c.New
	}
	if r, ok := c.Ratio(); ok {
		if short, err := strconv.ParseFloat(strconv.FormatFloat(r, 'g', 6, 64), 64); err == nil {
			r = short // what lies beyond is no knowledge
		}
		one.Ratio = &r
	}
	for _, s := range c.Slips.Each() {
		text, action := d.tellSlip(i, s)
		one.Flags = append(one.Flags, flagJSON{s.String(), text, action})
	}
	return one
}
