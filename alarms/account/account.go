package account

// An Account is all that is told of one session. Times are seconds of engine
// time, from the session's first good line. Figures that were not measured are
// nil or absent, never nought.
type Account struct {
	Session    Session   `json:"session"`
	Craft      Craft     `json:"craft"`
	Verdict    Verdict   `json:"verdict"`
	LengthS    float64   `json:"length_s"`
	Armed      []Span    `json:"armed"`   // from arming to disarming
	Stopped    []Span    `json:"stopped"` // stop asserted
	Silent     []Span    `json:"silent"`  // no good line for 0.3 s and more
	Throttle   *Curve    `json:"throttle,omitempty"`
	Stick      *Curve    `json:"stick_throttle,omitempty"`
	Lift       *Curve    `json:"lift_n,omitempty"`
	WeightN    *float64  `json:"weight_n,omitempty"`
	Alarms     []Alarm   `json:"alarms"`
	Marks      []Mark    `json:"marks"`
	Axes       [3]Axis   `json:"axes"` // roll, pitch, yaw
	Vibration  *Spectrum `json:"vibration,omitempty"`
	Motors     []Motor   `json:"motors"`
	Balance    Balance   `json:"balance"`
	Pack       Pack      `json:"pack"`
	Air        Air       `json:"air"`
	Link       Link      `json:"link"`
	Settings   []Setting `json:"settings"`
	NotWatched []Lack    `json:"not_watched"`
	Disagree   []string  `json:"disagree"` // where craft file and bridge differ, a sentence each
	Card       *Card     `json:"card,omitempty"`
}

// A Session says where the account comes from.
type Session struct {
	File       string   `json:"file"`
	Tool       string   `json:"tool,omitempty"`      // that recorded it, with its version
	Start      string   `json:"start_utc,omitempty"` // RFC 3339
	Source     string   `json:"source,omitempty"`
	Baud       int      `json:"baud,omitempty"`
	Judged     string   `json:"judged"`      // whether the alarms are those of the day or were worked out again
	OtherCraft []string `json:"other_craft"` // that the bridge told of more than one craft, a sentence each
	Remarks    []string `json:"remarks"`     // torn, lines that could not be recorded, a damaged header: a sentence each
}

// Craft is the machine as it was judged.
type Craft struct {
	Name        string  `json:"name"`
	Layout      string  `json:"layout"`
	Motors      int     `json:"motors"`
	MassG       float64 `json:"mass_g,omitempty"`
	PropellerMM float64 `json:"propeller_mm,omitempty"`
	Blades      int     `json:"blades,omitempty"`
	Poles       int     `json:"magnet_poles,omitempty"`
	Cells       int     `json:"cells,omitempty"`
	Hold        string  `json:"hold"` // tether, stand, free
	HoldRatedN  float64 `json:"hold_rated_n,omitempty"`
	ArmMM       float64 `json:"arm_mm,omitempty"`
}

// A Verdict is what the session came to.
type Verdict struct {
	Worst    string `json:"worst"`    // high, medium, low, note or none
	Headline string `json:"headline"` // one sentence
	Fix      string `json:"fix"`      // the first thing to fix; "" nothing is known to be wrong
	Why      string `json:"why"`      // what speaks for it, with figures
	Ended    string `json:"ended"`    // "" or that the session ends with the craft armed
}

// A Span is a stretch of time, seconds.
type Span struct {
	From float64 `json:"from"`
	To   float64 `json:"to"`
}

// A Curve is a value over time, decimated: stretch i reaches from T0+i*Step to
// the next, and its values lie between Min[i] and Max[i]. Both are null where
// nothing was measured in it.
type Curve struct {
	Name string     `json:"name"` // column name of the value
	Unit string     `json:"unit"` // "1" for a share
	T0   float64    `json:"t0"`
	Step float64    `json:"step"`
	Min  []*float32 `json:"min"`
	Max  []*float32 `json:"max"`
}

