package simulator

// A Craft is the machine and what holds it. Lengths are millimetres and
// masses grams, as a builder measures them.
type Craft struct {
	Name        string  `toml:"name"`
	Layout      string  `toml:"layout"` // quad-x, quad-plus, hex-x, octo-x, tri or custom
	MassG       float64 `toml:"mass_g" within:"20 20000"`
	DiagonalMM  float64 `toml:"diagonal_mm" within:"40 2000"` // twice an arm's length; a custom layout has its own arms
	MotorG      float64 `toml:"motor_g" within:"1 2000"`      // one motor with propeller
	ArmG        float64 `toml:"arm_g" within:"0 2000"`
	BoxLengthMM float64 `toml:"box_length_mm" within:"10 1000"` // the rest, as a box
	BoxWidthMM  float64 `toml:"box_width_mm" within:"10 1000"`
	BoxHeightMM float64 `toml:"box_height_mm" within:"10 1000"`
	CGForwardMM float64 `toml:"cg_forward_mm" within:"-500 500"` // centre of gravity from the motors' centre
	CGRightMM   float64 `toml:"cg_right_mm" within:"-500 500"`
	CGHeightMM  float64 `toml:"cg_height_mm" within:"0 500"` // over the feet

	PropellerMM float64 `toml:"propeller_mm" within:"25 800"`
	Propeller   string  `toml:"propeller"` // the published static test whose coefficients it has
	Blades      int     `toml:"blades" within:"2 8"`
	CT          float64 `toml:"thrust_coefficient" within:"0 0.5"` // constant ones instead; 0: as in the test
	CP          float64 `toml:"power_coefficient" within:"0 0.5"`
	RotorGCM2   float64 `toml:"rotor_gcm2" within:"0.1 100000"` // inertia of bell and propeller
	Poles       int     `toml:"magnet_poles" within:"2 60"`
	KV          float64 `toml:"kv" within:"20 20000"`          // rev/min a volt
	WindingOhm  float64 `toml:"winding_ohm" within:"0.001 5"`  // with drive and leads
	MotorLagMS  float64 `toml:"motor_lag_ms" within:"2 1000"`  // time constant of output to speed
	BrakeLagMS  float64 `toml:"brake_lag_ms" within:"2 10000"` // the same when the output is nought
	MotorHeatJK float64 `toml:"motor_heat_jk" within:"0.5 1000"`
	GroundMM    float64 `toml:"ground_mm" within:"5 10000"` // from the rotors' discs down to the ground

	Cells       int     `toml:"cells" within:"1 14"`
	RestV       float64 `toml:"rest_v" within:"3 4.2"`      // a cell, at the start
	PackOhm     float64 `toml:"pack_ohm" within:"0 1"`      // at once
	PackSlowOhm float64 `toml:"pack_slow_ohm" within:"0 1"` // after a while
	PackSlowS   float64 `toml:"pack_slow_s" within:"0.1 1000"`
	PackMAH     float64 `toml:"pack_mah" within:"50 100000"`

	Hold         string  `toml:"hold"`                            // tether, stand or free
	HoldRatedN   float64 `toml:"hold_rated_n" within:"0 20000"`   // N, what the stand is rated for, for the monitor alone; 0: not known
	FeetLengthMM float64 `toml:"feet_length_mm" within:"10 2000"` // between front and rear feet
	FeetWidthMM  float64 `toml:"feet_width_mm" within:"10 2000"`
	PadNM        float64 `toml:"pad_n_m" within:"10 100000"` // stiffness of one pad
	PadNSM       float64 `toml:"pad_ns_m" within:"0 50"`
	YawNMRad     float64 `toml:"yaw_nm_rad" within:"0.01 100"` // stiffness of pads or bolts in yaw
	YawNMSRad    float64 `toml:"yaw_nms_rad" within:"0 1"`
	PlayMM       float64 `toml:"play_mm" within:"0 1000"`    // slack of the tether's four lines
	LineNM       float64 `toml:"line_n_m" within:"10 20000"` // stiffness of one line
	LineNSM      float64 `toml:"line_ns_m" within:"0 50"`
	StandNM      float64 `toml:"stand_n_m" within:"10 100000"` // stiffness of one of the stand's four bolts, push and pull
	StandNSM     float64 `toml:"stand_ns_m" within:"0 200"`
	StandPlayMM  float64 `toml:"stand_play_mm" within:"0 50"`

	IdleReady float64 `toml:"idle_ready" within:"0 1"` // motor output when armed with the stick at zero
	IdleLeast float64 `toml:"idle_least" within:"0 1"` // least motor output above that
}

// Default returns a scenario with no event in it: Marsh Heron, sound, on its
// pads with the tether slack, and gains at about half of what it bears.
func Default() Scenario {
	return Scenario{
		Mode: "rate",
		Craft: Craft{
			Name: "Marsh Heron", Layout: "quad-x", MassG: 655, DiagonalMM: 315, MotorG: 42, ArmG: 20,
			BoxLengthMM: 150, BoxWidthMM: 80, BoxHeightMM: 60, CGHeightMM: 40,
			PropellerMM: 178, Propeller: "3x5.0x3.75", Blades: 3, RotorGCM2: 220,
			Poles: 14, KV: 752, WindingOhm: 0.08, MotorLagMS: 50, BrakeLagMS: 120, MotorHeatJK: 18,
			GroundMM: 150,
			Cells:    4, RestV: 4.08, PackOhm: 0.018, PackSlowOhm: 0.006, PackSlowS: 8, PackMAH: 3000,
			Hold: "tether", FeetLengthMM: 120, FeetWidthMM: 90, PadNM: 150, PadNSM: 4, YawNMRad: 0.8, YawNMSRad: 0.05,
			PlayMM: 25, LineNM: 1500, LineNSM: 8, StandNM: 4000, StandNSM: 6, StandPlayMM: 0.3,
			IdleReady: 0.08, IdleLeast: 0.10,
		},
		Gains: Gains{
			RollP: 0.0024, RollI: 0.004, RollD: 0.000012,
			PitchP: 0.0024, PitchI: 0.004, PitchD: 0.000012,
			YawP: 0.0015, YawI: 0.002, YawD: 0, Scale: 1,
		},
		Loop: Loop{
			SampleMS: 1, GyroCutHz: 60, DCutHz: 30, DelayMS: 5, PLimit: 1, ILimit: 0.3, DLimit: 1, ILeakS: 20,
			LevelGain: 4, MaxAngle: 30, MaxRate: 200, MaxYaw: 150, NotchQ: 3,
		},
		Air: Air{Pascal: 100800, Celsius: 14, Gust: 0.006, GustSeconds: 0.03},
		Sensors: Sensors{
			GyroNoise: 0.006, GyroBias: 0.04, ForceNoise: 0.08, LoadNoise: 0.02, Ripple: 0.02,
			FrameHz: 340, FrameDamping: 0.05, MountDamping: 0.2, Wash: 0.08,
		},
		Rates: Rates{Axes: 400, Out: 100, ERPM: 50, Accel: 100, Load: 50, Temp: 5, Pack: 20, Air: 20, State: 50},
		Link:  Link{Name: "bench-1", Boot: 42, ClockUS: 1_250_000, Baud: 921600, Jitter: 0.03, Burst: 1},
	}
}
