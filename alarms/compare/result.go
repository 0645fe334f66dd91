package compare

// A Word is a verdict.
type Word string

// The verdicts. Of a measure that has no better and no worse, More and Less.
const (
	Better     Word = "better"
	Worse      Word = "worse"
	CannotTell Word = "cannot tell"
	Mixed      Word = "better in some, worse in others"
	Same       Word = "no difference that matters"
	// TooShort is of rows alone: figures of so short a hold carry no verdict.
	TooShort Word = "too short to tell"
	More     Word = "more"
	Less     Word = "less"
)

// A Result is what a comparison of two sessions came to: A before, B after.
type Result struct {
	Verdict  Word   `json:"verdict"`  // better, worse, cannot tell, or mixed
	Sentence string `json:"sentence"` // what it rests on, or why nothing can be told
	// Remarks limit what the verdict is worth: different craft, alarms that only
	// one session had, what was not measured. A sentence each.
	Remarks []string `json:"remarks"`

	// Louder is what rang worse in one of the two, at medium or high priority;
	// null nothing did. That one is never better as a whole.
	Louder *Louder `json:"louder"`
	// SameRecording: both are the same lines, and there is nothing to compare.
	SameRecording bool `json:"same_recording"`
	// Backwards: by their headers B began before A.
	Backwards bool `json:"b_began_before_a"`

	A Side `json:"a"`
	B Side `json:"b"`

	Measures []Finding    `json:"measures"` // one for each that was compared
	Rows     []Row        `json:"rows"`     // and what they rest on, stage by stage
	Stages   []Stage      `json:"stages"`   // all of both, matched ones first
	Settings []Setting    `json:"settings"` // that differ
	Craft    []Difference `json:"craft"`    // where the two are not the same machine
	Alarms   []Alarm      `json:"alarms"`   // of either
	Missing  []Lack       `json:"missing"`  // measures that could not be compared
	Method   string       `json:"method"`
}

// Louder says which session rang worse.
type Louder struct {
	Session  string   `json:"session"`  // its name
	After    bool     `json:"after"`    // it is the second
	Alarms   []string `json:"alarms"`   // that rang at Priority
	Priority string   `json:"priority"` // high or medium
	Other    string   `json:"other"`    // the other session's worst; none nothing rang there
}

// A Side is one of the two sessions.
type Side struct {
	Name    string  `json:"name"`
	Craft   string  `json:"craft"`
	LengthS float64 `json:"length_s"`
	SteadyS float64 `json:"steady_s"` // that was fit to be measured
}

// A Finding is the verdict on one measure.
type Finding struct {
	Measure string `json:"measure"` // as programs read it
	Name    string `json:"name"`
	Verdict Word   `json:"verdict"`
	Counts  bool   `json:"counts"` // it has a better and a worse, and is part of the overall verdict
}

// A Row is one measure in one stage, or over all stages together.
type Row struct {
	Stage   string `json:"stage"`
	Overall bool   `json:"overall"` // over all stages in which it was compared
	Measure string `json:"measure"`
	Name    string `json:"name"`
	Unit    string `json:"unit"` // of Before and After
	// Before and After are means over the blocks, geometric ones where the
	// ratio is compared.
	Before float64  `json:"before"`
	After  float64  `json:"after"`
	Ratio  *float64 `json:"ratio"` // After over Before; null where Before is nought or less
	// Low and High bound what is compared, the ratio where By is "ratio", else
	// After less Before, at the confidence at which the verdict was reached.
	By         string  `json:"by"`
	Low        float64 `json:"low"`
	High       float64 `json:"high"`
	Confidence float64 `json:"confidence"`
	// Matters is the smallest change that does: a ratio over one where By is
	// "ratio" (and one over it, downward), else a difference.
	Matters float64 `json:"matters"`
	P       float64 `json:"p"` // that chance makes so great a difference of one that does not matter
	BlocksA int     `json:"blocks_before"`
	BlocksB int     `json:"blocks_after"`
	Verdict Word    `json:"verdict"`

	effect float64 // on the measure's scale
}

// A Stage is a steady throttle that one session held, or both.
type Stage struct {
	Name      string   `json:"name"`
	Idle      bool     `json:"idle"`
	LevelA    *float64 `json:"level_before"` // collective throttle, at idle mean output; null not held
	LevelB    *float64 `json:"level_after"`
	SecondsA  float64  `json:"seconds_before"`
	SecondsB  float64  `json:"seconds_after"`
	HeldA     []Span   `json:"held_before"` // when, in engine time
	HeldB     []Span   `json:"held_after"`
	Compared  bool     `json:"compared"`
	WhyNot    string   `json:"why_not,omitempty"`
	mid       float64
	pair      match
	firstOnly bool
}

// A Span is a stretch of engine time, seconds.
type Span struct {
	From float64 `json:"from"`
	To   float64 `json:"to"`
}

// A Setting is one that differs.
type Setting struct {
	Name    string   `json:"name"`
	Before  *float64 `json:"before"` // null not told
	After   *float64 `json:"after"`
	Ratio   *float64 `json:"ratio"`             // After over Before, null where it says nothing
	Changed string   `json:"changed,omitempty"` // that it had other values within a session
}

// A Difference is something that is not the same on the two machines.
type Difference struct {
	What   string `json:"what"`
	Before string `json:"before"`
	After  string `json:"after"`
}

// An Alarm is how often one rang.
type Alarm struct {
	Name        string `json:"alarm"`
	Before      int    `json:"before"` // times raised
	After       int    `json:"after"`
	WorstBefore string `json:"worst_before"` // high, medium, low, note or none
	WorstAfter  string `json:"worst_after"`
}

// A Lack is a measure that was not compared.
type Lack struct {
	Measure string `json:"measure"`
	Name    string `json:"name"`
	Why     string `json:"why"`
}
