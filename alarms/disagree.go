package alarms

import (
	"math"
	"slices"
	"strconv"

	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
)

// nearlySame: lengths and masses of file and bridge are rounded differently,
// so that a hundredth apart is no disagreement (common practice, no source).
// Settings are typed numbers: they are the same or not.
const nearlySame = 0.01

// compare works out where craft file and bridge both speak and differ.
func (k *knowledge) compare(b *detect.Bench) {
	f, o := &k.file, &k.heard
	var all []detect.Disagreement
	word := func(what, file, bridge string) {
		if file != "" && bridge != "" && file != bridge {
			all = append(all, detect.Disagreement{File: what + " " + strconv.Quote(file), Bridge: strconv.Quote(bridge)})
		}
	}
	number := func(what, unit string, file, bridge, slack float64) {
		if file == 0 || bridge == 0 || math.Abs(file-bridge) <= slack*math.Abs(file) {
			return
		}
		all = append(all, detect.Disagreement{File: what + plainly(file) + unit, Bridge: plainly(bridge) + unit, Ratio: bridge / file})
	}
	count := func(what string, file, bridge int) {
		if file != 0 && bridge != 0 && file != bridge {
			all = append(all, detect.Disagreement{File: strconv.Itoa(file) + " " + what, Bridge: strconv.Itoa(bridge), Ratio: float64(bridge) / float64(file)})
		}
	}
	word("name", f.Name, o.Name)
	word("layout", f.Layout, o.Layout)
	count("motors", f.Motors, o.Motors)
	count("magnet poles", f.Poles, o.Poles)
	count("blades", f.Blades, o.Blades)
	number("propeller ", " mm", f.DiameterMM, o.DiameterMM, nearlySame)
	number("mass ", " g", f.MassG, o.MassG, nearlySame)
	count("cells", f.Cells, o.Cells)
	number("idle_ready ", "", f.IdleReady, o.IdleReady, 1e-6)
	number("idle_least ", "", f.IdleLeast, o.IdleLeast, 1e-6)
	number("limit_oscillation ", "", f.Limits.Oscillation, o.Limits.Oscillation, 1e-6)
	if slices.Equal(all, b.Disagree) {
		return
	}
	b.Disagree = all
	b.DisagreeSeq++
}

func plainly(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// hears keeps what the bridge says of the craft, and looks whether the file
// says otherwise.
func (k *knowledge) hears(b *detect.Bench, c craft.Craft) {
	c.IdleReady, c.IdleLeast, c.Limits = k.heard.IdleReady, k.heard.IdleLeast, k.heard.Limits
	if is := another(&k.heard, &c); is != "" {
		b.Another = beforeArming(is + detect.OtherCraft)
		b.Anothers++
	}
	k.heard = c
	if k.fit.first.Name == "" {
		k.fit.first.Name = c.Name
	}
	if k.fit.first.Motors == 0 {
		k.fit.first.Motors = c.Motors
	}
	k.compare(b)
	k.fit.last = fitKey{}
}

// hearsSetting keeps a setting that the craft file may speak of too.
func (k *knowledge) hearsSetting(b *detect.Bench, v *float64, now float64) {
	if *v != now {
		*v = now
		k.compare(b)
	}
}

// disagreements words where craft file and bridge differ.
func disagreements(b *detect.Bench) []string {
	var out []string
	for _, d := range b.Disagree {
		out = append(out, d.String())
	}
	return out
}

// another words that the bridge tells of another craft than before, by name or number
// of motors; "" where it is the same. A bridge that begins anew may be another one, at
// another craft, on the same port.
func another(was, is *craft.Craft) string {
	named := was.Name != "" && is.Name != "" && was.Name != is.Name
	counted := was.Motors > 0 && is.Motors > 0 && was.Motors != is.Motors
	old, now := strconv.Itoa(was.Motors), strconv.Itoa(is.Motors)
	switch {
	case named && counted:
		now, old = strconv.Quote(is.Name)+" with "+now+" motors", strconv.Quote(was.Name)+" with "+old
	case named:
		now, old = strconv.Quote(is.Name), strconv.Quote(was.Name)
	case counted:
		now += " motors"
	default:
		return ""
	}
	return "craft changed: " + now + ", was " + old
}
