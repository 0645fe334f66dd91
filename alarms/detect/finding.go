package detect

import "strings"

// Kind is an alarm's name. Its text is fixed: recordings and programs that
// read events depend on it.
type Kind uint8

// The alarms.
const (
	RisingOscillation Kind = iota
	OutputImbalance
	GroundThrust
	TipOver
	NearLift
	LateStop
	SpinDisarmed
	StaleLink
	BadLink
	SettingsSlip
	LowMargin
	StickHigh
	Runaway
	RotorLost
	HoldLost
	VibrationStep
	OverCurrent
	ControlLost
	FrozenSensor
	MotorHeat
	PackSag
	Windup
	ReversedResponse
	RotorLine
	IdleGap
	ThrottleMismatch
	PressureDip
	KindCount
)

var kindNames = [KindCount]string{
	"rising-oscillation", "output-imbalance", "ground-thrust", "tip-over", "near-lift",
	"late-stop", "spin-disarmed", "stale-link", "bad-link", "settings-slip", "low-margin",
	"stick-high", "runaway", "rotor-lost", "hold-lost", "vibration-step", "over-current",
	"control-lost", "frozen-sensor", "motor-heat", "pack-sag", "windup", "reversed-response",
	"rotor-line", "idle-gap", "throttle-mismatch", "pressure-dip",
}

// String returns the alarm's name as events carry it.
func (k Kind) String() string { return kindNames[k] }

// TurnsUnasked tells of the alarms of a motor that turns though it is to stand:
// over or not, no hand goes near it.
func (k Kind) TurnsUnasked() bool { return k == SpinDisarmed || k == LateStop }

// KindNamed finds a kind by its name.
func KindNamed(name string) (Kind, bool) {
	for k, n := range kindNames {
		if n == name {
			return Kind(k), true
		}
	}
	return 0, false
}

// Priority orders alarms by how soon a person must act.
type Priority uint8

// From silent to worst. Note is for the journal alone and makes no sound.
const (
	None Priority = iota
	Note
	Low
	Medium
	High
)

// String returns the word that events carry.
func (p Priority) String() string {
	return [...]string{"none", "note", "low", "medium", "high"}[p]
}

// PriorityNamed finds a priority by its word, None for a word that is none.
func PriorityNamed(word string) Priority {
	for p := None; p <= High; p++ {
		if p.String() == word {
			return p
		}
	}
	return None
}

// Where is a place on the bench, or several motors: one bit each.
type Where uint16

// The places an alarm can name.
const (
	Roll Where = 1 << iota
	Pitch
	Yaw
	M1
	M2
	M3
	M4
	M5
	M6
	M7
	M8
	Link
	Pack
	Craft
	PlaceCount = iota
)

// Motor returns the place of motor i, counted from 0.
func Motor(i int) Where { return M1 << uint(i) }

// Axis returns the place of axis i: roll, pitch, yaw.
func Axis(i int) Where { return Roll << uint(i) }

var placeNames = [PlaceCount]string{
	"roll", "pitch", "yaw", "m1", "m2", "m3", "m4", "m5", "m6", "m7", "m8", "link", "pack", "craft",
}

// String names the place as events carry it; several motors are joined by +.
func (w Where) String() string {
	var b strings.Builder
	for i, n := range placeNames {
		if w&(1<<uint(i)) == 0 {
			continue
		}
		if b.Len() > 0 {
			b.WriteByte('+')
		}
		b.WriteString(n)
	}
	return b.String()
}

// WhereNamed reads what String writes.
func WhereNamed(name string) (Where, bool) {
	var w Where
next:
	for part := range strings.SplitSeq(name, "+") {
		for i, n := range placeNames {
			if n == part {
				w |= 1 << uint(i)
				continue next
			}
		}
		return 0, false
	}
	return w, w != 0
}

// A Finding is what a detector says of one place at this moment.
type Finding struct {
	Where Where
	// Level is the priority whose raise condition is met now; None when the
	// detector only holds an alarm that is already up (inside the deadband).
	Level        Priority
	Value, Limit float64
	// Case tells apart different happenings of one kind at one place: when it
	// changes, the old alarm is cleared and a new one raised.
	Case uint8
}

// A Story is what a person is told when an alarm changes. It is made only
// then, so it may allocate.
type Story struct {
	Text   string // one sentence: what, where, how much
	Cause  string // likely cause, a few words; may be empty
	Action string // the first thing to do, imperative: "cut throttle"
	Unit   string // unit of the finding's value and limit
	More   []Fact // further computed values, in the order to show
	Ails   Ailing // what of the line it is about
	Before bool   // the value is of what was before a moment, as a silence that a restart ended
}

// A Fact is one named value of a story: a float64, string, bool or int.
type Fact struct {
	Name  string
	Value any
}

// A Detector turns what the bench shows into findings about one kind of
// trouble. The engine owns it and calls it from one goroutine. None of the
// methods but Describe and Missing may allocate.
type Detector interface {
	Kind() Kind
	// Observe takes one sample; the bench already reflects it.
	Observe(b *Bench, in *Input)
	// Judge appends what is so at b.Now. It is called on a grid of 10 ms of
	// engine time or at the next sample or tick after it, also in silence.
	Judge(b *Bench, dst []Finding) []Finding
	// Describe tells a person about a finding of the last Judge.
	Describe(b *Bench, f Finding) Story
	// Missing says why the detector is not watching now; "" when it is.
	Missing(b *Bench) string
	// Reset drops every window: the bridge restarted, nothing may be joined.
	Reset()
}

// A Teller makes the story of a finding.
type Teller interface {
	Describe(b *Bench, f Finding) Story
}

// A Forerunner is a Detector that may run ahead of whoever tells its findings:
// what Describe needs can be kept.
type Forerunner interface {
	Detector
	// Telling returns a Teller that says what Describe would now, and goes on to
	// when the detector has gone on. last is what it returned before, nil at
	// first; it is returned again while nothing has changed.
	Telling(last Teller) Teller
}

// kept returns a Teller of what Describe needs now: last, where that says the
// same, else a new one. Only a new one allocates.
func kept[T comparable, P interface {
	*T
	Teller
}](last Teller, now T) Teller {
	if was, ok := last.(P); ok && *was == now {
		return last
	}
	own := now // here, since what is handed out goes to the heap
	return P(&own)
}
