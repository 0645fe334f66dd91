// Package craft holds what is known of the machine on the bench: its
// geometry, how it is held, and the limits it is judged by. It knows nothing
// of lines, windows or alarms.
package craft

// Hold says what keeps the craft from leaving the bench.
type Hold string

// The ways to hold a craft. Tether is the default.
const (
	Tether Hold = "tether"
	Stand  Hold = "stand"
	Free   Hold = "free"
)

// Craft describes the machine. A zero field is not known: the bridge's craft
// line may fill it (see Fill).
type Craft struct {
	Name       string  `toml:"name,omitempty" json:"name,omitempty"`
	Layout     string  `toml:"layout,omitempty" json:"layout,omitempty"`             // quad-x, quad-plus, hex-x, octo-x, tri or custom
	Motors     int     `toml:"motors,omitempty" json:"motors,omitempty"`             // 1..8
	Poles      int     `toml:"magnet_poles,omitempty" json:"magnet_poles,omitempty"` // even, 2..60
	Blades     int     `toml:"blades,omitempty" json:"blades,omitempty"`             // 2..8
	DiameterMM float64 `toml:"propeller_mm,omitempty" json:"propeller_mm,omitempty"`
	MassG      float64 `toml:"mass_g,omitempty" json:"mass_g,omitempty"`
	Cells      int     `toml:"cells,omitempty" json:"cells,omitempty"` // 1..14
	Hold       Hold    `toml:"hold,omitempty" json:"hold,omitempty"`   // default tether
	HoldRatedN float64 `toml:"hold_rated_n,omitempty" json:"hold_rated_n,omitempty"`
	RatedA     float64 `toml:"rated_a,omitempty" json:"rated_a,omitempty"` // most current of the pack, its leads or the drives, A
	ArmMM      float64 `toml:"arm_mm,omitempty" json:"arm_mm,omitempty"`   // from the motors' middle to a motor, mm; of all layouts but custom
	PackG      float64 `toml:"pack_g,omitempty" json:"pack_g,omitempty"`   // the pack alone, g

	// Arms are those of layout custom, m1 first.
	Arms []Arm `toml:"arm,omitempty" json:"arm,omitempty"`

	IdleReady float64 `toml:"idle_ready,omitempty" json:"idle_ready,omitempty"` // output when armed, stick at zero
	IdleLeast float64 `toml:"idle_least,omitempty" json:"idle_least,omitempty"` // least output in flight

	// Sensors are the streams that are on this bench; none: not said.
	Sensors List `toml:"sensors,omitempty" json:"sensors,omitempty"`

	Limits   Limits   `toml:"limits,omitempty" json:"limits,omitzero"`
	Settings Settings `toml:"settings,omitempty" json:"settings,omitzero"`

	// Baseline is what this craft showed in the sessions that were accepted. It
	// has a file of its own beside the craft file.
	Baseline Baseline `toml:"-" json:"baseline,omitzero"`
	// Known are baselines kept by name, of which the one of the craft that the
	// bridge names comes into force where Baseline is empty.
	Known []Baseline `toml:"-" json:"known,omitempty"`
}

// An Arm is where one motor of a custom layout sits.
type Arm struct {
	BearingDeg float64 `toml:"bearing_deg" json:"bearing_deg"` // from the nose, clockwise seen from above, 0..360
	LengthMM   float64 `toml:"length_mm" json:"length_mm"`     // from the middle of the craft
	Clockwise  bool    `toml:"clockwise" json:"clockwise"`     // the propeller turns clockwise seen from above
}

