package simulator

import "math"

// A setting is a value that the craft reports in set lines.
type setting struct {
	name  []byte
	value float64
	due   int64 // when it is to be told next, us
}

// settingNames are the settings of the demo craft, in the order told.
var settingNames = []string{
	"idle_ready", "idle_least", "limit_oscillation",
	"rate_p_roll", "rate_i_roll", "rate_d_roll",
	"rate_p_pitch", "rate_i_pitch", "rate_d_pitch",
	"rate_p_yaw", "rate_i_yaw", "rate_d_yaw",
	"gyro_cut_hz", "d_cut_hz",
	"rate_i_limit", "level_gain", "notch", "notch_poles",
}

func newSettings(sc *Scenario) []setting {
	c := newController(sc)
	all := make([]setting, len(settingNames))
	for k, name := range settingNames {
		all[k] = setting{name: []byte(name), due: never}
	}
	values := []float64{sc.Craft.IdleReady, sc.Craft.IdleLeast, OscillationLimit}
	for k := range c.axis {
		values = append(values, c.axis[k].p, c.axis[k].i, c.axis[k].d)
	}
	notch, poles := 0.0, sc.Loop.NotchPoles
	if sc.Loop.Notch {
		notch = 1
	}
	if poles == 0 {
		poles = sc.Craft.Poles
	}
	values = append(values, sc.Loop.GyroCutHz, sc.Loop.DCutHz,
		sc.Loop.ILimit, sc.Loop.LevelGain, notch, float64(poles))
	for k, v := range values {
		all[k].value = grid(v, 1e7)
	}
	return all
}

// settingIndex finds a setting by name, -1 when there is none.
func settingIndex(name string) int {
	for k, n := range settingNames {
		if n == name {
			return k
		}
	}
	return -1
}

// settingMay says whether a craft takes a value for a setting. What a slip of
// the hand types is within it; what no loop could be run with is not.
func settingMay(name string, v float64) bool {
	lo, hi := 0.0, 10.0 // gains
	switch name {
	case "idle_ready", "idle_least", "limit_oscillation", "rate_i_limit", "notch":
		hi = 1
	case "gyro_cut_hz", "d_cut_hz":
		lo, hi = 1, 1000
	case "level_gain":
		hi = 50
	case "notch_poles":
		return v >= 0 && v <= 60 && math.Mod(v, 2) == 0
	}
	return v >= lo && v <= hi
}

// set changes a setting in the craft itself and has the bridge tell of it.
func (b *Bench) set(name string, v float64) {
	k := settingIndex(name)
	b.bridge.sets[k].value = grid(v, 1e7)
	b.bridge.sets[k].due = b.now
	b.bridge.findNext()
	c := &b.control
	const dt = float64(tickUS) / 1e6
	switch {
	case name == "idle_ready":
		c.idleReady = v
	case name == "idle_least":
		c.idleLeast = v
	case k >= 3 && k < 12:
		axis := &c.axis[(k-3)/3]
		*[]*float64{&axis.p, &axis.i, &axis.d}[(k-3)%3] = v
	case name == "gyro_cut_hz":
		c.gyroShare = approach(mul(mul(twoPi, v), dt))
	case name == "d_cut_hz":
		for a := range c.axis {
			c.axis[a].dShare = approach(mul(mul(twoPi, v), c.axis[a].dt))
		}
	case name == "rate_i_limit":
		for a := range c.axis {
			c.axis[a].iLimit = v
		}
	case name == "level_gain":
		c.loop.LevelGain = v
	case name == "notch":
		c.notch.on = v != 0
	case name == "notch_poles":
		if v == 0 {
			v = float64(b.sc.Craft.Poles) // the true ones
		}
		c.notch.scale = mul(dt, float64(b.sc.Craft.Poles)/v)
	}
}
