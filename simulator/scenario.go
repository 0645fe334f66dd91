package simulator

// A Scenario is one session on the bench: the craft, how its loops are set,
// what is wrong with it, and what the person does when. Start from Default or
// Load and alter what you need; Check says whether it can be run.
type Scenario struct {
	Name    string  `toml:"name"`
	Lesson  string  `toml:"lesson"`                     // one line: what there is to learn
	Seconds float64 `toml:"seconds" within:"0.01 3600"` // how long it lasts
	// Mode is what the roll and pitch sticks ask for: "rate" a rate of turn,
	// "level" an attitude, which holds the craft level with the sticks centred.
	Mode string `toml:"mode"`

	Craft   Craft       `toml:"craft"`
	Gains   Gains       `toml:"gains"`
	Loop    Loop        `toml:"loop"`
	Air     Air         `toml:"air"`
	Sensors Sensors     `toml:"sensors"`
	Rates   Rates       `toml:"rates"`
	Link    Link        `toml:"link"`
	Motors  []MotorSpec `toml:"motor" within:"1 4"`
	Events  []Event     `toml:"event"`
}

// A Craft is the machine and what holds it. Lengths are millimetres and
// masses grams, as a builder measures them.
type Craft struct {
	Name        string  `toml:"name"`
	MassG       float64 `toml:"mass_g" within:"20 20000"`
	DiagonalMM  float64 `toml:"diagonal_mm" within:"40 2000"` // motor to motor across
	MotorG      float64 `toml:"motor_g" within:"1 2000"`      // one motor with propeller
	ArmG        float64 `toml:"arm_g" within:"0 2000"`
	BoxLengthMM float64 `toml:"box_length_mm" within:"10 1000"` // the rest, as a box
	BoxWidthMM  float64 `toml:"box_width_mm" within:"10 1000"`
	BoxHeightMM float64 `toml:"box_height_mm" within:"10 1000"`
	CGForwardMM float64 `toml:"cg_forward_mm" within:"-500 500"` // centre of gravity from the motors' centre
	CGRightMM   float64 `toml:"cg_right_mm" within:"-500 500"`
	CGHeightMM  float64 `toml:"cg_height_mm" within:"0 500"` // over the feet

	PropellerMM float64 `toml:"propeller_mm" within:"25 800"`
	Blades      int     `toml:"blades" within:"2 8"`
	CT          float64 `toml:"thrust_coefficient" within:"0.01 0.5"`
	CP          float64 `toml:"power_coefficient" within:"0.005 0.5"`
	RotorGCM2   float64 `toml:"rotor_gcm2" within:"0.1 100000"` // inertia of bell and propeller
	Poles       int     `toml:"magnet_poles" within:"2 60"`
	FullRPM     float64 `toml:"full_rpm" within:"500 100000"` // at full output and the reference voltage
	KV          float64 `toml:"kv" within:"20 20000"`         // rev/min a volt
	WindingOhm  float64 `toml:"winding_ohm" within:"0.001 5"`
	MotorLagMS  float64 `toml:"motor_lag_ms" within:"2 1000"`  // time constant of output to speed
	BrakeLagMS  float64 `toml:"brake_lag_ms" within:"2 10000"` // the same when the output is nought
	MotorHeatJK float64 `toml:"motor_heat_jk" within:"0.5 1000"`

	Cells      int     `toml:"cells" within:"1 14"`
	ReferenceV float64 `toml:"reference_v" within:"3 4.4"` // a cell
	RestV      float64 `toml:"rest_v" within:"2.5 4.4"`    // a cell, at the start
	PackOhm    float64 `toml:"pack_ohm" within:"0 1"`
	PackMAH    float64 `toml:"pack_mah" within:"50 100000"`

	FeetLengthMM float64 `toml:"feet_length_mm" within:"10 2000"` // between front and rear feet
	FeetWidthMM  float64 `toml:"feet_width_mm" within:"10 2000"`
	PadNM        float64 `toml:"pad_n_m" within:"10 100000"` // stiffness of one pad
	PadNSM       float64 `toml:"pad_ns_m" within:"0 50"`
	YawNMRad     float64 `toml:"yaw_nm_rad" within:"0.01 100"` // stiffness of the four pads in yaw
	YawNMSRad    float64 `toml:"yaw_nms_rad" within:"0 1"`
	PlayMM       float64 `toml:"play_mm" within:"0 1000"`    // slack of the tether's four lines
	LineNM       float64 `toml:"line_n_m" within:"10 20000"` // stiffness of one line
	LineNSM      float64 `toml:"line_ns_m" within:"0 50"`

	IdleReady float64 `toml:"idle_ready" within:"0 1"` // motor output when armed with the stick at zero
	IdleLeast float64 `toml:"idle_least" within:"0 1"` // least motor output above that
}

