package craft

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// maxName is the most bytes of a craft's name: it has to fit a line of the
// bridge and the top of a screen.
const maxName = 60

// A bound is what a numeric key may hold. Zero always stands for not known.
type bound struct {
	key       string // as the craft file spells it, with its table
	value     func(c *Craft) float64
	low, high float64 // both included
	hint      string  // what to write instead
}

const (
	share   = "write a share of 1, not percent: 0.10 for ten percent"
	seconds = "write seconds, such as 0.5"
	turning = "write degrees a second, such as 150"
	celsius = "write degrees Celsius, such as 60"
	volts   = "write volts of one cell, such as 3.5"
	whole   = "count them and write a whole number"
)

// bounds of limits are wide: they leave the choice to the person, and catch
// percent written for a share, a slipped unit and a lost decimal point.
var bounds = []bound{
	{"motors", func(c *Craft) float64 { return float64(c.Motors) }, 1, MaxMotors, whole},
	{"magnet_poles", func(c *Craft) float64 { return float64(c.Poles) }, MinPoles, MaxPoles, "count the magnets of one motor: an even number, not the pairs"},
	{"blades", func(c *Craft) float64 { return float64(c.Blades) }, MinBlades, MaxBlades, "count the blades of one propeller"},
	{"propeller_mm", func(c *Craft) float64 { return c.DiameterMM }, MinDiameterMM, MaxDiameterMM, "write the diameter in millimetres"},
	{"mass_g", func(c *Craft) float64 { return c.MassG }, MinMassG, MaxMassG, "write the take-off mass in grams"},
	{"cells", func(c *Craft) float64 { return float64(c.Cells) }, 1, MaxCells, "count the cells of the pack in series"},
	{"hold_rated_n", func(c *Craft) float64 { return c.HoldRatedN }, 1, 20_000, "write the rated load of the stand in newtons"},
	{"rated_a", func(c *Craft) float64 { return c.RatedA }, 0.1, 1000, "write the most current in amperes that pack, leads and drives bear"},
	{"arm_mm", func(c *Craft) float64 { return c.ArmMM }, MinArmMM, MaxArmMM, "write the millimetres from the middle of the motors to one of them"},
	{"pack_g", func(c *Craft) float64 { return c.PackG }, MinMassG, MaxMassG, "write the mass of the pack alone, in grams"},
	{"idle_ready", func(c *Craft) float64 { return c.IdleReady }, 0.001, 1, "write the motor output at armed idle as a share of 1, such as 0.05"},
	{"idle_least", func(c *Craft) float64 { return c.IdleLeast }, 0.001, 1, "write the least motor output in flight as a share of 1, such as 0.06"},

	{"limits.oscillation", func(c *Craft) float64 { return c.Limits.Oscillation }, 0.001, 1, share},
	{"limits.oscillation_rate", func(c *Craft) float64 { return c.Limits.OscillationRate }, 0.1, 4000, turning},
	{"limits.imbalance_low", func(c *Craft) float64 { return c.Limits.ImbalanceLow }, 0.001, MaxMotors - 1, share},
	{"limits.imbalance_medium", func(c *Craft) float64 { return c.Limits.ImbalanceMedium }, 0.001, MaxMotors - 1, share},
	{"limits.imbalance_high", func(c *Craft) float64 { return c.Limits.ImbalanceHigh }, 0.001, MaxMotors - 1, share},
	{"limits.ground_lift", func(c *Craft) float64 { return c.Limits.GroundLift }, 0.001, 1, share},
	{"limits.ground_output", func(c *Craft) float64 { return c.Limits.GroundOutput }, 0.001, 1, share},
	{"limits.ground_over_idle", func(c *Craft) float64 { return c.Limits.GroundOverIdle }, 0.001, 1, share},
	{"limits.stick_idle", func(c *Craft) float64 { return c.Limits.StickIdle }, 0.001, 0.5, share},
	{"limits.tip_rate", func(c *Craft) float64 { return c.Limits.TipRate }, 1, 4000, turning},
	{"limits.near_lift_medium", func(c *Craft) float64 { return c.Limits.NearLiftMedium }, 0.01, 1, share},
	{"limits.near_lift_high", func(c *Craft) float64 { return c.Limits.NearLiftHigh }, 0.01, 1, share},
	{"limits.stop_seconds", func(c *Craft) float64 { return c.Limits.StopSeconds }, 0.01, 60, seconds},
	{"limits.coast_seconds", func(c *Craft) float64 { return c.Limits.CoastSeconds }, 0.01, 60, seconds},
	{"limits.stale_seconds", func(c *Craft) float64 { return c.Limits.StaleSeconds }, 0.05, 60, seconds},
	{"limits.bad_share", func(c *Craft) float64 { return c.Limits.BadShare }, 0.001, 1, share},
	{"limits.bad_share_clear", func(c *Craft) float64 { return c.Limits.BadShareClear }, 0.0001, 1, share},
	{"limits.line_load", func(c *Craft) float64 { return c.Limits.LineLoad }, 0.01, 1, share},
	{"limits.stick_high", func(c *Craft) float64 { return c.Limits.StickHigh }, 0.001, 1, share},
	{"limits.runaway", func(c *Craft) float64 { return c.Limits.Runaway }, 0.001, 1, share},
	{"limits.rotor_speed", func(c *Craft) float64 { return c.Limits.RotorSpeed }, 0.01, 0.9, share},
	{"limits.vibration_step", func(c *Craft) float64 { return c.Limits.VibrationStep }, 1.1, 100, "write how many times as much, such as 2"},
	{"limits.current_seconds", func(c *Craft) float64 { return c.Limits.CurrentSeconds }, 0.01, 60, seconds},
	{"limits.frozen_seconds", func(c *Craft) float64 { return c.Limits.FrozenSeconds }, 0.1, 60, seconds},
	{"limits.heat_medium", func(c *Craft) float64 { return c.Limits.HeatMedium }, 1, 250, celsius},
	{"limits.heat_high", func(c *Craft) float64 { return c.Limits.HeatHigh }, 1, 250, celsius},
	{"limits.heat_rate", func(c *Craft) float64 { return c.Limits.HeatRate }, 0.01, 100, "write degrees Celsius a second, such as 2"},
	{"limits.heat_over", func(c *Craft) float64 { return c.Limits.HeatOver }, 0.1, 250, celsius},
	{"limits.sag_medium", func(c *Craft) float64 { return c.Limits.SagMedium }, 0.1, 5, volts},
	{"limits.sag_high", func(c *Craft) float64 { return c.Limits.SagHigh }, 0.1, 5, volts},
	{"limits.sag_medium_seconds", func(c *Craft) float64 { return c.Limits.SagMediumSeconds }, 0.01, 60, seconds},
	{"limits.sag_high_seconds", func(c *Craft) float64 { return c.Limits.SagHighSeconds }, 0.01, 60, seconds},
	{"limits.stick_seconds", func(c *Craft) float64 { return c.Limits.StickSeconds }, 0.01, 60, seconds},
	{"limits.spin_seconds", func(c *Craft) float64 { return c.Limits.SpinSeconds }, 0.01, 60, seconds},
	{"limits.windup_low", func(c *Craft) float64 { return c.Limits.WindupLow }, 0.001, 1, share},
	{"limits.windup_medium", func(c *Craft) float64 { return c.Limits.WindupMedium }, 0.001, 1, share},
	{"limits.idle_gap_lift", func(c *Craft) float64 { return c.Limits.IdleGapLift }, 0.001, 10, share},
	{"limits.idle_gap_output", func(c *Craft) float64 { return c.Limits.IdleGapOutput }, 0.001, 1, share},
	{"limits.throttle_gap", func(c *Craft) float64 { return c.Limits.ThrottleGap }, 0.001, 1, share},
	{"limits.pressure_dip", func(c *Craft) float64 { return c.Limits.PressureDip }, 0.01, 100, "write metres, such as 0.5"},
	{"limits.baseline_spreads", func(c *Craft) float64 { return c.Limits.BaselineSpreads }, 0.1, 100, "write how many standard deviations, such as 3"},
	{"limits.baseline_share", func(c *Craft) float64 { return c.Limits.BaselineShare }, 0.001, 1, share},
}

