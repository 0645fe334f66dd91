package craft

import (
	"fmt"
	"strconv"
)

// An InForce is one key of a craft file as it counts.
type InForce struct {
	Key     string
	Value   string // "" not known: the bridge may say it
	Default string // "" where there is none
	Set     bool   // the file says it
}

// InForce lists every key of a craft file with the value in force, defaults
// included, in the order of the example.
func (c Craft) InForce() []InForce {
	full := c
	full.Limits = c.Limits.WithDefaults(c.DiameterMM)
	usual := Craft{DiameterMM: c.DiameterMM, Limits: Limits{}.WithDefaults(c.DiameterMM)}
	all := []InForce{
		{"name", c.Name, "", c.Name != ""},
		{"layout", c.Layout, "", c.Layout != ""},
		{"hold", string(c.Hold), string(Tether), c.Hold != ""},
		{"sensors", c.Sensors.String(), "", c.Sensors != ""},
	}
	if c.Hold == "" {
		all[2].Value = string(Tether)
	}
	number := func(v float64) string {
		if v == 0 {
			return ""
		}
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	for _, b := range bounds {
		f := InForce{Key: b.key, Value: number(b.value(&full)), Set: b.value(&c) != 0}
		if short(b.key) != b.key { // of a table: it has a default
			f.Default = number(b.value(&usual))
		}
		all = append(all, f)
	}
	for i, a := range c.Arms {
		turn := "counter-clockwise"
		if a.Clockwise {
			turn = "clockwise"
		}
		all = append(all, InForce{fmt.Sprintf("arm.%d", i+1), number(a.BearingDeg) + " deg, " + number(a.LengthMM) + " mm, " + turn, "", true})
	}
	lists := c.Settings.WithDefaults()
	for _, k := range settingKeys {
		all = append(all, InForce{k.key, k.list(&lists).String(), k.usual.String(), *k.list(&c.Settings) != ""})
	}
	return all
}
