package craft

// Bounds of what describes a machine. Those of motors, poles, blades and cells
// are the protocol's; propeller and mass are ours, wide enough for anything
// that fits a bench, so that they catch a slipped unit and nothing else.
const (
	MaxMotors     = 8
	MinPoles      = 2
	MaxPoles      = 60
	MinBlades     = 2
	MaxBlades     = 8
	MaxCells      = 14
	MinDiameterMM = 1
	MaxDiameterMM = 5000
	MinMassG      = 1
	MaxMassG      = 1_000_000
	MinArmMM      = 10
	MaxArmMM      = 5000
)

// Layouts are the words for how motors are placed.
var Layouts = []string{"quad-x", "quad-plus", "hex-x", "octo-x", "tri", "custom"}

// BigPropellerMM is the diameter over which rotors are given the longer time
// to stand: common practice, no source.
const BigPropellerMM = 200

// WithDefaults returns the limits with every zero replaced by its default.
// All are common practice with no published source. The time to stand depends
// on the propeller: 3 s over 200 mm, else 1 s, also where diameterMM is not
// known (0), for the shorter time warns sooner.
func (l Limits) WithDefaults(diameterMM float64) Limits {
	coast := 1.0
	if diameterMM > BigPropellerMM {
		coast = 3
	}
	return l.fill(Limits{
		Oscillation:     0.10,
		OscillationRate: 60,
		ImbalanceLow:    0.20,
		ImbalanceMedium: 0.25,
		ImbalanceHigh:   0.40,
		GroundLift:      0.15,
		GroundOutput:    0.20,
		GroundOverIdle:  0.10,
		StickIdle:       0.02,
		TipRate:         150,
		NearLiftMedium:  0.70,
		NearLiftHigh:    0.90,
		StopSeconds:     0.5,
		CoastSeconds:    coast,
		StaleSeconds:    0.3,
		BadShare:        0.05,
		BadShareClear:   0.02,
		LineLoad:        0.90,

		StickHigh:        0.05,
		Runaway:          0.15,
		RotorSpeed:       0.30,
		VibrationStep:    2,
		CurrentSeconds:   0.2,
		FrozenSeconds:    1,
		HeatMedium:       60,
		HeatHigh:         80,
		HeatRate:         2,
		HeatOver:         15,
		SagMedium:        3.5,
		SagHigh:          3.3,
		SagMediumSeconds: 1,
		SagHighSeconds:   0.5,
		StickSeconds:     0.5,
		SpinSeconds:      0.2,
		WindupLow:        0.05,
		WindupMedium:     0.15,
		IdleGapLift:      0.30,
		IdleGapOutput:    0.10,
		ThrottleGap:      0.15,
		PressureDip:      0.5,
		BaselineSpreads:  3,
		BaselineShare:    0.05,
	})
}

func (l Limits) fill(o Limits) Limits {
	or(&l.Oscillation, o.Oscillation)
	or(&l.OscillationRate, o.OscillationRate)
	or(&l.ImbalanceLow, o.ImbalanceLow)
	or(&l.ImbalanceMedium, o.ImbalanceMedium)
	or(&l.ImbalanceHigh, o.ImbalanceHigh)
	or(&l.GroundLift, o.GroundLift)
	or(&l.GroundOutput, o.GroundOutput)
	or(&l.GroundOverIdle, o.GroundOverIdle)
	or(&l.StickIdle, o.StickIdle)
	or(&l.TipRate, o.TipRate)
	or(&l.NearLiftMedium, o.NearLiftMedium)
	or(&l.NearLiftHigh, o.NearLiftHigh)
	or(&l.StopSeconds, o.StopSeconds)
	or(&l.CoastSeconds, o.CoastSeconds)
	or(&l.StaleSeconds, o.StaleSeconds)
	or(&l.BadShare, o.BadShare)
	or(&l.BadShareClear, o.BadShareClear)
	or(&l.LineLoad, o.LineLoad)
	or(&l.StickHigh, o.StickHigh)
	or(&l.Runaway, o.Runaway)
	or(&l.RotorSpeed, o.RotorSpeed)
	or(&l.VibrationStep, o.VibrationStep)
	or(&l.CurrentSeconds, o.CurrentSeconds)
	or(&l.FrozenSeconds, o.FrozenSeconds)
	or(&l.HeatMedium, o.HeatMedium)
	or(&l.HeatHigh, o.HeatHigh)
	or(&l.HeatRate, o.HeatRate)
	or(&l.HeatOver, o.HeatOver)
	or(&l.SagMedium, o.SagMedium)
	or(&l.SagHigh, o.SagHigh)
	or(&l.SagMediumSeconds, o.SagMediumSeconds)
	or(&l.SagHighSeconds, o.SagHighSeconds)
	or(&l.StickSeconds, o.StickSeconds)
	or(&l.SpinSeconds, o.SpinSeconds)
	or(&l.WindupLow, o.WindupLow)
	or(&l.WindupMedium, o.WindupMedium)
	or(&l.IdleGapLift, o.IdleGapLift)
	or(&l.IdleGapOutput, o.IdleGapOutput)
	or(&l.ThrottleGap, o.ThrottleGap)
	or(&l.PressureDip, o.PressureDip)
	or(&l.BaselineSpreads, o.BaselineSpreads)
	or(&l.BaselineShare, o.BaselineShare)
	return l
}

// Fill returns c with what is zero in it taken from other: the craft file
// first, then what the bridge says.
func (c Craft) Fill(other Craft) Craft {
	or(&c.Name, other.Name)
	or(&c.Layout, other.Layout)
	or(&c.Motors, other.Motors)
	or(&c.Poles, other.Poles)
	or(&c.Blades, other.Blades)
	or(&c.DiameterMM, other.DiameterMM)
	or(&c.MassG, other.MassG)
	or(&c.Cells, other.Cells)
	or(&c.Hold, other.Hold)
	or(&c.HoldRatedN, other.HoldRatedN)
	or(&c.RatedA, other.RatedA)
	or(&c.ArmMM, other.ArmMM)
	or(&c.PackG, other.PackG)
	if len(c.Arms) == 0 {
		c.Arms = other.Arms
	}
	if len(c.Baseline.Sessions) == 0 {
		c.Baseline = other.Baseline
	}
	if len(c.Known) == 0 {
		c.Known = other.Known
	}
	or(&c.IdleReady, other.IdleReady)
	or(&c.IdleLeast, other.IdleLeast)
	or(&c.Sensors, other.Sensors)
	c.Limits = c.Limits.fill(other.Limits)
	or(&c.Settings, other.Settings)
	return c
}

// or sets *v to w where *v is zero, which stands for not known.
func or[T comparable](v *T, w T) {
	var zero T
	if *v == zero {
		*v = w
	}
}