// orders are pairs of which the first must stay under the second, defaults
// included: else an alarm would skip a priority or never clear.
var orders = [][2]string{
	{"limits.imbalance_low", "limits.imbalance_medium"},
	{"limits.imbalance_medium", "limits.imbalance_high"},
	{"limits.near_lift_medium", "limits.near_lift_high"},
	{"limits.bad_share_clear", "limits.bad_share"},
	{"limits.heat_medium", "limits.heat_high"},
	{"limits.sag_high", "limits.sag_medium"},
	{"limits.windup_low", "limits.windup_medium"},
}

// layoutMotors says how many motors a layout has; custom has any number.
var layoutMotors = map[string]int{"quad-x": 4, "quad-plus": 4, "hex-x": 6, "octo-x": 8, "tri": 3}

// Check reports the first thing in c that cannot be, as a *FieldError. Zero
// fields are not known, and so never wrong.
func (c Craft) Check() error {
	if err := c.checkWords(); err != nil {
		return err
	}
	for _, b := range bounds {
		v := b.value(&c)
		// Written so that not-a-number fails as well.
		if v != 0 && !(v >= b.low && v <= b.high) {
			return &FieldError{Key: b.key, Problem: fmt.Sprintf("%s is not within %s..%s", plain(v), plain(b.low), plain(b.high)), Hint: b.hint}
		}
	}
	if err := c.checkLists(); err != nil {
		return err
	}
	if c.Poles%2 != 0 {
		return &FieldError{Key: "magnet_poles", Problem: fmt.Sprintf("%d is odd", c.Poles), Hint: boundOf("magnet_poles").hint}
	}
	if err := errors.Join(c.checkArms(), c.checkBaselines()); err != nil {
		return firstOf(err)
	}
	if c.PackG > 0 && c.MassG > 0 && c.PackG >= c.MassG {
		return &FieldError{Key: "pack_g", Problem: fmt.Sprintf("%s g, but the whole craft has %s g", plain(c.PackG), plain(c.MassG)),
			Hint: "pack_g is the pack alone, mass_g the craft with it"}
	}
	full := c
	full.Limits = c.Limits.WithDefaults(c.DiameterMM)
	for _, o := range orders {
		low, high := boundOf(o[0]), boundOf(o[1])
		if low.value(&full) < high.value(&full) {
			continue
		}
		at := low // blame the one that was set
		if low.value(&c) == 0 {
			at = high
		}
		return &FieldError{Key: at.key,
			Problem: fmt.Sprintf("%s %s must be less than %s %s", short(o[0]), plain(low.value(&full)), short(o[1]), plain(high.value(&full))),
			Hint:    "set both, or leave both out for the defaults"}
	}
	return nil
}

