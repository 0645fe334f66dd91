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
	Arms    []Arm       `toml:"arm"` // of the layout "custom"
	Motors  []MotorSpec `toml:"motor"`
	Events  []Event     `toml:"event"`
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
	SampleMS  float64 `toml:"sample_ms" within:"1 20"`      // from one act of the loop to the next, whole ms
	GyroCutHz float64 `toml:"gyro_cut_hz" within:"1 1000"`  // first-order low-pass of the measured rate
	DCutHz    float64 `toml:"d_cut_hz" within:"1 1000"`     // and another one on D
	DelayMS   float64 `toml:"delay_ms" within:"0 60"`       // from controller output to motor output
	PLimit    float64 `toml:"p_limit" within:"0 1"`         // most that P may ask for, controller output
	ILimit    float64 `toml:"i_limit" within:"0 1"`         // most that I may hold
	DLimit    float64 `toml:"d_limit" within:"0 1"`         // most that D may ask for
	ILeakS    float64 `toml:"i_leak_s" within:"0.1 10000"`  // time constant by which I leaks away
	LevelGain float64 `toml:"level_gain" within:"0 50"`     // rate asked for per angle, 1/s
	MaxAngle  float64 `toml:"max_angle" within:"1 80"`      // at full stick in level mode, deg
	MaxRate   float64 `toml:"max_rate" within:"1 2000"`     // at full stick of roll and pitch, deg/s
	MaxYaw    float64 `toml:"max_yaw_rate" within:"1 2000"` // deg/s

	Notch      bool    `toml:"notch"`                     // one notch for each rotor, at its speed
	NotchQ     float64 `toml:"notch_q" within:"0.5 20"`   // centre over width
	NotchPoles int     `toml:"notch_poles" within:"0 60"` // magnet poles that the notch reckons with; 0: the true ones

	RollReversed  bool `toml:"roll_reversed"` // the stick's channel is the wrong way
	PitchReversed bool `toml:"pitch_reversed"`
	YawReversed   bool `toml:"yaw_reversed"`
}

// Air is what blows and how warm it is.
type Air struct {
	Pascal      float64 `toml:"pascal" within:"30000 120000"`
	Celsius     float64 `toml:"celsius" within:"-40 60"`
	Gust        float64 `toml:"gust" within:"0 0.5"`            // turbulence of each rotor's thrust, standard deviation over thrust
	GustSeconds float64 `toml:"gust_seconds" within:"0.001 10"` // how long a gust lasts (time constant)
}

// Sensors are the faults that sound sensors have, and how what shakes the
// frame reaches them.
type Sensors struct {
	GyroNoise    float64 `toml:"gyro_noise" within:"0 1"`       // deg/s per root hertz, white, over 500 Hz
	GyroBias     float64 `toml:"gyro_bias" within:"-20 20"`     // deg/s on every axis
	ForceNoise   float64 `toml:"force_noise" within:"0 20"`     // m/s^2, standard deviation
	ForceBias    float64 `toml:"force_bias" within:"-20 20"`    // m/s^2 on every axis
	LoadNoise    float64 `toml:"load_noise" within:"0 20"`      // N
	Ripple       float64 `toml:"ripple" within:"0 1"`           // what a blade's passing over the arm adds, over the thrust
	FrameHz      float64 `toml:"frame_hz" within:"0 2000"`      // resonance of the arms; 0: rigid
	FrameDamping float64 `toml:"frame_damping" within:"0.01 1"` // its damping ratio
	MountHz      float64 `toml:"mount_hz" within:"0 1000"`      // of the controller on its soft mount; 0: bolted
	MountDamping float64 `toml:"mount_damping" within:"0.01 2"`
	Strap        float64 `toml:"strap" within:"0 1"` // share of vibration that goes past the mount along what lies against it
	Wash         float64 `toml:"wash" within:"0 1"`  // pressure at the barometer that the rotors draw away, over their discs' loading
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

// An Arm carries one motor of a custom layout. Arms are written clockwise
// seen from above, the first one right of the nose first.
type Arm struct {
	BearingDeg float64 `toml:"bearing_deg" within:"0 360"` // from the nose, clockwise
	LengthMM   float64 `toml:"length_mm" within:"20 2000"`
	Clockwise  bool    `toml:"clockwise"` // how its propeller turns, seen from above
}

// A MotorSpec is what is wrong with one motor from the start.
type MotorSpec struct {
	Motor       int     `toml:"motor" within:"1 8"`           // clockwise from the first right of the nose
	PropellerMM float64 `toml:"propeller_mm" within:"0 800"`  // another size than the craft's own; 0 the same
	Thrust      float64 `toml:"thrust" within:"0 2"`          // share of what a sound propeller makes
	Torque      float64 `toml:"torque" within:"0 3"`          // and of the torque it takes
	Unbalance   float64 `toml:"unbalance_gmm" within:"0 200"` // g mm
	Bent        float64 `toml:"bent" within:"-1 1"`           // share by which one blade lifts more than the others
	Speed       float64 `toml:"speed" within:"0.2 2"`         // its speed constant over the rated one
	Leads       int     `toml:"leads" within:"0 8"`           // the motor that its leads were plugged into; 0: its own
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