// Gains are the rate loop's, in controller output (1 is full) per deg/s of
// error for P, a second of it for I, and per deg/s^2 of turning for D.
type Gains struct {
	RollP  float64 `toml:"roll_p" within:"0 1"`
	RollI  float64 `toml:"roll_i" within:"0 10"`
	RollD  float64 `toml:"roll_d" within:"0 0.1"`
	PitchP float64 `toml:"pitch_p" within:"0 1"`
	PitchI float64 `toml:"pitch_i" within:"0 10"`
	PitchD float64 `toml:"pitch_d" within:"0 0.1"`
	YawP   float64 `toml:"yaw_p" within:"0 1"`
	YawI   float64 `toml:"yaw_i" within:"0 10"`
	YawD   float64 `toml:"yaw_d" within:"0 0.1"`
	Scale  float64 `toml:"scale" within:"0 100"` // multiplies all of them
}

// A Loop is the rest of the controller.
type Loop struct {
	GyroCutHz  float64 `toml:"gyro_cut_hz" within:"1 1000"`  // first-order low-pass of the measured rate
	DCutHz     float64 `toml:"d_cut_hz" within:"1 1000"`     // and another one on D
	DelayMS    float64 `toml:"delay_ms" within:"0 60"`       // from controller output to motor output
	ILimit     float64 `toml:"i_limit" within:"0 1"`         // most that I may hold, controller output
	ILeakS     float64 `toml:"i_leak_s" within:"0.1 10000"`  // time constant by which I leaks away
	LevelGain  float64 `toml:"level_gain" within:"0 50"`     // rate asked for per angle, 1/s
	MaxAngle   float64 `toml:"max_angle" within:"1 80"`      // at full stick in level mode, deg
	MaxRate    float64 `toml:"max_rate" within:"1 2000"`     // at full stick of roll and pitch, deg/s
	MaxYawRate float64 `toml:"max_yaw_rate" within:"1 2000"` // deg/s
}

// Air is what blows and how warm it is.
type Air struct {
	Pascal      float64 `toml:"pascal" within:"30000 120000"`
	Celsius     float64 `toml:"celsius" within:"-40 60"`
	Gust        float64 `toml:"gust" within:"0 0.5"`            // turbulence of each rotor's thrust, standard deviation over thrust
	GustSeconds float64 `toml:"gust_seconds" within:"0.001 10"` // how long a gust lasts (time constant)
}

// Sensors are the faults that sound sensors have.
type Sensors struct {
	GyroNoise  float64 `toml:"gyro_noise" within:"0 1"`   // deg/s per root hertz, white, over 500 Hz
	GyroBias   float64 `toml:"gyro_bias" within:"-20 20"` // deg/s on every axis
	ForceNoise float64 `toml:"force_noise" within:"0 20"`
	LoadNoise  float64 `toml:"load_noise" within:"0 20"` // N
	Ripple     float64 `toml:"ripple" within:"0 1"`      // blade-pass part of each rotor's thrust
}

// Rates are how often the bridge sends each kind of line, lines a second.
type Rates struct {
	Axes  float64 `toml:"axes_hz" within:"50 2000"`
	Out   float64 `toml:"out_hz" within:"0 1000"`
	ERPM  float64 `toml:"erpm_hz" within:"0 200"`
	Accel float64 `toml:"accel_hz" within:"0 2000"`
	Load  float64 `toml:"load_hz" within:"0 100"`
	Temp  float64 `toml:"temp_hz" within:"0 20"`
	Pack  float64 `toml:"pack_hz" within:"0 50"`
	Air   float64 `toml:"air_hz" within:"0 50"`
	State float64 `toml:"state_hz" within:"10 50"`
}