func (c Craft) checkWords() error {
	if len(c.Name) > maxName || !printable(c.Name) {
		return &FieldError{Key: "name", Problem: "not a name", Hint: fmt.Sprintf("use at most %d bytes of printable text", maxName)}
	}
	if c.Layout != "" && !slices.Contains(Layouts, c.Layout) {
		return &FieldError{Key: "layout", Problem: fmt.Sprintf("%q is not a layout", c.Layout), Hint: "use one of " + strings.Join(Layouts, ", ")}
	}
	switch c.Hold {
	case "", Tether, Stand, Free:
		return nil
	}
	return &FieldError{Key: "hold", Problem: fmt.Sprintf("%q is no way to hold a craft", string(c.Hold)), Hint: "use tether, stand or free"}
}

// checkLayout compares layout and motors of one file. What is merged from a
// file and a bridge is not held to it: a wrong word must not stop the watch.
func (c Craft) checkLayout() error {
	switch {
	case len(c.Arms) > 0 && c.Layout != custom:
		return &FieldError{Key: "arm", Problem: "arms are of layout custom alone", Hint: `write layout = "custom", or leave the arms out`}
	case c.ArmMM > 0 && c.Layout == custom:
		return &FieldError{Key: "arm_mm", Problem: "layout custom has no common arm", Hint: "write an [[arm]] for each motor"}
	case len(c.Arms) > 0 && c.Motors > 0 && c.Motors != len(c.Arms):
		return &FieldError{Key: "motors", Problem: fmt.Sprintf("%d motors, but %d arms", c.Motors, len(c.Arms)), Hint: "write an [[arm]] for each motor"}
	}
	n := layoutMotors[c.Layout]
	if n == 0 || c.Motors == 0 || c.Motors == n {
		return nil
	}
	return &FieldError{Key: "motors", Problem: fmt.Sprintf("%d motors, but layout %s has %d", c.Motors, c.Layout, n),
		Hint: "correct one of the two, or use layout custom"}
}

func printable(s string) bool {
	return utf8.ValidString(s) && !strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) })
}

func boundOf(key string) bound {
	i := slices.IndexFunc(bounds, func(b bound) bool { return b.key == key })
	return bounds[i]
}

// short is the key without its table.
func short(key string) string { return key[strings.LastIndexByte(key, '.')+1:] }

// plain writes a number as a person would, and a monstrous one in short.
func plain(v float64) string {
	if math.Abs(v) < 1e9 {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}
