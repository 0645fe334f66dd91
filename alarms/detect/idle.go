package detect

import (
	"fmt"

	"tetherbell/decode"
)

// dangerousIdle is the armed idle over which the motors pull at arming: a
// typed 0.8 instead of 0.08 is near full power. Healthy craft idle at 0.03 to
// 0.12 (common practice, no source).
const dangerousIdle = 0.20

// settingsSlip tells of an armed idle that is dangerous in itself.
type settingsSlip struct {
	told  bool    // a set line spoke of idle_ready
	known bool    // and had a value
	value float64 // as the craft reports it: the craft file may say otherwise
}

// NewSettingsSlip returns the detector of settings-slip.
func NewSettingsSlip() Detector { return &settingsSlip{} }

func (*settingsSlip) Kind() Kind { return SettingsSlip }

// Observe takes idle_ready from its line, whatever the craft file believes.
func (d *settingsSlip) Observe(_ *Bench, in *Input) {
	if in.S.Tag != decode.Set || string(in.S.Word) != "idle_ready" {
		return
	}
	d.told = true
	d.value, d.known = in.S.Get(decode.SetValue)
}

// Judge compares the newest value with the limit. A craft whose armed flag is
// lost counts as it was last seen.
func (d *settingsSlip) Judge(b *Bench, dst []Finding) []Finding {
	v, ok := d.value, d.known
	if !d.told {
		v, ok = b.IdleReady.V, b.IdleReady.OK
	}
	if !ok || !over(v, dangerousIdle) {
		return dst
	}
	level := Medium
	if b.Armed == Yes || b.Armed == Unknown && b.LastArmed == Yes {
		level = High
	}
	return append(dst, Finding{Where: Craft, Level: level, Value: v, Limit: dangerousIdle})
}

// Describe names the likely slip of the decimal point.
func (d *settingsSlip) Describe(b *Bench, f Finding) Story {
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
	return s
}

// Missing: the setting comes by a set line or the craft file.
func (d *settingsSlip) Missing(b *Bench) string {
	if d.told && !d.known || !d.told && !b.IdleReady.OK {
		return "idle_ready not known"
	}
	return ""
}

// Reset keeps the setting: a restart of the bridge changes no setting of the
// craft, and its value is sent again.
func (*settingsSlip) Reset() {}