// An Alarm is one life of an alarm, from raise to clear.
type Alarm struct {
	At           float64  `json:"at"`
	Until        *float64 `json:"until"` // nil: on to the end
	Acknowledged *float64 `json:"acknowledged,omitempty"`
	Name         string   `json:"alarm"`
	Where        string   `json:"where"`
	Priority     string   `json:"priority"`           // the highest that it had
	First        bool     `json:"first"`              // of a burst
	WorstAt      *float64 `json:"worst_at,omitempty"` // when it came to that, nil: as it rang
	Value        float64  `json:"value"`              // furthest past its limit, of what was told
	ValueAt      float64  `json:"value_at"`           // when that was told
	Limit        float64  `json:"limit"`
	// Reached is the value furthest past its limit, or nearest to it, that was
	// measured while the alarm was up; nil where what it rings for is no one figure.
	// Of rising-oscillation it is half of the controller output from peak to peak
	// within a quarter of a second. PassedAt is when the limit was passed, nil never.
	Reached  *float64 `json:"reached,omitempty"`
	PassedAt *float64 `json:"passed_at,omitempty"`
	Unit     string   `json:"unit"`
	Text     string   `json:"text"`
	Cause    string   `json:"cause,omitempty"`
	Action   string   `json:"action,omitempty"`
}

// A Mark is what a person noted, or a note of bridge or monitor.
type Mark struct {
	At   float64 `json:"at"`
	Text string  `json:"text"`
	By   string  `json:"by"` // "person", "bridge", "card" or "monitor"
}

// An Axis is one axis of the craft.
type Axis struct {
	Name        string    `json:"name"` // roll, pitch, yaw
	Control     *Curve    `json:"control,omitempty"`
	Rate        *Curve    `json:"rate,omitempty"`
	Limit       float64   `json:"limit"`                  // of the controller output's narrow-band part, of full output
	ControlRMS  *float64  `json:"control_rms,omitempty"`  // about its mean, armed and over idle
	ControlPeak *float64  `json:"control_peak,omitempty"` // greatest |output| while armed
	ControlMean *float64  `json:"control_mean,omitempty"`
	RateRMS     *float64  `json:"rate_rms,omitempty"` // deg/s about the demand, armed and over idle
	Spectrum    *Spectrum `json:"spectrum,omitempty"` // of the controller output
	Strongest   *Tone     `json:"strongest,omitempty"`
	Apart       *Tone     `json:"strongest_apart,omitempty"` // the strongest that no rotor's line explains, where that is another
	Found       []string  `json:"found"`                     // what the alarms say of this axis, a sentence each
}

// A Tone is the strongest line of a spectrum in the band of oscillations.
type Tone struct {
	Hz        float64 `json:"frequency_hz"`
	Amplitude float64 `json:"amplitude"` // peak, in the spectrum's unit
	Share     float64 `json:"share"`     // of the variance within an octave about it
	At        float64 `json:"at"`        // middle of the stretch in which it was strongest
	// Rotor is the rotors' order whose line, or its fold, lay there too then: "" none,
	// or the speeds are not known.
	Rotor string `json:"rotor,omitempty"`
}

// A Spectrum is a power spectral density by Welch's method, averaged over the
// time the craft was armed with its rotors turning.
type Spectrum struct {
	Name   string      `json:"name"`
	Unit   string      `json:"unit"` // of the square root of Density: "1/sqrt(Hz)", "deg/s/sqrt(Hz)", ...
	BinHz  float64     `json:"bin_hz"`
	Root   []float32   `json:"root_density"` // square root of the density at k*BinHz
	Spans  int         `json:"stretches"`    // averaged
	TopHz  float64     `json:"top_hz"`       // half the stream's rate: above it nothing is seen
	Orders []RotorLine `json:"orders"`
	// OrdersOf says of which time the orders are; "" they are not known.
	OrdersOf string `json:"orders_of,omitempty"`
}

// A RotorLine is where a multiple of the rotors' turns falls in a spectrum.
type RotorLine struct {
	Order  string  `json:"order"` // "once a turn", "blades pass", ...
	LowHz  float64 `json:"low_hz"`
	HighHz float64 `json:"high_hz"`
	Folded bool    `json:"folded"` // lies over half the stream's rate, and shows where it folds to
}