// Limits are the thresholds of the alarms. Zero means the default, which
// WithDefaults gives. All are common practice with no published source unless a
// field's comment names one.
type Limits struct {
	Oscillation     float64 `toml:"oscillation,omitempty" json:"oscillation,omitempty"`           // peak of controller output, 1; default 0.10
	OscillationRate float64 `toml:"oscillation_rate,omitempty" json:"oscillation_rate,omitempty"` // peak of body rate where no output is measured, deg/s; default 60
	ImbalanceLow    float64 `toml:"imbalance_low,omitempty" json:"imbalance_low,omitempty"`       // one output over the mean, less 1; default 0.20
	ImbalanceMedium float64 `toml:"imbalance_medium,omitempty" json:"imbalance_medium,omitempty"` // default 0.25
	ImbalanceHigh   float64 `toml:"imbalance_high,omitempty" json:"imbalance_high,omitempty"`     // default 0.40
	GroundLift      float64 `toml:"ground_lift,omitempty" json:"ground_lift,omitempty"`           // lift over weight at idle; default 0.15
	GroundOutput    float64 `toml:"ground_output,omitempty" json:"ground_output,omitempty"`       // mean output at idle, upper bound; default 0.20
	GroundOverIdle  float64 `toml:"ground_over_idle,omitempty" json:"ground_over_idle,omitempty"` // mean output over idle_ready; default 0.10
	StickIdle       float64 `toml:"stick_idle,omitempty" json:"stick_idle,omitempty"`             // stick counts as at zero under this; default 0.02
	TipRate         float64 `toml:"tip_rate,omitempty" json:"tip_rate,omitempty"`                 // body rate beyond the demand, deg/s; default 150
	NearLiftMedium  float64 `toml:"near_lift_medium,omitempty" json:"near_lift_medium,omitempty"` // default 0.70
	NearLiftHigh    float64 `toml:"near_lift_high,omitempty" json:"near_lift_high,omitempty"`     // default 0.90
	StopSeconds     float64 `toml:"stop_seconds,omitempty" json:"stop_seconds,omitempty"`         // outputs are zero this long after a stop; default 0.5
	CoastSeconds    float64 `toml:"coast_seconds,omitempty" json:"coast_seconds,omitempty"`       // rotors stand; default 3 over 200 mm, 1 under
	StaleSeconds    float64 `toml:"stale_seconds,omitempty" json:"stale_seconds,omitempty"`       // default 0.3
	BadShare        float64 `toml:"bad_share,omitempty" json:"bad_share,omitempty"`               // default 0.05
	BadShareClear   float64 `toml:"bad_share_clear,omitempty" json:"bad_share_clear,omitempty"`   // default 0.02
	LineLoad        float64 `toml:"line_load,omitempty" json:"line_load,omitempty"`               // share of the baud's capacity; default 0.90

	StickHigh        float64 `toml:"stick_high,omitempty" json:"stick_high,omitempty"`                 // throttle stick at arming; default 0.05
	Runaway          float64 `toml:"runaway,omitempty" json:"runaway,omitempty"`                       // rise of mean output in a second with the stick still; default 0.15
	RotorSpeed       float64 `toml:"rotor_speed,omitempty" json:"rotor_speed,omitempty"`               // speed off what the output explains, share of it; default 0.30
	VibrationStep    float64 `toml:"vibration_step,omitempty" json:"vibration_step,omitempty"`         // vibration now over a second before; default 2
	CurrentSeconds   float64 `toml:"current_seconds,omitempty" json:"current_seconds,omitempty"`       // over rated_a for so long; default 0.2
	FrozenSeconds    float64 `toml:"frozen_seconds,omitempty" json:"frozen_seconds,omitempty"`         // the same to the last digit for so long; default 1
	HeatMedium       float64 `toml:"heat_medium,omitempty" json:"heat_medium,omitempty"`               // motor temperature, deg C; default 60
	HeatHigh         float64 `toml:"heat_high,omitempty" json:"heat_high,omitempty"`                   // default 80
	HeatRate         float64 `toml:"heat_rate,omitempty" json:"heat_rate,omitempty"`                   // deg C a second over 2 s; default 2
	HeatOver         float64 `toml:"heat_over,omitempty" json:"heat_over,omitempty"`                   // deg C over the others' median; default 15
	SagMedium        float64 `toml:"sag_medium,omitempty" json:"sag_medium,omitempty"`                 // V a cell for 1 s; default 3.5
	SagHigh          float64 `toml:"sag_high,omitempty" json:"sag_high,omitempty"`                     // V a cell for 0.5 s; default 3.3
	SagMediumSeconds float64 `toml:"sag_medium_seconds,omitempty" json:"sag_medium_seconds,omitempty"` // under sag_medium for so long, s; default 1
	SagHighSeconds   float64 `toml:"sag_high_seconds,omitempty" json:"sag_high_seconds,omitempty"`     // under sag_high for so long, s; default 0.5
	StickSeconds     float64 `toml:"stick_seconds,omitempty" json:"stick_seconds,omitempty"`           // the stick at zero for so long before thrust is taken as unasked for, s; default 0.5
	SpinSeconds      float64 `toml:"spin_seconds,omitempty" json:"spin_seconds,omitempty"`             // a motor goes for so long before it counts, disarmed, s; default 0.2
	WindupLow        float64 `toml:"windup_low,omitempty" json:"windup_low,omitempty"`                 // drift of controller output; default 0.05
	WindupMedium     float64 `toml:"windup_medium,omitempty" json:"windup_medium,omitempty"`           // default 0.15
	IdleGapLift      float64 `toml:"idle_gap_lift,omitempty" json:"idle_gap_lift,omitempty"`           // step in lift over weight from armed idle to least flight output; default 0.30
	IdleGapOutput    float64 `toml:"idle_gap_output,omitempty" json:"idle_gap_output,omitempty"`       // the same step in output; default 0.10
	ThrottleGap      float64 `toml:"throttle_gap,omitempty" json:"throttle_gap,omitempty"`             // collective throttle less what outputs say; default 0.15
	PressureDip      float64 `toml:"pressure_dip,omitempty" json:"pressure_dip,omitempty"`             // fall of pressure altitude with thrust, m; default 0.5
	BaselineSpreads  float64 `toml:"baseline_spreads,omitempty" json:"baseline_spreads,omitempty"`     // off the accepted baseline, in its standard deviations; default 3
	BaselineShare    float64 `toml:"baseline_share,omitempty" json:"baseline_share,omitempty"`         // and in share of the mean output; default 0.05
}