// A Link is the bridge and its cable.
type Link struct {
	Name    string  `toml:"name"`
	Boot    uint32  `toml:"boot" within:"0 4294967295"`     // its boot number
	ClockUS uint32  `toml:"clock_us" within:"0 4294967295"` // its clock at the start
	Baud    int     `toml:"baud" within:"0 3000000"`        // the streams must fit it; 0: do not ask
	Jitter  float64 `toml:"jitter" within:"0 0.12"`         // of the sampling instants, standard deviation over the period
	Lost    float64 `toml:"lost" within:"0 0.9"`            // share of lines that go missing
	Burst   float64 `toml:"burst" within:"1 1000"`          // mean length of a run of missing lines
	Flipped float64 `toml:"flipped" within:"0 1"`           // share of lines with a bit turned over
}

// A MotorSpec is what is wrong with one motor from the start.
type MotorSpec struct {
	Motor       int     `toml:"motor" within:"1 4"`           // 1..4, clockwise from the first right of the nose
	PropellerMM float64 `toml:"propeller_mm" within:"0 800"`  // another size than the craft's own; 0 the same
	Thrust      float64 `toml:"thrust" within:"0 2"`          // share of what a sound propeller makes
	Unbalance   float64 `toml:"unbalance_gmm" within:"0 200"` // g mm
}

// An Event is something that happens at a time of the scenario.
type Event struct {
	At      float64 `toml:"at" within:"0 3600"`      // s
	Do      string  `toml:"do"`                      // see the list in scenarios/README.md
	To      float64 `toml:"to" within:"-1 1"`        // where a stick goes; a share
	Over    float64 `toml:"over" within:"0 3600"`    // how long that takes, s
	Seconds float64 `toml:"seconds" within:"0 3600"` // how long it lasts
	Motor   int     `toml:"motor"`
	Name    string  `toml:"name"`  // of a setting
	Value   float64 `toml:"value"` // of a setting, or of a cause
	Text    string  `toml:"text"`
}

// Default returns a scenario with no event in it: Marsh Heron, sound, on its
// pads with the tether slack, and gains at about half of what it bears.
func Default() Scenario {
	return Scenario{
		Mode: "rate",
		Craft: Craft{
			Name: "Marsh Heron", MassG: 655, DiagonalMM: 315, MotorG: 42, ArmG: 20,
			BoxLengthMM: 150, BoxWidthMM: 80, BoxHeightMM: 60, CGHeightMM: 40,
			PropellerMM: 178, Blades: 3, CT: defaultCT, CP: defaultCP, RotorGCM2: 220,
			Poles: 14, FullRPM: 13200, KV: 1000, WindingOhm: 0.08, MotorLagMS: 50, BrakeLagMS: 120, MotorHeatJK: 18,
			Cells: 4, ReferenceV: 4.0, RestV: 4.08, PackOhm: 0.024, PackMAH: 3000,
			FeetLengthMM: 120, FeetWidthMM: 90, PadNM: 150, PadNSM: 4, YawNMRad: 0.8, YawNMSRad: 0.05,
			PlayMM: 25, LineNM: 1500, LineNSM: 8, IdleReady: 0.08, IdleLeast: 0.10,
		},
		Gains: Gains{
			RollP: 0.0024, RollI: 0.004, RollD: 0.000012,
			PitchP: 0.0024, PitchI: 0.004, PitchD: 0.000012,
			YawP: 0.0015, YawI: 0.002, YawD: 0, Scale: 1,
		},
		Loop: Loop{
			GyroCutHz: 60, DCutHz: 30, DelayMS: 5, ILimit: 0.3, ILeakS: 20,
			LevelGain: 4, MaxAngle: 30, MaxRate: 200, MaxYawRate: 150,
		},
		Air:     Air{Pascal: 100800, Celsius: 14, Gust: 0.006, GustSeconds: 0.03},
		Sensors: Sensors{GyroNoise: 0.006, GyroBias: 0.04, ForceNoise: 0.08, LoadNoise: 0.02, Ripple: 0.02},
		Rates:   Rates{Axes: 400, Out: 100, ERPM: 50, Accel: 100, Load: 50, Temp: 5, Pack: 20, Air: 20, State: 50},
		Link:    Link{Name: "bench-1", Boot: 42, ClockUS: 1_250_000, Baud: 921600, Jitter: 0.03, Burst: 1},
	}
}