// A Motor is one motor.
type Motor struct {
	Number     int      `json:"motor"`
	Output     *Curve   `json:"output,omitempty"`
	RPM        *Curve   `json:"rpm,omitempty"` // of the shaft; electrical speed where poles are not known
	Temp       *Curve   `json:"temp,omitempty"`
	Share      *float64 `json:"share,omitempty"`     // mean output in steady holds over the mean of all motors
	ShareErr   *float64 `json:"share_err,omitempty"` // standard error, by the method of batch means over seconds
	OutputPeak *float64 `json:"output_peak,omitempty"`
	RPMPeak    *float64 `json:"rpm_peak,omitempty"`
	TempStart  *float64 `json:"temp_start_c,omitempty"`
	TempPeak   *float64 `json:"temp_peak_c,omitempty"`
	TempRise   *float64 `json:"temp_rise_c_per_s,omitempty"` // fastest over 2 s while armed
}

// Balance is where the weight lies, as the outputs of a level craft tell it.
type Balance struct {
	Known     bool     `json:"known"`
	Why       string   `json:"why"` // why not known, or what it rests on
	ForwardMM float64  `json:"forward_mm"`
	RightMM   float64  `json:"right_mm"`
	ErrMM     float64  `json:"err_mm"`              // half of the 95 % interval, the larger of the two
	Direction string   `json:"direction"`           // "6 mm forward, 2 mm left"
	YawTwist  *float64 `json:"yaw_twist,omitempty"` // share by which motors of one turning sense work harder
	YawErr    *float64 `json:"yaw_twist_err,omitempty"`
	Holds     int      `json:"holds"`
}

// Pack is the battery pack.
type Pack struct {
	Volts   *Curve   `json:"volts,omitempty"`
	Amps    *Curve   `json:"amps,omitempty"`
	RestV   *float64 `json:"rest_v_per_cell,omitempty"`
	LeastV  *float64 `json:"least_v_per_cell,omitempty"`
	MostA   *float64 `json:"most_a,omitempty"`
	UsedMAh *float64 `json:"used_mah,omitempty"`
	UsedWh  *float64 `json:"used_wh,omitempty"`
	Ohm     *float64 `json:"ohm,omitempty"` // of the pack, by regression
	OhmErr  *float64 `json:"ohm_err,omitempty"`
}

// Air is the pressure altitude, over that at the start.
type Air struct {
	Height *Curve   `json:"height_m,omitempty"`
	Dip    *float64 `json:"dip_m,omitempty"`  // greatest departure with thrust on
	Pascal *float64 `json:"pascal,omitempty"` // at the start
}

// Link is the quality of what came.
type Link struct {
	Lines      uint64            `json:"lines"`
	Bad        uint64            `json:"bad"`
	Lost       uint64            `json:"lost"`
	Share      float64           `json:"bad_and_lost_share"`
	Causes     map[string]uint64 `json:"bad_by_cause"`
	Unrecorded uint64            `json:"unrecorded"` // lines that the recording says it could not take
	Restarts   int               `json:"restarts"`
	LongestS   float64           `json:"longest_silence_s"`
	BytesPerS  float64           `json:"bytes_per_s"`
	Streams    []Stream          `json:"streams"`
}

// A Stream is one kind of line.
type Stream struct {
	Tag      string  `json:"tag"`
	Lines    uint64  `json:"lines"`
	PerS     float64 `json:"per_s"`
	LongestS float64 `json:"longest_gap_s"`
}

// A Setting is one setting that the craft reported.
type Setting struct {
	Name  string   `json:"name"`
	Value float64  `json:"value"`
	Was   []Change `json:"was,omitempty"` // earlier values of this session, oldest first
}

// A Change is a setting's earlier value and when it was given up.
type Change struct {
	Value float64 `json:"value"`
	Until float64 `json:"until"`
}

// A Lack is an alarm that was not watched.
type Lack struct {
	Name    string `json:"name"`
	Why     string `json:"why"`
	Unasked bool   `json:"unasked"` // nobody expects it to be watched
}

// A Card is the result of a guided run.
type Card struct {
	Title   string `json:"title"`
	Outcome string `json:"outcome"`
	Passed  bool   `json:"passed"`
	Steps   []Step `json:"steps"`
}

// A Step is one step of a card.
type Step struct {
	Name   string `json:"name"`
	Text   string `json:"text"`
	State  string `json:"state"` // passed, failed, left out, not done, ...
	Reason string `json:"reason,omitempty"`
}
