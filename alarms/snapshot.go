package alarms

import (
	"strings"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// A Snapshot is a copy of all that a person is shown, taken between two
// lines. It shares nothing with the engine.
type Snapshot struct {
	T int64 // engine microseconds

	// Link health.
	Lines, Bad, Lost uint64
	SilentUS         int64   // host time without a good line
	BadShare         float64 // share of bad and lost lines, last 5 s
	BytesPerSecond   float64
	LinesPerSecond   float64 // good ones that came in the last second; of several bridges see those
	Streams          [decode.TagCount]detect.Stream
	Odd              []OddTag // tags that are not known
	Boot             int64    // boot number of the bridge, -1 unknown
	Bridge           string
	Restarts         int
	Bridges          []BridgeView // where several are heard together; nil: one

	// The craft.
	CraftName, Layout                 string
	Held                              bool
	Hold                              string
	Armed, Stopped, Ground, ControlOK detect.Tri
	ArmedForUS                        int64 // from arming to the newest line, or the last of state where that has stopped; 0 when not armed
	IdlesUS                           int64 // for how long, armed, the stick has been at zero and every output at idle or under; 0: not so, or not known
	StickThrottle, Throttle           detect.Reading
	Axes                              [3]AxisView
	Motors                            []MotorView
	Blades                            int            // of a propeller; 0 where nobody said
	LiftN, LiftShare                  detect.Reading // LiftShare: lift over weight, or over the stand's rated load
	LiftOf                            string         // what LiftShare is a share of: "weight" or "rated load"
	Volts, Amps, VoltsPerCell         detect.Reading
	IdleReady, IdleLeast              detect.Reading

	Reaches    []detect.Reach          // how near each watched thing is to its limit, nearest first
	Trails     [3][TrailLength]float32 // amplitude of each axis over the last seconds in its unit, oldest first, TrailStep apart; -1 where nothing was measured
	Spectrum   detect.LineSpectrum     // newest one of the rotors' vibration; At 0: none
	RotorLines detect.LineView         // of the rotors in it

	// Alarms, worst first, of one priority the strongest action. Cleared ones stay
	// while latched.
	Alarms     []AlarmView
	NotWatched []Lack
	Left       []Lack          // of these, what left the watch while the craft was armed
	Untold     []Lack          // of these, what lacks because nobody has said yet what craft it is, or how it is set
	Awaited    bool            // and the bridge may still say it: all of it comes within its first seconds
	Absent     []Lack          // streams that the craft file promises and that never came
	Doubted    []decode.Tag    // kinds of line whose values contradict physics
	Keeps      []Lack          // of what is in doubt, what keeps from arming: weight or lift of this very craft
	Mute       []Lack          // bridges that were named and were never heard
	Disagree   []string        // where craft file and bridge differ, a sentence each
	Sounding   detect.Priority // what should be heard now; None for silence
	SoundSeq   uint64          // grows with every new alarm that should be heard
	PausedUS   int64           // rest of the sound pause, 0 when none
}

// An AxisView shows one axis of the craft.
type AxisView struct {
	Rate, Demand, Ctrl detect.Reading
	Watched            bool
	Amplitude          float64 // peak of the narrow-band part now, in Unit
	Limit              float64
	Unit               string // "1" or "deg/s"
	FrequencyHz        float64
	GrowthPerS         float64
	TimeToLimitS       float64 // 0 when not growing
}

// A MotorView shows one motor.
type MotorView struct {
	Out, RPM, Temp detect.Reading
	Share          detect.Reading // output over the mean of all
}

// An AlarmView shows one alarm that is up or latched.
type AlarmView struct {
	Kind         detect.Kind
	Where        detect.Where
	Priority     detect.Priority
	Active       bool // false: the condition is gone, kept until acknowledged
	Acknowledged bool
	First        bool
	Since        int64 // engine time of the raise
	Value, Limit float64
	Explains     Kinds // alarms that it stands for, which are not raised beside it
	Story        detect.Story
}

// A Lack says which alarm is not watched, and why.
type Lack struct {
	Name string
	Why  string
}

// Act is what to do first about a lack that values in doubt make; "" for any
// other.
func (l Lack) Act() string { return keepOff(detect.ActOn(l.Why), armed) }

// Unasked tells of a lack that nobody expects to be otherwise: a current has no
// limit where the craft file names none.
func (l Lack) Unasked() bool {
	return l.Name == detect.OverCurrent.String() && strings.Contains(l.Why, "rated_a")
}

// StreamOld is the age, engine microseconds, from which the newest line of a
// stream says nothing of now: more than any stream of a bench needs at its
// slowest typical rate.
const StreamOld = 1_000_000

// Lacking returns the first stream that the alarms live on and that does not
// come; ok is false when all do. What comes may be good: it is not enough.
func (s *Snapshot) Lacking() (tag decode.Tag, ok bool) {
	for _, tag := range [...]decode.Tag{decode.State, decode.Axes, decode.Out} {
		if st := &s.Streams[tag]; st.Count == 0 || s.T-st.Last > StreamOld {
			return tag, true
		}
	}
	return 0, false
}
