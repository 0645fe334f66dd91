package detect

import (
	"fmt"

	"tetherbell/decode"
)

// dangerousIdle is the armed idle over which the motors pull at arming: a
// typed 0.8 instead of 0.08 is near full power. Healthy craft idle at 0.03 to
// 0.12 (common practice, no source).
const dangerousIdle = 0.20

// settingsSlip tells of an armed idle that is dangerous in itself, of settings
// that changed in a way that looks like a slip, and, as a note, of a craft file
// that the bridge does not agree with. They share one place: the weightiest is
// told.
type settingsSlip struct {
	told  bool    // a set line spoke of the armed idle
	known bool    // and had a value
	value float64 // as the craft reports it: the craft file may say otherwise
	watch slipWatch
	note  conflictNote
}

// NewSettingsSlip returns the detector of settings-slip.
func NewSettingsSlip() Detector { return &settingsSlip{watch: newSlipWatch()} }

func (*settingsSlip) Kind() Kind { return SettingsSlip }

// Observe takes the armed idle from its line, whatever the craft file believes.
func (d *settingsSlip) Observe(b *Bench, in *Input) {
	if in.S.Tag != decode.Set {
		return
	}
	m := d.watch.observe(b, in)
	if m.IdleReady || string(in.S.Word) == "idle_ready" {
		d.told = true
		d.value, d.known = in.S.Get(decode.SetValue)
	}
}

// Judge compares the newest idle with the limit, and the settings with what
// they were. A craft whose armed flag is lost counts as it was last seen.
func (d *settingsSlip) Judge(b *Bench, dst []Finding) []Finding {
	d.watch.judge(b)
	v, ok := d.value, d.known
	if !d.told {
		v, ok = b.IdleReady.V, b.IdleReady.OK
	}
	if ok && over(v, dangerousIdle) {
		level := Medium
		if b.Armed == Yes || b.Armed == Unknown && b.LastArmed == Yes {
			level = High
		}
		return append(dst, Finding{Where: Craft, Level: level, Value: v, Limit: dangerousIdle})
	}
	if f, slipped := d.watch.finding(); slipped {
		return append(dst, f)
	}
	if f, so := d.note.finding(b); so {
		return append(dst, f)
	}
	return dst
}

// Describe names the likely slip.
func (d *settingsSlip) Describe(b *Bench, f Finding) Story {
	switch {
	case f.Case == noteCase:
		return d.note.story(b)
	case f.Case > 0:
		return d.watch.story()
	}
	s := Story{
		Unit:   "1",
		Text:   fmt.Sprintf("armed idle is set to %.3g of full output, over %.2f is dangerous", f.Value, f.Limit),
		Cause:  "decimal point slipped",
		Action: "do not arm; correct idle_ready",
		More:   []Fact{{"setting", "idle_ready"}},
	}
	if f.Level == High {
		s.Action = "press stop; keep clear"
	}
	if b.IdleReady.OK && b.IdleReady.V != f.Value && b.IdleReady.V > 0 {
		s.More = append(s.More, Fact{"craft_file", b.IdleReady.V}, Fact{"ratio", f.Value / b.IdleReady.V})
	}
	if also := d.watch.also(-1); also != "" {
		s.More = append(s.More, Fact{"also", also})
	}
	return s
}

// Missing: the setting comes by a set line or the craft file.
func (d *settingsSlip) Missing(b *Bench) string {
	switch {
	case d.told && !d.known || !d.told && !b.IdleReady.OK:
		return noIdle
	case d.watch.surplus:
		return fmt.Sprintf("over %d settings: the rest is not compared", maxWatched)
	}
	return ""
}

// Reset keeps the settings: a restart of the bridge changes none of the craft's,
// and they are sent again. One that comes back changed is compared all the same.
func (*settingsSlip) Reset() {}
