package alarms

import (
	"fmt"
	"strings"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

const (
	// massApart: masses of file and bridge this far apart, either way, are those of
	// two crafts, or one is wrong by its unit or decimal point. Another pack or
	// camera changes a take-off mass by less. From 1/0.70 on the first limit of
	// near-lift lies beyond the craft's own weight: it would ring when the craft has
	// gone (common practice, no source).
	massApart = 1.5
	// fewLines of out, over fewTime: what none of them carries is no field that came
	// empty for a moment.
	fewLines = 20
	fewTime  = detect.Second
)

// fit follows whether craft file, craft line and the motors that lines carry are of
// one craft. What does not fit keeps from arming, and stands until it is mended.
type fit struct {
	first     craft.Craft // as the bridge first told, name and motors alone
	out, erpm int         // motors that lines carried since their bridge began
	outs      int         // out lines since then, fewLines at most
	since     int64       // engine time of the first of them
	last      fitKey
}

// A fitKey is all that the answer depends on: only what is new costs anything.
type fitKey struct {
	motors, carried, seq, anothers int
	few                            bool
}

// carries takes a line of outputs or speeds.
func (f *fit) carries(s *decode.Sample, at int64) {
	most := &f.out
	if s.Tag == decode.ERPM {
		most = &f.erpm
	} else if f.outs < fewLines {
		if f.outs == 0 {
			f.since = at
		}
		f.outs++
	}
	for i := decode.MaxMotors; i > *most; i-- {
		if s.Has&(1<<uint(i-1)) != 0 {
			*most = i
		}
	}
}

// restart: another bridge, or the same one mended, may carry others.
func (f *fit) restart(tags uint32) {
	if tags&(1<<decode.Out) != 0 {
		f.out, f.outs = 0, 0
	}
	if tags&(1<<decode.ERPM) != 0 {
		f.erpm = 0
	}
}

// fits keeps why the craft is in doubt.
func (k *knowledge) fits(b *detect.Bench, at int64) {
	f := &k.fit
	key := fitKey{
		motors: b.Motors, carried: max(f.out, f.erpm), seq: b.DisagreeSeq, anothers: b.Anothers,
		// Whose speeds come is a motor, whatever is measured of its output.
		few: f.outs == fewLines && at-f.since >= fewTime && max(f.out, f.erpm) < b.Motors && f.out > 0,
	}
	if key == f.last {
		return
	}
	f.last = key
	b.Doubt[decode.Craft] = k.misfit(b, key)
}

// misfit words it, the weightiest alone.
func (k *knowledge) misfit(b *detect.Bench, key fitKey) string {
	file, line := &k.file, &k.heard
	if is := another(&k.fit.first, line); is != "" {
		return is + detect.OtherCraft
	}
	if file.Motors > 0 && line.Motors > 0 && file.Motors != line.Motors {
		return fmt.Sprintf("craft file says %d motors, the bridge %d", file.Motors, line.Motors) + detect.OtherFile
	}
	if key.carried > b.Motors || key.few {
		who, ask := "the bridge's craft line", detect.WrongLine
		if file.Motors > 0 {
			who, ask = "craft file", detect.OtherFile
		}
		carried, tag := k.fit.out, decode.Out
		if k.fit.erpm > carried && !key.few {
			carried, tag = k.fit.erpm, decode.ERPM
		}
		return fmt.Sprintf("%s says %d motors, %s lines carry %d", who, b.Motors, tag, carried) + ask
	}
	// The arms of custom may well be those of a layout with a name.
	if file.Layout != "" && line.Layout != "" && file.Layout != line.Layout && file.Layout != custom && line.Layout != custom {
		return fmt.Sprintf("craft file says layout %s, the bridge %s", file.Layout, line.Layout) + detect.OtherFile
	}
	if a, o := file.MassG, line.MassG; a > 0 && o > 0 && max(a/o, o/a) > massApart {
		return fmt.Sprintf("craft file says mass %s g, the bridge %s g", plainly(a), plainly(o)) + detect.OtherFile
	}
	return ""
}

const custom = "custom"

// beforeArming words a doubt that stands before the craft is armed, with what to do.
func beforeArming(why string) string {
	_, rest, _ := strings.Cut(detect.ActOn(why), "; ")
	if !strings.HasSuffix(why, "?") {
		why += "."
	}
	return why + " First: before you arm, " + rest
}

// keeps are the doubts that keep from arming: the weight, the rates and the lift of
// this very craft are not what they are taken for. What a craft's own word of the ground alone
// calls in doubt may be that word, so it holds nobody up who has disarmed.
func keeps(b *detect.Bench) (out []Lack) {
	for _, tag := range [...]decode.Tag{decode.Craft, decode.Axes, decode.Load} {
		if why := b.Doubt[tag]; why != "" && !(b.Armed == detect.No && detect.OffLight(why)) {
			out = append(out, Lack{tag.String(), why})
		}
	}
	return out
}
