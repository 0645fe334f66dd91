package detect

import (
	"fmt"

	"tetherbell/decode"
)

// Describe tells what does not fit.
func (d *RotorLineDetector) Describe(b *Bench, f Finding) Story {
	var s Story
	switch {
	case f.Case == lineApart:
		s = d.tellApart(b, f)
	case f.Case == lineFolded:
		s = d.tellFold(b)
	default:
		s = d.tellPoles(b, f)
	}
	s.Unit = "1"
	s.More = append(s.More, d.facts(b)...)
	return s
}

func (d *RotorLineDetector) tellPoles(b *Bench, f Finding) Story {
	fits := int(f.Case) % int(lineNamed)
	hz := d.turn(fits)
	if f.Case >= lineFound {
		return Story{
			Text:   fmt.Sprintf("the rotors' lines fit %d magnet poles (likelihood %s); the craft does not say its count", fits, likely(d.fit.sure)),
			Cause:  "pole count not stated",
			Action: fmt.Sprintf("count the magnets, and write magnet_poles = %d if it is so", fits),
			More:   []Fact{{"fits_poles", fits}, {"likelihood", d.fit.sure}},
		}
	}
	stated := b.Craft.Poles
	return Story{
		Text: fmt.Sprintf("rotor vibration stands at %.2f of where the speeds put it by %d magnet poles (%.0f Hz, expected %.0f): %d poles would fit (likelihood %s)",
			f.Value, stated, hz, d.turn(stated), fits, likely(d.fit.sure)),
		Cause:  fmt.Sprintf("wrong pole count: %d instead of %d", stated, fits),
		Action: fmt.Sprintf("count the magnets of a motor; set %d in the craft and its notch if it is so", fits),
		More: []Fact{{"stated_poles", stated}, {"fits_poles", fits}, {"likelihood", d.fit.sure},
			{"frequency_hz", hz}, {"expected_hz", d.turn(stated)}},
	}
}

// likely writes a likelihood that is never quite 1.
func likely(p float64) string {
	if p > 0.999 {
		return "over 0.999"
	}
	return fmt.Sprintf("%.3f", p)
}

func (d *RotorLineDetector) tellApart(b *Bench, f Finding) Story {
	cause, action := "propeller or motor that loads it more", "feel this motor and compare its propeller with the others"
	if f.Value > 1 {
		cause, action = "propeller that loads it less, or another motor", "look whether this propeller is whole, tight and of the right size"
	}
	return Story{
		Text:   fmt.Sprintf("%s turns at %.2f of the others' speed, and its output does not explain it", f.Where, f.Value),
		Cause:  cause,
		Action: action,
	}
}

func (d *RotorLineDetector) tellFold(b *Bench) Story {
	o, n := orders(b)
	what := [...]string{"once a turn", "twice a turn", "as blades pass"}[d.fold.order]
	s := Story{
		Text: fmt.Sprintf("the rotors' shake %s (%s), %.0f Hz, shows as %.1f Hz in the axes stream of %.0f a second: a shake there may be that fold",
			what, Motor(d.fold.motor), d.fold.hz, d.fold.at, d.rate.rate),
		Cause:  "stream too slow for the rotors' vibration",
		Action: "send axes at another pace",
		More:   []Fact{{"line_hz", d.fold.hz}, {"fold_hz", d.fold.at}, {"order", o[d.fold.order]}, {"rate_deg_s", d.fold.size}},
	}
	if rate := otherRate(d.fold.low, d.fold.high, o, n); rate > 0 {
		s.Action = fmt.Sprintf("send axes at %.0f lines a second", rate)
		s.More = append(s.More, Fact{"better_rate_hz", rate})
	}
	return s
}

// facts are the vibration's size and how it grows.
func (d *RotorLineDetector) facts(b *Bench) []Fact {
	v := d.View(b)
	var out []Fact
	if v.Speak > 0 {
		out = append(out, Fact{"motors_agree", v.Agree}, Fact{"motors_heard", v.Speak})
	}
	best, motor, order := 0.0, -1, 0
	for m := range v.Motors {
		for k := range v.Orders {
			if l := &v.Lines[m][k]; l.Seen && l.G > best {
				best, motor, order = l.G, m, k
			}
		}
	}
	if motor >= 0 {
		l := &v.Lines[motor][order]
		who := Motor(motor).String()
		if l.Shared {
			who = "shared by several motors"
		}
		out = append(out, Fact{"strongest_line", who}, Fact{"strongest_order", v.Order[order]},
			Fact{"strongest_hz", l.Hz}, Fact{"strongest_g_rms", l.G}, Fact{"strongest_mm_s_rms", l.MMS})
	}
	if b.Streams[decode.Accel].Count > 0 && v.G > 0 {
		out = append(out, Fact{"vibration_g_rms", v.G}, Fact{"vibration_mm_s_rms", v.MMS},
			Fact{"zone", Zone(v.MMS) + " of ISO 10816-1 class I, which is for machines on foundations"})
	}
	if v.TrendOK {
		out = append(out, Fact{"vibration_speed_power", v.Trend})
	}
	return out
}
